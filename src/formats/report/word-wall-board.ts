import { isDepthOver } from '../../core/room/judge-depth-place.ts';
import type { HoldState, WallBoard, WallDepth, WallStrip, WallVerdictFacts, WallWarning } from '../../core/room/wall-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { WALL_ROOM_EN as T } from '../../core/text/wall-room-en.ts';
import { readInstantMs } from '../../core/units/iso-time.ts';
import { formatAge, formatClock, formatDepthMm, roundBeside, roundWindow } from './format-wall.ts';
import type { StripWords, WallMark, WallSheet } from './wall-sheet.ts';
import { wordWallCard } from './word-wall-card.ts';

/**
 * The words of a wall board. Numbers become text here and nowhere else, rounded away from their limits.
 * Shape     pure
 * Source    docs/methods/wall.md
 */
export function wordWallBoard(board: WallBoard): WallSheet {
  const card = wordWallCard(board);
  const because = board.because === 'asked' || board.because === 'glance' ? T[`because_${board.because}`] : '';
  return {
    name: board.name,
    head: {
      code: board.code ? formatText(T, 'code', { a: board.code[0], b: board.code[1] }) : T.noCode, label: board.label ?? '',
      newest: board.newestAgeMs === null ? T.nothingLogged : formatText(T, 'newest', { age: formatAge(board.newestAgeMs) }),
      clock: formatClock(board.nowMs, board.utcOffsetMin),
    },
    card: { ...card, because: card.because || because, question: wordHold(board.hold, board.name, board.card.is === 'verdict' || board.card.is === 'remedies' ? board.card.verdict : null) ?? card.question },
    strip: board.strip ? listStrip(board.strip, board.name, board.nowMs) : [],
    warnings: board.warnings.map(wordWarning), training: board.training, hasUnverified: board.hasUnverified,
  };
}

/** An answered hold point replaces its question; the asking stays until somebody answers aloud. */
function wordHold(hold: HoldState, name: WallBoard['name'], verdict: WallVerdictFacts['verdict']): string | null {
  // Under a rescue card or the jump board nobody is asked anything else.
  if (!hold || name === 'rescue' || name === 'jump') return null;
  if (hold.answer) return formatText(T, 'answered', { hold: hold.hold, answer: T[`answer-${hold.answer.answer}`], who: hold.answer.who });
  // The grades stand before a verdict is shown: nobody is asked for them again.
  if (hold.hold === 'C' && verdict !== null) return T.questionCVerdict;
  return T[`question${hold.hold}`];
}

function wordWarning(w: WallWarning): string {
  switch (w.is) {
    case 'no-contact': return w.forMs === null ? T['warn-never-contact'] : formatText(T, 'warn-no-contact', { age: formatAge(w.forMs) });
    case 'lost-entries': return formatText(T, 'warn-lost-entries', { count: w.count });
    case 'screen-not-measured': return formatText(T, 'warn-screen-not-measured', { wall: w.wall });
    default: return T[`warn-${w.is}`];
  }
}

/**
 * At most four places beside the card: before the ring step, valve, aim and pacing; then step, depth, pacing and taking
 * back or the time since the release. What the card itself says is not said twice; a rescue card, a verdict and the remedy board
 * have the wall alone.
 */
function listStrip(s: WallStrip, name: WallBoard['name'], nowMs: number): readonly StripWords[] {
  if (name === 'rescue' || name === 'verdict' || name === 'remedies') return [];
  const step: StripWords = { label: T.stripPhase, value: T[`phase-${s.phase ?? 'none'}`], note: s.inPhaseMs === null ? '' : formatAge(s.inPhaseMs), mark: 'plain' };
  const isOver = s.phase === 'closing' || s.phase === 'handover';
  if (s.isBeforePosition) return [step, ...(name === 'valve' ? [] : [{ label: T.stripValve, value: s.size, note: '', mark: 'plain' as const }]), wordAim(s), wordPacing(s)];
  return [step, ...(name === 'depth' || isOver ? [] : [wordStripDepth(s)]), wordPacing(s), ...(name === 'time' ? [] : wordBack(s, nowMs))];
}

function wordAim({ window: w }: WallStrip): StripWords {
  const label = T.stripAim;
  if (w.aimLowMm === null || w.aimHighMm === null) return { label, value: w.state === 'none' ? T.aimNone : T.aimEmpty, note: '', mark: 'doubt' };
  const aim = roundWindow(w.aimLowMm, w.aimHighMm);
  return { label, value: formatText(T, 'aimOf', aim), note: w.startMm === null ? '' : formatText(T, 'aimStart', { mm: formatDepthMm(Math.round(w.startMm * 10) / 10) }), mark: w.state === 'incomplete' ? 'doubt' : 'plain' };
}

const MARK_OF_PLACE: Readonly<Record<WallDepth['place'], WallMark>> = { inside: 'plain', straddles: 'doubt', 'cannot say': 'doubt', deeper: 'stop', higher: 'stop' };
/** An old value is dotted, whatever it says. */
export const markDepth = (d: WallDepth): WallMark => (d.age.state === 'old' ? 'old' : MARK_OF_PLACE[d.place]);

function wordStripDepth({ depth, window }: WallStrip): StripWords {
  if (!depth) return { label: T.stripDepth, value: T.notRead, note: '', mark: 'doubt' };
  const note = depth.age.ageS === null ? '' : formatAge(depth.age.ageS * 1000);
  if (isDepthOver(depth)) return { label: T.stripDepth, value: T.cannotSay, note, mark: 'doubt' };
  const mm = formatDepthMm(roundBeside(depth.reading.depthMm, [window.aimLowMm, window.aimHighMm, window.stopMm]));
  const place = depth.place === 'straddles' || depth.place === 'cannot say' ? T.unknown : T[`place-${depth.place}`];
  return { label: T.stripDepth, value: `${mm} ${place}`, note, mark: markDepth(depth) };
}

function wordPacing({ pacing }: WallStrip): StripWords {
  if (!pacing) return { label: T.stripPacing, value: T.notLogged, note: '', mark: 'doubt' };
  const value = !pacing.isOn ? T.pacingOff : pacing.ratePerMin === null ? T.pacingOn : formatText(T, 'pacingOnAt', { rate: pacing.ratePerMin });
  return { label: T.stripPacing, value, note: formatAge(pacing.sinceMs), mark: 'plain' };
}

/** A share is the least that is out: it has grown since if the frame was opened further, so its age stands beside OPEN. */
function wordBack({ recapture, sinceReleaseMs }: WallStrip, nowMs: number): readonly StripWords[] {
  if (sinceReleaseMs !== null) return [{ label: T.stripRelease, value: formatAge(sinceReleaseMs), note: '', mark: 'plain' }];
  if (recapture.because === 'not-recapturable') return [];
  const words = { open: T.open, closed: T.closed, 'cannot say': T.cannotSay } as const;
  const mark = { open: 'plain', closed: 'stop', 'cannot say': 'doubt' } as const;
  const { state, because, left, ratio } = recapture;
  const note = because !== 'within-limits' ? T[`recapture-${because}`] : formatText(T, 'recapture-within-limits', { left: left ?? '', age: formatAge(nowMs - readInstantMs(ratio?.at ?? '')) });
  return [{ label: T.stripRecapture, value: words[state], note, mark: mark[state] }];
}
