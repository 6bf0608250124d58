import type { EchoEntries } from '../echo/echo-fields.ts';
import type { RhythmWord } from '../haemodynamics/pressure-types.ts';
import type { Device } from '../device/device-types.ts';
import type { ResultFieldId } from './result-fields.ts';
import type { WitnessKind } from './verdict-types.ts';

/** A number with its 95 % half-width. */
export interface Measured {
  readonly value: number;
  readonly halfWidth95: number;
}
/** What spoils the pressures of a situation: findings that a recording may have. */
export const SITUATION_FINDINGS = ['line-damped', 'line-rings', 'channels-swapped', 'zero-doubtful'] as const;

interface Taken {
  readonly by: string;
  /** ISO 8601 UTC. */
  readonly at: string;
  readonly loadingNote: string | null;
}
/**
 * A situation after release as a person describes it, without a case (docs/situation.md). Pressures in mmHg, rates per minute,
 * lengths in mm; what is absent is not known.
 */
export interface Situation {
  readonly format: 'trinadir.situation/1';
  readonly title: string;
  /** Invented: the bundled training rules act, and every answer says so. */
  readonly training: boolean;
  readonly nowAt: string;
  readonly releasedAt: string | null;
  /** Last balloon, recapture or movement after it. */
  readonly manoeuvreAt?: string | undefined;
  readonly valve: { readonly kind: Device['kind']; readonly waitAllowed?: boolean | undefined; readonly balloonMaxMm?: number | undefined };
  readonly present: readonly string[];
  readonly grades: readonly { readonly by: string; readonly at: string; readonly of?: WitnessKind | undefined; readonly low: number; readonly high: number }[];
  readonly pressures?: (Taken & {
    readonly systolic: Measured; readonly diastolic: Measured; readonly mean?: Measured | undefined; readonly endDiastolic?: Measured | undefined;
    readonly ratePerMin: Measured; readonly rhythm: RhythmWord; readonly notchShare?: Measured | undefined; readonly arIndexBefore?: Measured | undefined;
    readonly findings?: readonly (typeof SITUATION_FINDINGS)[number][] | undefined;
  }) | undefined;
  readonly echo?: (Taken & { readonly ratePerMin: number | null; readonly entries: EchoEntries }) | undefined;
  /** `ratio` null: measured, and not analysable. `grade`: by eye, kept apart. */
  readonly angiogram?: (Taken & { readonly ratePerMin: number | null; readonly ratio?: Measured | null | undefined; readonly grade?: number | undefined }) | undefined;
  readonly balloonsMm?: readonly number[] | undefined;
  readonly root?: { readonly ringDiameterMm: Measured; readonly outflowPerimeterMm: Measured; readonly junctionDiameterMm: Measured; readonly outflowCalciumMm3?: Measured | undefined } | undefined;
  readonly entries?: Readonly<Partial<Record<ResultFieldId, string | number | boolean>>> | undefined;
}
