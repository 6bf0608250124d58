import type { ContrastAnswer } from '../angiogram/contrast-types.ts';
import type { CaseState } from '../case/fold-case.ts';
import type { Plan } from '../case/plan-types.ts';
import type { SealedGrade } from '../case/result-events.ts';
import type { RuleSet } from '../device/device-types.ts';
import type { PressureAnswer } from '../haemodynamics/pressure-types.ts';
import type { FrozenDocument } from '../room/frozen-types.ts';
import type { RoomState } from '../room/room-state.ts';

/** A case with what was opened of its documents, by hash. */
export interface VerdictCase {
  readonly state: CaseState;
  readonly room: RoomState;
  /** The plan that was frozen; null: none. */
  readonly frozen: FrozenDocument | null;
  /** The newest plan, asked only where none was frozen. */
  readonly plan: Plan | null;
  readonly pressures: ReadonlyMap<string, PressureAnswer>;
  readonly contrasts: ReadonlyMap<string, ContrastAnswer>;
  /** Sealed grades that may be opened here. One that is not among them still says that its author has graded. */
  readonly grades: ReadonlyMap<string, SealedGrade>;
  /** Signed rules that act; null: none. */
  readonly rules: RuleSet | null;
  readonly nowAt: string;
}
