import type { Reason } from '../units/fact.ts';

export type LandingState = 'window' | 'empty' | 'incomplete';

/** One limit on the implant depth (mm below the basal plane, + toward the ventricle). null = no bound on that side. */
export interface LandingLimit {
  readonly code: string;
  /** Bounds at the adverse end of their own 95 % interval: what the window is cut with. */
  readonly lowMm: number | null;
  readonly highMm: number | null;
  /** The bound at the measured value, with its interval; null where it is exact or was not measured. */
  readonly atMm: number | null;
  readonly intervalMm: readonly [number, number] | null;
  /** False: a fact or a signed rule is missing; the window is then incomplete. */
  readonly isKnown: boolean;
  /** True: no depth of this frame satisfies the limit. */
  readonly excludesAll: boolean;
  readonly because: string;
  readonly next: string | null;
  /** Status of the rule that acts; M is shown as "unverified". */
  readonly status: 'V' | 'C' | 'D' | 'M' | null;
}

/** `landing` of plan.json. Depth reference: basal plane, inflow edge of the frame. */
export interface LandingWindow {
  readonly device: string;
  readonly size: string;
  readonly state: LandingState;
  readonly startMm: number | null;
  readonly aimLowMm: number | null;
  readonly aimHighMm: number | null;
  readonly stopMm: number | null;
  readonly empty: boolean;
  /** The two limits that conflict, and by how much, at the adverse ends and at the measured values. */
  readonly conflict: { readonly low: string; readonly high: string; readonly gapMm: number | null; readonly gapAtValuesMm: number | null } | null;
  /** The same cut at the measured values instead of the adverse ends: how much of an empty or narrow window is doubt. */
  readonly atValues: { readonly lowMm: number; readonly highMm: number } | null;
  readonly limits: readonly LandingLimit[];
  readonly reasons: readonly Reason[];
}
