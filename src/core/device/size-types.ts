import type { Reason } from '../units/fact.ts';
import type { DeviceTable } from './device-types.ts';

/** `holds` answers the contract's yes/no; `state` keeps "cannot say" apart from "fails" (missing is never taken for good). */
export interface SizeLimit {
  readonly code: string;
  readonly holds: boolean;
  readonly state: 'holds' | 'fails' | 'cannot say';
  /** Distance inside the limit in mm at the measured value, + = inside; null when nothing was measured. */
  readonly marginMm: number | null;
  /** The same at both ends of the 95 % interval. */
  readonly marginLowMm: number | null;
  readonly marginHighMm: number | null;
  readonly because: string;
}
export type SizeVerdict = 'fits' | 'borderline' | 'does not fit' | 'cannot say';
export interface SizeCandidate {
  readonly device: string;
  readonly size: string;
  readonly oversizeByPerimeterPercent: number;
  readonly oversizeByAreaPercent: number;
  /** 95 % intervals of the two, from the ring's own. */
  readonly oversizeByPerimeter95: readonly [number, number];
  readonly oversizeByArea95: readonly [number, number];
  /** Share of the measurement's own uncertainty inside the table's ranges; nothing else. */
  readonly fitProbability: number;
  /** One vote per measure of the ring: whether its value lies in the table's range. */
  readonly votes: { readonly perimeter: boolean; readonly area: boolean; readonly diameters: boolean };
  readonly limits: readonly SizeLimit[];
  readonly verdict: SizeVerdict;
}
export interface DeviceAnswer {
  readonly device: string;
  /** The size that holds alone; null between two sizes or when none fits. */
  readonly size: string | null;
  /** Sizes that the ring lies between, small to large; empty when one holds alone. */
  readonly between: readonly string[];
  /** What to have in the room: the same size again, and the neighbours in the table. */
  readonly second: { readonly same: string | null; readonly neighbours: readonly string[] };
}
/** `size` of plan.json. */
export interface SizeAnswer {
  readonly answer: { readonly device: string; readonly size: string } | null;
  readonly byDevice: readonly DeviceAnswer[];
  readonly candidates: readonly SizeCandidate[];
  readonly doubt: readonly Reason[];
  readonly next: readonly string[];
  /** The whole table that was judged, so that the plan stands alone. */
  readonly table: DeviceTable;
}
