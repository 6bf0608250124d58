import type { CameraView } from '../../core/projection/camera-view.ts';
import { nameView } from '../../core/projection/camera-view.ts';
import { isDepthOver } from '../../core/room/judge-depth-place.ts';
import type { RoomPhase } from '../../core/room/room-types.ts';
import type { WallBoard, WallCardFacts, WallDepth, WallKitItem, WallViewFacts, WallWait, WallWindow } from '../../core/room/wall-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { WALL_ROOM_EN as T } from '../../core/text/wall-room-en.ts';
import { readInstantMs } from '../../core/units/iso-time.ts';
import { formatNumber } from './format-number.ts';
import { formatAge, formatBand, formatClock, formatDepthMm, formatTimer, roundBeside } from './format-wall.ts';
import { drawRulerWords } from './word-wall-ruler.ts';
import { wordRemedies, wordVerdict } from './word-wall-verdict.ts';
import type { AnswerWords, CardWords, LineWords, WallMark } from './wall-sheet.ts';

type Words = Partial<CardWords> & { readonly title: string };
type Facts<K extends WallCardFacts['is']> = Extract<WallCardFacts, { readonly is: K }>;
const EMPTY = { because: '', answer: [], word: '', lines: [], question: '', mark: 'plain', ruler: null } as const;
const UNKNOWN: AnswerWords = { lead: '', glyphs: T.unknown, unit: '' };
const line = (text: string, mark: WallMark = 'plain'): LineWords => ({ text, mark });
const sign = (glyphs: string, unit = '', lead = ''): AnswerWords => ({ lead, glyphs, unit });

/** The words of one card; a number that cannot be said is a question mark with its reason. */
export function wordWallCard(board: WallBoard): CardWords {
  return { ...EMPTY, ...wordCard(board) };
}

function wordCard({ card, code, utcOffsetMin, strip }: WallBoard): Words {
  const clock = (at: string): string => formatClock(readInstantMs(at), utcOffsetMin, 'minutes');
  switch (card.is) {
    case 'mismatch': return { title: T['title-mismatch'], word: T['word-mismatch'], lines: [line(T.mismatchSay), line(T.mismatchNext)], mark: 'stop' };
    case 'other-patient': return { title: T['title-other-patient'], word: T['word-other-patient'], lines: [line(T.otherPatientSay), line(T.otherPatientNext)], mark: 'stop' };
    case 'reading': return { title: T['title-reading'], answer: [UNKNOWN], lines: [line(T.readingSay)], mark: 'doubt' };
    case 'not-frozen': return { title: T['title-not-frozen'], word: T['word-not-frozen'], lines: [line(T.notFrozenSay)], mark: 'doubt' };
    case 'screen': return { title: T['title-screen'], word: card.wall, lines: [line(formatText(T, 'screenSay', { wall: card.wall })), line(T.screenKeys)] };
    case 'rescue': return wordRescue(card);
    case 'jump': return wordJump(card);
    case 'plan':
      return {
        title: T['title-plan'], answer: code ? [sign(code[0]), sign(code[1])] : [UNKNOWN], question: T.questionPlan,
        lines: [line(formatText(T, 'planValve', { device: card.device, size: card.size })), line(formatText(T, 'planIdentity', { at: clock(card.identityAt) })), line(formatText(T, 'planOpen', { doubts: card.acceptedDoubts, overrides: card.overrides }), card.overrides > 0 ? 'doubt' : 'plain')],
      };
    case 'kit': return wordKit(card.items);
    case 'valve': {
      const spare = card.spare.map((k) => `${k.size ?? ''}${isFine(k) ? '' : ` ${wordReady(k)}`}`).join(', ');
      return { title: T['title-valve'], answer: [isShort(card.size) ? sign(card.size) : UNKNOWN], lines: [...(isShort(card.size) ? [] : [line(card.size)]), line(card.device), line(T.valveLine), line(spare === '' ? T.spareNone : formatText(T, 'spareLine', { list: spare }), spare === '' ? 'doubt' : 'plain')], question: T.questionValve };
    }
    case 'view': return wordView(card, strip?.phase === 'crossing', clock);
    case 'depth': return wordDepth(card, strip?.phase ?? null);
    case 'time': return wordTime(card);
    case 'result': return wordResult(card, clock);
    case 'verdict': return wordVerdict(card, clock);
    case 'remedies': return wordRemedies(card, clock);
    case 'totals': return { title: T['title-totals'], lines: card.totals.map(wordTotal), question: T.questionTotals, mark: card.totals.some((t) => t.isPast) ? 'stop' : 'plain' };
    case 'handover': return wordHandover(card, clock);
  }
}
/** An answer has at most four signs (job.md, F: letters of 38 mm are for single answers). */
const isShort = (text: string): boolean => [...text].length <= 4;

/** At most this many rows beside title, counts and question. */
const MOST_ROWS = 6;
function wordRescue(c: Facts<'rescue'>): Words {
  const open = c.lines.map((l, i) => ({ ...l, no: i + 1 })).filter((l) => !l.isTicked);
  const done = c.lines.length - open.length;
  const count = formatText(T, 'rescueDone', { done, all: c.lines.length, age: formatAge(c.elapsedMs) });
  const rows = open.slice(0, MOST_ROWS).map((l): LineWords => ({ text: `${l.no} ${l.text}`, mark: 'plain', box: 'open' }));
  const more = [...(c.alsoOpen > 0 ? [formatText(T, 'rescueAlso', { count: c.alsoOpen })] : []), ...(c.isSigned ? [] : [T.rescueUnsigned])].join('; ');
  return { title: c.title.toUpperCase(), lines: [line(count), ...(rows.length > 0 ? rows : [line(T.rescueAllDone)])], question: more, mark: 'stop' };
}

const WEIGHTS = { clear: 'CLEARLY FOR', some: 'FOR', mixed: 'FOR, AGAINST', against: 'AGAINST', open: 'not known' } as const;
function wordJump(c: Facts<'jump'>): Words {
  const { moved } = c;
  const age = c.ageMs === null ? '' : formatAge(c.ageMs);
  const said = !moved ? '' : moved.mm === null ? formatText(T, 'jumpNoMm', { age }) : formatText(T, 'jumpMm', { mm: formatNumber(moved.mm, 1), age });
  const rows = c.rows.map((r): LineWords => ({ text: T[`cause-${r.code}`], end: WEIGHTS[r.weight], mark: r.weight === 'open' || r.weight === 'mixed' ? 'doubt' : 'plain' }));
  return { title: T[`title-jump-${moved?.direction ?? 'none'}`], because: said, lines: rows, mark: 'stop' };
}

/** Seen and in date: what is not known is neither (job.md, E8). */
const isFine = (k: WallKitItem): boolean => k.isReady === true && k.isInDate === true;
function wordReady(k: WallKitItem): string {
  if (k.isInDate === false) return T.expired;
  if (k.isReady !== true) return k.isReady === null ? T.notSaid : T.notReady;
  return k.isInDate === null ? T.undated : T.ready;
}
function nameKit(k: WallKitItem): string {
  const key = `kit-${k.item}`;
  return key in T ? formatText(T, key as 'kit-first', { size: k.size ?? '' }) : k.item;
}
/** What is not ready is named, what is ready is counted; with nothing missing the second valve is named. */
function wordKit(items: readonly WallKitItem[]): Words {
  const open = items.filter((k) => !isFine(k));
  const shown = (open.length > 0 ? open : items.filter((k) => k.size !== null)).slice(0, MOST_KIT_ROWS);
  const rows = shown.map((k): LineWords => ({ text: nameKit(k), end: wordReady(k), mark: isFine(k) ? 'plain' : k.isReady === false || k.isInDate === false ? 'stop' : 'doubt' }));
  const more = open.length - shown.length;
  const glyphs = `${items.length - open.length}/${items.length}`;
  return {
    title: T['title-kit'], answer: [isShort(glyphs) ? sign(glyphs, T.ready) : sign(String(items.length - open.length), formatText(T, 'kitAll', { all: items.length }))],
    lines: [...rows, ...(more > 0 ? [line(formatText(T, 'kitMore', { count: more }), 'stop')] : [])], question: T.questionKit, mark: open.length > 0 ? 'doubt' : 'plain',
  };
}
const MOST_KIT_ROWS = 3;

function splitView(v: CameraView): readonly AnswerWords[] {
  const [primary, p, secondary, s] = nameView(v).split(' ');
  return [sign(p!, '', primary!), sign(s!, '', secondary!)];
}
function wordView(c: WallViewFacts, isCrossing: boolean, clock: (at: string) => string): Words {
  const title = isCrossing ? T['title-crossing'] : T['title-view'];
  const question = isCrossing ? T.questionCrossing : T.questionView;
  const wire = c.wire ? formatText(T, 'wireSide', { side: T[`wire-${c.wire.side ?? 'not said'}`], at: clock(c.wire.at) }) : T.wireNot;
  const last = isCrossing ? line(wire, c.wire?.side ? 'plain' : 'doubt') : line(formatText(T, 'startAt', { mm: formatDepthMm(Math.round(c.startMm * 10) / 10) }));
  const arm = !c.seen ? line(T.viewUnknown, 'doubt') : c.seen.isSame ? line(T.viewSame) : line(formatText(T, 'viewAway', { view: nameView(c.seen.view), deg: Math.max(1, Math.round(c.seen.awayDeg)) }), 'doubt');
  if (!c.view) return { title, answer: [UNKNOWN], lines: [line(c.isWithheld ? T.viewWithheld : T.viewNone), last], question, mark: 'doubt' };
  if (!c.isInReach) return { title, answer: c.instead ? splitView(c.instead) : [UNKNOWN], word: T.viewOut, lines: [...(c.instead ? [line(formatText(T, 'viewInstead', { view: nameView(c.instead) }))] : []), line(T[`view-${c.role}`]), last], question, mark: 'doubt' };
  const within = c.withinDeg === null ? [] : [line(formatText(T, 'viewWithin', { deg: Math.ceil(c.withinDeg) }))];
  return { title, answer: splitView(c.view), lines: [line(T[`view-${c.role}`]), ...(isCrossing ? [] : within), arm, last].slice(0, 4), question };
}

const limitsOf = (w: WallWindow): readonly (number | null)[] => [w.aimLowMm, w.aimHighMm, w.stopMm];
function wordDepth({ depth, window }: Facts<'depth'>, phase: RoomPhase | null): Words {
  const ruler = drawRulerWords(window, depth);
  const title = phase === 'position' || phase === 'releasing' || phase === 'decision' ? T[`title-depth-${phase}`] : T['title-depth'];
  const question = phase === 'releasing' ? T.questionReleasing : '';
  if (!depth) return { title, answer: [UNKNOWN], word: T.cannotSay, lines: [line(T['why-not-read'])], ruler, question, mark: 'doubt' };
  const age = line(formatText(T, depth.age.state === 'fresh' || depth.age.state === 'not known' ? 'depthAge' : 'depthAgeOld', { age: formatAge((depth.age.ageS ?? 0) * 1000) }), depth.age.state === 'old' || depth.age.state === 'gone' ? 'old' : 'plain');
  if (isDepthOver(depth) || depth.age.ageS === null) return { title, answer: [UNKNOWN], word: T.cannotSay, lines: [line(T[`why-${depth.because}`]), age], ruler, question, mark: 'doubt' };
  const { reading } = depth;
  const mm = roundBeside(reading.depthMm, limitsOf(window));
  const how = reading.by === 'entered' ? T.entered : reading.state === 'corrected' ? T.corrected : T.uncorrected;
  // INSIDE is said against the known limits alone.
  const because = window.unknownLimits > 0 ? formatText(T, 'limitsUnknown', { count: window.unknownLimits }) : '';
  const band = formatText(T, 'band', { band: formatBand(reading.lowMm, reading.highMm) });
  return {
    title, answer: [sign(formatNumber(Math.abs(mm), 1), mm < 0 ? T.mmAbove : T.mmBelow)], word: T[`place-${depth.place}`], because, question, ruler,
    // A word that says where the whole band lies needs no reason beside it.
    lines: [line(band), line(depth.place === 'straddles' || depth.place === 'cannot say' ? T[`why-${depth.because}`] : how), age], mark: depth.age.state === 'old' ? 'old' : depth.place === 'inside' ? 'plain' : depth.place === 'deeper' || depth.place === 'higher' ? 'stop' : 'doubt',
  };
}

/** A depth that was read before the frame was let go, or before it moved after that, is not where it came to lie. */
const isFinal = (depth: WallDepth | null): depth is WallDepth => depth !== null && depth.because !== 'moved-since' && depth.because !== 'released-since';
const wordNoFinal = (depth: WallDepth | null): LineWords => line(depth?.because === 'moved-since' ? T.noDepthSinceMove : T.noFinalDepth, 'doubt');
function wordFinal(depth: WallDepth | null): LineWords {
  if (!isFinal(depth)) return wordNoFinal(depth);
  return line(formatText(T, 'finalDepth', { mm: formatDepthMm(Math.round(depth.reading.depthMm * 10) / 10), band: formatBand(depth.reading.lowMm, depth.reading.highMm) }));
}
function wordWait(sinceMs: number | null, wait: WallWait): LineWords {
  if (wait === null) return line(T.waitNone);
  if (sinceMs === null) return line(T.notReleased, 'doubt');
  const text = sinceMs >= wait.ms ? T.waitOver : formatText(T, 'waitLeft', { left: formatAge(Math.ceil((wait.ms - sinceMs) / 1000) * 1000) });
  return line(wait.isUnverified ? formatText(T, 'waitUnverified', { text }) : text);
}
function wordTime({ sinceMs, wait, depth }: Facts<'time'>): Words {
  if (sinceMs === null) return { title: T['title-time'], answer: [UNKNOWN], word: T.cannotSay, lines: [line(T.notReleased)], question: T.questionTime, mark: 'doubt' };
  const { glyphs, unit } = formatTimer(sinceMs);
  return { title: T['title-time'], answer: [sign(glyphs, unit)], lines: [wordWait(sinceMs, wait), wordFinal(depth)], question: T.questionTime };
}

function wordResult({ answer, sinceMs, wait, pressure, depth, voidVerdict }: Facts<'result'>, clock: (at: string) => string): Words {
  const noVerdict = voidVerdict?.voidBy ? line(formatText(T, 'resultVoid', { what: T[`void-${voidVerdict.voidBy.what}`], at: clock(voidVerdict.voidBy.at) }), 'doubt') : line(T.resultNoVerdict);
  const read = pressure ? line(formatText(T, 'pressure', { systolic: pressure.systolicMmHg, diastolic: pressure.diastolicMmHg, end: pressure.endDiastolicMmHg ?? T.unread })) : line(T.pressureNone, 'doubt');
  const lines = [answer ? line(formatText(T, 'resultBy', { who: answer.who, at: clock(answer.at) })) : line(T.resultNone, 'doubt'), read, wordFinal(depth), wordWait(sinceMs, wait)];
  if (!answer) return { title: T['title-result'], answer: [UNKNOWN], lines: [...lines.slice(1), noVerdict], mark: 'doubt' };
  const said = T[`answer-${answer.answer}`];
  return { title: T['title-result'], ...(isShort(said) ? { answer: [sign(said)] } : { word: said }), lines: [...lines, noVerdict], mark: answer.answer === 'cannot say' ? 'doubt' : 'plain' };
}

function wordTotal(t: Facts<'totals'>['totals'][number]): LineWords {
  if (t.value === null) return line(formatText(T, 'totalUnread', { name: T[`name-${t.code}`] }), 'doubt');
  const limit = t.limit === null ? '' : formatText(T, t.code === 'act' ? 'totalLeast' : 'totalMost', { limit: t.limit });
  const text = formatText(T, `total-${t.code}`, { value: Number.isInteger(t.value) ? t.value : formatNumber(t.value, 1), limit });
  const known = t.isOutdated ? formatText(T, 'totalOutdated', { text }) : t.limit !== null && t.isUnverified ? formatText(T, 'totalUnverified', { text }) : text;
  return t.isPast ? line(formatText(T, 'totalPast', { text: known }), 'stop') : line(known, t.isOutdated ? 'doubt' : 'plain');
}

function wordHandover(c: Facts<'handover'>, clock: (at: string) => string): Words {
  const depth = isFinal(c.depth) ? line(formatText(T, 'handoverDepth', { mm: formatDepthMm(Math.round(c.depth.reading.depthMm * 10) / 10), band: formatBand(c.depth.reading.lowMm, c.depth.reading.highMm), at: clock(c.depth.at) })) : wordNoFinal(c.depth);
  const answer = c.answer ? line(formatText(T, 'handoverAnswer', { answer: T[`answer-${c.answer.answer}`], who: c.answer.who })) : line(T.resultNone, 'doubt');
  return {
    title: T['title-handover'],
    lines: [
      line(formatText(T, 'planValve', { device: c.device, size: c.size })), depth, line(formatText(T, 'handoverTries', { attempts: c.attempts, recaptures: c.recaptures })), answer,
      line(formatText(T, 'handoverCall', { decides: c.decides ?? T.nobody })), line(formatText(T, 'handoverSurgeon', { surgeon: c.surgeon ?? T.nobody })),
    ],
  };
}
