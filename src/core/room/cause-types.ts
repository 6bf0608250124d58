import type { Motion } from './measure-motion.ts';
import type { CauseCode } from './room-types.ts';

/** One fact that speaks for a cause, against it, or that would have to be known. */
export interface Evidence {
  readonly side: 'for' | 'against' | 'not known';
  readonly text: string;
  /** When the fact was measured or logged, ISO 8601; null: nobody wrote it down. */
  readonly at: string | null;
  readonly from: 'plan' | 'log' | 'depth' | 'forecast';
  /** Its whole band lies on one side, or the log says it outright. */
  readonly isClear: boolean;
}
/**
 * Weight of a row's evidence, for words only: `clear` and `some` have nothing against them, `mixed` has both. No number
 * stands behind it and rows are never ordered by it (docs/decisions/0021-cause-board-in-fixed-order.md).
 */
export type EvidenceWeight = 'clear' | 'some' | 'mixed' | 'against' | 'open';
export interface CauseRow {
  readonly code: CauseCode;
  readonly weight: EvidenceWeight;
  readonly evidence: readonly Evidence[];
}
export interface CauseBoard {
  /** The newest attempt in which the frame moved; null: nothing is logged. */
  readonly event: { readonly attempt: number; readonly direction: 'up' | 'down' | 'unknown'; readonly motion: Motion | null; readonly at: string } | null;
  /** All seven, in the order of CAUSE_CODES. */
  readonly rows: readonly CauseRow[];
  /** Rows with the heaviest weight that occurs among `clear` and `some`, in the same order; empty: none stands out. */
  readonly standOut: readonly CauseRow['code'][];
  readonly closed: { readonly closedAs: readonly CauseCode[]; readonly because: string; readonly who: string; readonly at: string } | null;
}
