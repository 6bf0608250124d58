import type { ContrastAnswer } from '../../core/angiogram/contrast-types.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import type { SealedGrade } from '../../core/case/result-events.ts';
import type { RuleSet } from '../../core/device/device-types.ts';
import type { PressureAnswer } from '../../core/haemodynamics/pressure-types.ts';
import { succeed, type Result } from '../../core/result.ts';
import { foldRoom } from '../../core/room/fold-room.ts';
import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import type { RoomRecord } from '../../core/room/room-types.ts';
import { WHOLE_TRAINING_RULES } from '../../core/verdict/result-rules.ts';
import type { VerdictCase } from '../../core/verdict/verdict-case.ts';

/** Where a case's documents and its room come from: a store, a folder or an archive. */
export interface VerdictSource {
  readonly state: CaseState;
  readonly records: readonly (RoomRecord & { readonly by?: string | null; readonly seq?: number | null })[];
  /** Text of a document that the case names. */
  readDocument(sha256: string): Promise<Result<string, string>>;
}

/**
 * A case with everything that its verdict reads. Sealed grades are opened only where `mayOpen` says so; while the patient in
 * the room may be another than the frozen one, no plan is read.
 * Fails     as the documents
 */
export async function loadVerdictCase(source: VerdictSource, nowAt: string, mayOpen: (grade: CaseState['result']['grades'][number]) => boolean): Promise<Result<VerdictCase, string>> {
  const { state } = source;
  const { result } = state;
  const read = async <T>(sha256: string | null | undefined): Promise<Result<T | null, string>> => {
    if (sha256 === null || sha256 === undefined) return succeed(null);
    const text = await source.readDocument(sha256);
    return text.ok ? succeed(JSON.parse(text.value) as T) : text;
  };
  const readAll = async <T>(hashes: readonly (string | null)[]): Promise<Result<ReadonlyMap<string, T>, string>> => {
    const found = new Map<string, T>();
    for (const sha256 of hashes) {
      const one = await read<T>(sha256);
      if (!one.ok) return one;
      if (one.value !== null) found.set(sha256!, one.value);
    }
    return succeed(found);
  };
  const isOfAnother = state.frozen?.isOfAnother === true;
  const frozen = await read<FrozenDocument>(isOfAnother ? null : state.frozen?.frozenSha256);
  if (!frozen.ok) return frozen;
  const plan = await read<Plan>(frozen.value === null && !isOfAnother ? state.plan?.planSha256 : null);
  if (!plan.ok) return plan;
  const rules = await read<RuleSet>(state.tables.rulesSha256);
  if (!rules.ok) return rules;
  const pressures = await readAll<PressureAnswer>(result.recordings.filter((r) => r.withdrawn === null).map((r) => r.answerSha256));
  if (!pressures.ok) return pressures;
  const contrasts = await readAll<ContrastAnswer>(result.angiograms.filter((a) => a.withdrawn === null).map((a) => a.answerSha256));
  if (!contrasts.ok) return contrasts;
  const grades = await readAll<SealedGrade>(result.grades.filter(mayOpen).map((g) => g.sealedSha256));
  if (!grades.ok) return grades;
  return succeed({
    state, room: foldRoom(source.records), frozen: frozen.value, plan: plan.value, pressures: pressures.value, contrasts: contrasts.value, grades: grades.value,
    // Without rules of its own a training case acts by the training set, and no other case by any.
    rules: rules.value ?? (state.training ? WHOLE_TRAINING_RULES : null), nowAt,
  });
}
