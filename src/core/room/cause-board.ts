import { weighBulge, weighCalcium, weighPacing, weighSize, weighStartHeight, weighTaper, weighWire, type MovedCase } from './cause-evidence.ts';
import type { CauseBoard, CauseRow, Evidence, EvidenceWeight } from './cause-types.ts';
import type { FrozenDocument } from './frozen-types.ts';
import { isMoved, measureMotion } from './measure-motion.ts';
import type { RoomState } from './room-state.ts';
import { CAUSE_CODES, type CauseCode } from './room-types.ts';

const WEIGH: Readonly<Record<CauseCode, (c: MovedCase) => readonly Evidence[]>> = {
  'start-height': weighStartHeight, 'septal-bulge': weighBulge, taper: weighTaper, 'wire-bias': weighWire, 'no-pacing': weighPacing, calcium: weighCalcium, undersized: weighSize,
};

/** What a row's evidence comes to, in one of five words. No number stands behind it. */
export function weighEvidence(evidence: readonly Evidence[]): EvidenceWeight {
  const isFor = evidence.filter((e) => e.side === 'for');
  const hasAgainst = evidence.some((e) => e.side === 'against');
  if (isFor.length === 0) return hasAgainst ? 'against' : 'open';
  if (hasAgainst) return 'mixed';
  return isFor.some((e) => e.isClear) ? 'clear' : 'some';
}

/**
 * Why the frame may have moved: the seven candidate causes, each with what speaks for it, against it and what nobody knows,
 * from the frozen plan, the log and the depths read (job.md, D38). All seven are always there, in an order that never
 * changes; a person closes the board.
 *
 * Fails     never
 * Source    docs/methods/cause-board.md
 */
export function makeCauseBoard(frozen: FrozenDocument, room: RoomState): CauseBoard {
  const attempt = room.attempts.filter(isMoved).at(-1);
  if (!attempt) return { event: null, rows: CAUSE_CODES.map((code) => ({ code, weight: 'open', evidence: [] })), standOut: [], closed: null };
  const motion = measureMotion(attempt);
  const measured = motion?.direction === 'up' || motion?.direction === 'down' ? motion.direction : 'unknown';
  // The room's own word on the direction wins over a band that leaves it open, not over depths that say otherwise.
  const direction = measured !== 'unknown' ? measured : (attempt.moved?.direction ?? 'unknown');
  const at = attempt.moved?.at ?? motion!.at;
  const rows = CAUSE_CODES.map((code): CauseRow => {
    const evidence = WEIGH[code]({ frozen, room, attempt, direction, at });
    return { code, weight: weighEvidence(evidence), evidence };
  });
  const heaviest = rows.some((r) => r.weight === 'clear') ? 'clear' : 'some';
  const closed = room.causes && room.causes.at >= at ? room.causes : null;
  return { event: { attempt: attempt.number, direction, motion, at }, rows, standOut: rows.filter((r) => r.weight === heaviest).map((r) => r.code), closed };
}
