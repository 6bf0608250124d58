import type { Device } from '../device/device-types.ts';
import type { SecondValveCard } from '../room/second-valve.ts';
import { formatText } from '../text/catalogue.ts';
import { VERDICT_EN } from '../text/verdict-en.ts';
import type { BalloonChoice } from './choose-balloon.ts';
import type { LeakVerdict } from './fuse-witnesses.ts';
import type { Waiting } from './judge-waiting.ts';
import { showNumber } from './make-reason.ts';
import { REMEDIES, type RemedyCode } from './verdict-types.ts';

/** Something that must be true; null: not known. */
export interface Condition {
  readonly text: string;
  readonly holds: boolean | null;
}
export interface ContraSign {
  readonly text: string;
  /** null: nobody looked. */
  readonly isPresent: boolean | null;
}
export interface RemedyRow {
  readonly code: RemedyCode;
  /** `closed`: something that must be true is not; `cannot say`: something that must be true is not known. Never a recommendation. */
  readonly state: 'open' | 'closed' | 'cannot say';
  /** Time left, balloon diameter or NONE FITS, boxes at hand. */
  readonly detail: string;
  readonly gain: string;
  readonly limit: string;
  readonly mustBeTrue: readonly Condition[];
  /** What is not known: of the conditions and of the contra-signs. */
  readonly unknown: readonly string[];
  readonly contraSigns: readonly ContraSign[];
}
/** What persons in the room see; null: nobody looked or said. */
export interface RoomSigns {
  readonly leakPlace: 'beside the frame' | 'through the leaflets' | 'both' | null;
  /** Where the inflow edge stands against the window (judge-depth-place.ts). */
  readonly framePlace: 'inside' | 'deeper' | 'higher' | null;
  readonly frameOpening: 'not fully open' | 'fully open' | null;
  readonly isFrameMoving: boolean | null;
  readonly hasEffusion: boolean | null;
  readonly isCoronaryFlowNormal: boolean | null;
  /** Blood pressure holds without help. */
  readonly isCirculationStable: boolean | null;
  readonly isSnareReady: boolean | null;
  readonly isClosureReady: boolean | null;
  /** Agreed at the huddle for this patient. */
  readonly isSurgeryAgreed: boolean | null;
}
export interface RemedyInputs {
  /** null: nobody knows which valve. */
  readonly kind: Device['kind'] | null;
  readonly verdict: LeakVerdict;
  readonly waiting: Waiting;
  readonly balloon: BalloonChoice;
  /** null: no frozen plan. */
  readonly second: SecondValveCard | null;
  readonly signs: RoomSigns;
}

/**
 * Every remedy, always all, always in the same order, each with what it may gain, what limits it, what must be true for it, what is not
 * known, and which signs speak against it. The operator picks; the board has no first choice and no score.
 * Fails    never
 * Source   job.md D46, E12; docs/methods/verdict.md
 */
export function makeRemedyBoard(inputs: RemedyInputs): readonly RemedyRow[] {
  return REMEDIES.map((code) => {
    const { detail, mustBeTrue, contraSigns } = ROWS[code](inputs);
    const state = mustBeTrue.some((c) => c.holds === false) ? 'closed' : mustBeTrue.some((c) => c.holds === null) ? 'cannot say' : 'open';
    const unknown = [...mustBeTrue.filter((c) => c.holds === null), ...contraSigns.filter((c) => c.isPresent === null)].map((c) => c.text);
    return { code, state, detail, gain: VERDICT_EN[`gain-${code}`], limit: VERDICT_EN[`limit-${code}`], mustBeTrue, unknown, contraSigns };
  });
}

type Row = Pick<RemedyRow, 'detail' | 'mustBeTrue' | 'contraSigns'>;
const not = (value: boolean | null): boolean | null => (value === null ? null : !value);
const is = <T>(value: T | null, ...wanted: readonly T[]): boolean | null => (value === null ? null : wanted.includes(value));

/** AGREE above the line: the leak asks for something; below: it does not; all else leaves it open. */
function needLeak(verdict: LeakVerdict): Condition {
  return { text: VERDICT_EN.mustLeak, holds: verdict.word === 'AGREE' ? verdict.side === 'above' : null };
}
const effusion = (s: RoomSigns): ContraSign => ({ text: VERDICT_EN.signEffusion, isPresent: s.hasEffusion });
const moving = (s: RoomSigns): ContraSign => ({ text: VERDICT_EN.signMoving, isPresent: s.isFrameMoving });
const coronary = (s: RoomSigns): ContraSign => ({ text: VERDICT_EN.signCoronary, isPresent: not(s.isCoronaryFlowNormal) });

const ROWS: Readonly<Record<RemedyCode, (inputs: RemedyInputs) => Row>> = {
  wait: ({ waiting, signs, kind }) => ({
    detail: waiting.because,
    mustBeTrue: [
      { text: VERDICT_EN.mustWaitKind, holds: kind === null ? null : waiting.state !== 'not offered' },
      { text: VERDICT_EN.mustWaitTime, holds: waiting.state === 'running' ? true : waiting.state === 'cannot say' ? null : false },
      { text: VERDICT_EN.mustStable, holds: signs.isCirculationStable },
    ],
    contraSigns: [effusion(signs), moving(signs), coronary(signs)],
  }),
  'post-dilate': ({ verdict, balloon, signs, kind }) => ({
    detail: describeBalloon(balloon),
    mustBeTrue: [
      needLeak(verdict), { text: VERDICT_EN.mustBeside, holds: is(signs.leakPlace, 'beside the frame', 'both') },
      { text: VERDICT_EN.mustBalloon, holds: balloon.state === 'fits' ? true : balloon.state === 'NONE FITS' ? false : null },
    ],
    contraSigns: [
      { text: VERDICT_EN.signCalcium, isPresent: readCalciumSign(balloon) },
      { text: VERDICT_EN.signOffPlace, isPresent: is(signs.framePlace, 'deeper', 'higher') },
      { text: VERDICT_EN.signOpen, isPresent: is(signs.frameOpening, 'fully open') },
      ...(kind === 'self-expanding' ? [{ text: VERDICT_EN.signBalloonMoves, isPresent: signs.isFrameMoving }] : [moving(signs)]),
      effusion(signs), coronary(signs),
    ],
  }),
  'second-valve': ({ verdict, second, signs }) => ({
    detail: describeBoxes(second),
    mustBeTrue: [
      needLeak(verdict), { text: VERDICT_EN.mustSecondReason, holds: readSecondReason(signs) },
      { text: VERDICT_EN.mustBox, holds: second === null ? null : second.state === 'ready' },
    ],
    contraSigns: [coronary(signs), effusion(signs), moving(signs)],
  }),
  snare: ({ verdict, kind, signs }) => ({
    detail: VERDICT_EN.detailSnare,
    mustBeTrue: [
      needLeak(verdict), { text: VERDICT_EN.mustSnareKind, holds: is(kind, 'self-expanding') }, { text: VERDICT_EN.mustDeeper, holds: is(signs.framePlace, 'deeper') },
      { text: VERDICT_EN.mustSnare, holds: signs.isSnareReady },
    ],
    contraSigns: [moving(signs), coronary(signs), effusion(signs)],
  }),
  closure: ({ verdict, signs }) => ({
    detail: VERDICT_EN.detailClosure,
    mustBeTrue: [
      needLeak(verdict), { text: VERDICT_EN.mustBeside, holds: is(signs.leakPlace, 'beside the frame', 'both') },
      { text: VERDICT_EN.mustStand, holds: not(signs.isFrameMoving) }, { text: VERDICT_EN.mustClosure, holds: signs.isClosureReady },
    ],
    contraSigns: [{ text: VERDICT_EN.signOffPlace, isPresent: is(signs.framePlace, 'deeper', 'higher') }, coronary(signs)],
  }),
  surgery: ({ verdict, signs }) => ({
    detail: VERDICT_EN.detailSurgery,
    mustBeTrue: [needLeak(verdict), { text: VERDICT_EN.mustSurgery, holds: signs.isSurgeryAgreed }],
    contraSigns: [],
  }),
};

/** A second valve helps where the first stands at the wrong height or leaks through its leaflets. */
function readSecondReason(s: RoomSigns): boolean | null {
  const [place, leaflets] = [is(s.framePlace, 'deeper', 'higher'), is(s.leakPlace, 'through the leaflets', 'both')];
  return place === true || leaflets === true ? true : place === false && leaflets === false ? false : null;
}

function readCalciumSign(balloon: BalloonChoice): boolean | null {
  const limit = balloon.limits.find((l) => l.code === 'outflow-calcium');
  return limit?.isKnown === true ? limit.mm !== null : null;
}

export function describeBalloon(balloon: BalloonChoice): string {
  const names = balloon.unknown.map((c) => VERDICT_EN[`balloon-${c}`]).join(', ');
  if (balloon.state === 'CANNOT SAY') return formatText(VERDICT_EN, 'balloonUnknown', { names: names === '' ? VERDICT_EN.balloonNoLimits : names });
  const limit = balloon.limits.find((l) => l.code === balloon.binding)!;
  const words = { limit: showNumber(floorHundredths(limit.mm!)), place: VERDICT_EN[`balloon-${limit.code}`] };
  const unverified = balloon.limits.some((l) => l.isUnverified && l.mm !== null) ? ` ${VERDICT_EN.balloonUnverified}` : '';
  return (balloon.state === 'fits' ? formatText(VERDICT_EN, 'balloonFits', { ...words, mm: showNumber(balloon.mm!) }) : formatText(VERDICT_EN, 'balloonNone', words)) + unverified;
}

/** Downward: a limit that is shown never leaves more than it does. The margin keeps 22.5 from becoming 22.49. */
function floorHundredths(mm: number): number {
  return Math.floor(mm * 100 + 1e-9) / 100;
}

function describeBoxes(second: SecondValveCard | null): string {
  if (second === null) return VERDICT_EN.boxesUnknown;
  const offered = second.valves.filter((v) => v.state === 'offered').map((v) => v.valve?.size ?? v.slot);
  return offered.length > 0 ? formatText(VERDICT_EN, 'boxes', { list: offered.join(', ') }) : VERDICT_EN.boxesNone;
}
