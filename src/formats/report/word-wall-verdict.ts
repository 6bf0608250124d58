import type { WallRemedyFacts, WallVerdictFacts } from '../../core/room/wall-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { WALL_ROOM_EN as T } from '../../core/text/wall-room-en.ts';
import { WITNESS_KINDS } from '../../core/verdict/verdict-types.ts';
import { formatAge } from './format-wall.ts';
import type { AnswerWords, BarsWords, BlockWords, CardWords, LineWords, WallMark } from './wall-sheet.ts';

type Words = Partial<CardWords> & { readonly title: string };
type Clock = (at: string) => string;
const line = (text: string, mark: WallMark = 'plain'): LineWords => ({ text, mark });
const sign = (glyphs: string): AnswerWords => ({ lead: '', glyphs, unit: '' });
/** Of the scale that the witnesses speak on (VARC-3): none to severe. */
const [LEAST, MOST] = [0, 4];

/**
 * The verdict in one glance: the word with its side, the three witnesses as bars, what would be measured next. Of AGREE the
 * count of witnesses is the answer, of one witness too; everything else is a question mark.
 */
export function wordVerdict(c: WallVerdictFacts, clock: Clock): Words {
  const { verdict: v } = c;
  if (!v) return { title: T['title-verdict'], ...wordMissing(c, clock) };
  const isOld = isWaitOver(c);
  const speaking = v.witnesses.filter((w) => w.low !== null && w.high !== null).length;
  const isCounted = v.word === 'AGREE' || v.word === 'ONE WITNESS ONLY';
  const word = v.word === 'AGREE' && v.side !== null ? T[`verdict-AGREE-${v.side}`] : T[`verdict-${v.word}`];
  return {
    title: T['title-verdict'], because: wordAge(c), answer: [sign(isCounted ? formatText(T, 'verdictCount', { count: speaking }) : T.unknown)], word, bars: drawBars(v.witnesses, isOld),
    lines: [...(v.word === 'AGREE' ? [] : [line(T[`means-${v.word}`])]), ...wordWaiting(c), ...wordNext(v.next)],
    mark: isOld ? 'old' : v.word !== 'AGREE' ? 'doubt' : v.side === 'above' ? 'stop' : 'plain',
  };
}

/** Six rows in their order, each with its state; the tool picks none (job.md, D46, E12). */
export function wordRemedies(c: WallRemedyFacts, clock: Clock): Words {
  if (!c.verdict) return { title: T['title-remedies'], ...wordMissing(c, clock) };
  const states = { open: T.open, closed: T.closed, 'cannot say': T.cannotSay } as const;
  const marks = { open: 'open', closed: 'stop', 'cannot say': 'doubt' } as const;
  const blocks = c.rows.map(({ code, state, detail, leftMs }): BlockWords => {
    const timer = leftMs === null ? [] : [leftMs > 0 ? formatText(T, 'remedyLeft', { left: wordLeft(leftMs) }) : T.remedyOver];
    return { text: T[`remedy-${code}`], state: states[state], mark: marks[state], pieces: [...timer, ...splitPieces(detail, /(?<=[.;!?])\s+/)] };
  });
  const { word, side } = c.verdict;
  const age = formatAge(c.ageMs ?? 0);
  return { title: T['title-remedies'], because: word === 'AGREE' && side !== null ? formatText(T, `remedies-AGREE-${side}`, { age }) : formatText(T, 'remediesOf', { word: T[`verdict-${word}`], age }), blocks };
}

/** Without a verdict that stands there is no bar and no board. */
function wordMissing({ was }: WallVerdictFacts | WallRemedyFacts, clock: Clock): Omit<Words, 'title'> {
  const lines = was?.voidBy ? [formatText(T, 'verdictVoid', { at: clock(was.voidBy.at), what: T[`void-${was.voidBy.what}`] }), T.verdictVoidNext] : [T.verdictNone, T.verdictNoneNext];
  return { answer: [sign(T.unknown)], word: T.cannotSay, lines: lines.map((text) => line(text)), mark: 'doubt' };
}

function wordAge({ ageMs, sinceReleaseMs }: WallVerdictFacts): string {
  const age = formatAge(ageMs ?? 0);
  return sinceReleaseMs === null ? formatText(T, 'verdictAge', { age }) : formatText(T, 'verdictAgeRelease', { age, since: formatAge(sinceReleaseMs) });
}

/** Time left is rounded up to the second, as on the card of the step `released`. */
const wordLeft = (ms: number): string => formatAge(Math.ceil(ms / 1000) * 1000);
/** With its wait over a verdict is one of before; that a leak lies below the line already, waiting does not undo. */
const isWaitOver = ({ verdict, waitLeftMs }: WallVerdictFacts): boolean => waitLeftMs !== null && waitLeftMs <= 0 && !(verdict?.word === 'AGREE' && verdict.side === 'below');
function wordWaiting(c: WallVerdictFacts): readonly LineWords[] {
  if (c.waitLeftMs === null) return [];
  if (c.waitLeftMs > 0) return [line(formatText(T, 'verdictWait', { left: wordLeft(c.waitLeftMs) }))];
  return isWaitOver(c) ? [line(T.verdictWaitOver)] : [];
}

function wordNext(next: string): readonly LineWords[] {
  const [first, ...more] = splitPieces(next, /(?<=[.;:!?])\s+/);
  return first === undefined ? [] : [{ text: T.verdictNextDesk, mark: 'plain', pieces: [formatText(T, 'verdictNext', { text: first }), ...more] }];
}

/** At ends of sentences and clauses: what stands in front says nothing else without what follows. Of a remedy a colon is no end: AGAINST alone says nothing. */
const splitPieces = (text: string, ends: RegExp): readonly string[] => text.split(ends).filter((p) => p.trim() !== '');

function drawBars(witnesses: NonNullable<WallVerdictFacts['verdict']>['witnesses'], isOld: boolean): BarsWords {
  const rows = WITNESS_KINDS.map((kind) => {
    const found = witnesses.find((w) => w.kind === kind);
    const [low, high] = found && found.low !== null && found.high !== null ? [found.low, found.high] : [null, null];
    return { label: T[`witness-${kind}`], low, high, says: low !== null ? '' : found ? T.witnessSilent : T.witnessMissing, isOld };
  });
  return { from: LEAST, to: MOST, fromText: T.gradeLeast, toText: T.gradeMost, rows };
}
