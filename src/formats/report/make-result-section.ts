import type { VerdictAnswer } from '../../core/verdict/compose-verdict.ts';
import { describeWord } from '../../core/verdict/describe-verdict.ts';
import { formatGradeBand } from '../../core/verdict/format-grade-band.ts';
import { formatLine, type LeakVerdict } from '../../core/verdict/fuse-witnesses.ts';
import { showNumber } from '../../core/verdict/make-reason.ts';
import type { RemedyRow } from '../../core/verdict/remedy-board.ts';
import { WITNESS_KINDS, type LeakInterval, type LeakWitness, type WitnessKind } from '../../core/verdict/verdict-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RESULT_SHEET_EN } from '../../core/text/result-sheet-en.ts';
import { VERDICT_EN } from '../../core/text/verdict-en.ts';
import { drawDoubtTag } from './draw-fact.ts';
import { drawNote } from './draw-doubts.ts';
import { drawFigure } from './draw-section.ts';
import { drawWitnessBars } from './draw-witness-bars.ts';
import { escapeText } from './escape-text.ts';

/** A stored grade with the name of who stored it. */
export interface GradeRow {
  readonly who: string;
  readonly of: WitnessKind | 'overall';
  readonly interval: LeakInterval;
  readonly at: string;
  readonly heartRatePerMin: number | null;
  readonly loadingNote: string | null;
}
export interface ResultWords {
  readonly nameOf: (personId: string) => string;
  readonly formatTime: (at: string) => string;
  readonly id: string;
}
/** The parts of a verdict that was shown, as HTML: page and paper put them in the same order. */
export interface DrawnVerdict {
  readonly word: string;
  /** The word to be read: AGREE alone would be taken for good news, so that its side stands in it. */
  readonly heading: string;
  readonly say: string;
  readonly bars: string;
  readonly witnesses: string;
  readonly grades: string;
  readonly remedies: string;
  readonly diastole: string;
  readonly sites: string;
  readonly doubt: string;
  readonly settling: string;
}

/** What a verdict says, drawn; null while it is hidden. Every text goes through escapeText. */
export function drawVerdict(answer: VerdictAnswer, grades: readonly GradeRow[], words: ResultWords): DrawnVerdict | null {
  const { verdict } = answer;
  if (verdict === null) return null;
  const said = describeWord(verdict);
  return {
    word: verdict.word,
    heading: verdict.word === 'AGREE' && verdict.side !== null ? RESULT_SHEET_EN[`agree-${verdict.side}`] : verdict.word,
    say: said.slice(verdict.word.length + 2),
    bars: drawFigure('bars small', RESULT_SHEET_EN.barsTitle, RESULT_SHEET_EN.barsCaption, drawWitnessBars(verdict, { id: words.id, isTraining: answer.isTraining })),
    witnesses: drawWitnesses(verdict, words),
    grades: drawGrades(grades, words),
    remedies: drawRemedies(answer.remedies ?? []),
    diastole: drawDiastole(answer),
    sites: drawSites(answer, words),
    doubt: drawDoubt(verdict),
    settling: drawSettling(answer),
  };
}

interface Cell {
  readonly name: string;
  readonly html: string;
}
/** A table that stands as cards on a narrow page: each cell knows the name of its column. */
function drawWide(kind: string, caption: string, first: string, rows: readonly { readonly head: string; readonly cells: readonly Cell[] }[]): string {
  if (rows.length === 0) return '';
  const heads = [first, ...rows[0]!.cells.map((c) => c.name)].map((h) => `<th scope="col">${escapeText(h)}</th>`).join('');
  const body = rows.map((r) => `<tr><th scope="row">${r.head}</th>${r.cells.map((c) => `<td data-name="${escapeText(c.name)}">${c.html}</td>`).join('')}</tr>`).join('');
  return `<table class="stacked ${kind}"><caption>${escapeText(caption)}</caption><thead><tr>${heads}</tr></thead><tbody>${body}</tbody></table>`;
}
const lines = (texts: readonly string[]): string => (texts.length === 0 ? escapeText(RESULT_SHEET_EN.none) : texts.map((t) => `<p>${escapeText(t)}</p>`).join(''));

function drawWitnesses(verdict: LeakVerdict, { nameOf, formatTime }: ResultWords): string {
  const { columnWitness, columnSays, columnWhen, columnState, columnHow } = RESULT_SHEET_EN;
  const row = (kind: WitnessKind, w: LeakWitness | null, says: string) => ({
    head: escapeText(RESULT_SHEET_EN[`bar-${kind}`]),
    cells: [
      { name: columnSays, html: says },
      { name: columnWhen, html: w === null ? '–' : escapeText(w.minutesAfterRelease === null ? formatText(RESULT_SHEET_EN, 'minutesNone', { by: sayWho(w.by, nameOf), at: formatTime(w.at) }) : formatText(RESULT_SHEET_EN, 'minutesAfter', { by: sayWho(w.by, nameOf), minutes: showNumber(Math.round(w.minutesAfterRelease * 10) / 10) })) },
      { name: columnState, html: w === null ? '–' : escapeText(formatText(RESULT_SHEET_EN, 'rateLoading', { rate: w.heartRatePerMin === null ? RESULT_SHEET_EN.notSaid : Math.round(w.heartRatePerMin), loading: w.loadingNote ?? RESULT_SHEET_EN.notSaid })) },
      { name: columnHow, html: w === null || w.method.trim() === '' ? '–' : escapeText(w.method) },
    ],
  });
  const rows = WITNESS_KINDS.flatMap((kind) => {
    const spoken = verdict.speaking.find((w) => w.kind === kind);
    if (spoken) return [row(kind, spoken, escapeText(formatGradeBand(spoken.interval!)))];
    const silent = verdict.silent.filter((w) => w.kind === kind);
    if (silent.length > 0) return silent.map((w) => row(kind, w, drawDoubtTag(RESULT_SHEET_EN.silent)));
    return [row(kind, null, drawDoubtTag(RESULT_SHEET_EN.notTaken))];
  });
  return drawWide('witnesses', RESULT_SHEET_EN.witnessTitle, columnWitness, rows);
}
/** Several readers of one kind stand in one text, by their ids. */
const sayWho = (by: string, nameOf: (id: string) => string): string => by.split(', ').map(nameOf).join(', ');

function drawGrades(grades: readonly GradeRow[], { formatTime }: ResultWords): string {
  return drawWide('grades', RESULT_SHEET_EN.gradesTitle, RESULT_SHEET_EN.columnReader, grades.map((g) => ({
    head: escapeText(g.who),
    cells: [
      { name: RESULT_SHEET_EN.columnOf, html: escapeText(RESULT_SHEET_EN[`of-${g.of}`]) },
      { name: RESULT_SHEET_EN.columnGrade, html: escapeText(formatGradeBand(g.interval)) },
      { name: RESULT_SHEET_EN.columnWhen, html: escapeText(formatTime(g.at)) },
      { name: RESULT_SHEET_EN.columnState, html: escapeText(formatText(RESULT_SHEET_EN, 'rateLoading', { rate: g.heartRatePerMin ?? RESULT_SHEET_EN.notSaid, loading: g.loadingNote ?? RESULT_SHEET_EN.notSaid })) },
    ],
  })));
}

/** All six in the one order; conditions with a sign and a word, never by colour. */
export function drawRemedies(remedies: readonly RemedyRow[]): string {
  const { columnRemedy, columnNow, columnMust, columnAgainst, columnGain } = RESULT_SHEET_EN;
  const rows = remedies.map((r) => ({
    head: escapeText(VERDICT_EN[`remedy-${r.code}`]),
    cells: [
      { name: columnNow, html: `<p>${r.state === 'cannot say' ? drawDoubtTag(VERDICT_EN['state-cannot say']) : `<b class="state-${r.state}">${VERDICT_EN[`state-${r.state}`]}</b>`}</p><p>${escapeText(r.detail)}</p>` },
      { name: columnMust, html: lines(r.mustBeTrue.map(({ text, holds }) => formatText(RESULT_SHEET_EN, holds === null ? 'unknown' : holds ? 'holds' : 'fails', { text: bare(text) }))) },
      { name: columnAgainst, html: lines(r.contraSigns.map(({ text, isPresent }) => formatText(RESULT_SHEET_EN, isPresent === null ? 'unknown' : isPresent ? 'signSeen' : 'signAbsent', { text: bare(text) }))) },
      { name: columnGain, html: lines([formatText(RESULT_SHEET_EN, 'gain', { text: r.gain }), formatText(RESULT_SHEET_EN, 'limit', { text: r.limit })]) },
    ],
  }));
  const table = drawWide('remedies', RESULT_SHEET_EN.remediesTitle, columnRemedy, rows);
  return table === '' ? '' : `${table}<p class="soft">${escapeText(RESULT_SHEET_EN.remediesSay)}</p>`;
}
const bare = (text: string): string => (text.endsWith(':') ? text.slice(0, -1) + '.' : text);

function drawDiastole({ lowDiastole: found }: VerdictAnswer): string {
  if (found === null) return `<p class="soft">${escapeText(RESULT_SHEET_EN.diastoleNone)}</p>`;
  if (found.rows.length === 0) return `<p class="soft">${escapeText(found.state === 'not low' ? RESULT_SHEET_EN.diastoleNot : RESULT_SHEET_EN.diastoleCannot)}${found.because === '' ? '' : ` ${escapeText(found.because)}`}</p>`;
  const title = found.state === 'low' ? VERDICT_EN.diastoleTitle : VERDICT_EN.diastoleMaybe;
  return drawWide('diastole', `${title.replace(/:$/, '.')} ${found.because}`.trim(), RESULT_SHEET_EN.columnCause, found.rows.map((r) => ({
    head: `${escapeText(VERDICT_EN[`cause-${r.cause}`])}<br><b>${escapeText(VERDICT_EN[`weight-${r.weight}`])}</b>`,
    cells: [
      { name: RESULT_SHEET_EN.columnFor, html: r.for.length === 0 ? '–' : lines(r.for) },
      { name: RESULT_SHEET_EN.columnContra, html: r.against.length === 0 ? '–' : lines(r.against) },
      { name: RESULT_SHEET_EN.columnUnknown, html: r.unknown.length === 0 ? '–' : lines(r.unknown) },
      { name: RESULT_SHEET_EN.columnTell, html: escapeText(r.next) },
    ],
  })));
}

function drawSites({ sites }: VerdictAnswer, { nameOf }: ResultWords): string {
  if (sites === null || sites.state === 'no forecast') return `<p class="soft">${escapeText(VERDICT_EN.sitesNone)}</p>`;
  if (sites.rows.length === 0 && sites.unforeseen.length === 0) return `<p class="soft">${escapeText(VERDICT_EN.sitesNoGap)}</p>`;
  const { columnPlace, columnGap, columnSeen } = RESULT_SHEET_EN;
  const place = (cusp: string, from: number, to: number): string => formatText(RESULT_SHEET_EN, 'gapPlace', { cusp, from: Math.round(from), to: Math.round(to) });
  const rows = [
    ...sites.rows.map(({ gap, state }) => ({ head: escapeText(place(gap.cusp, gap.fromDeg, gap.toDeg)), cells: [{ name: columnGap, html: escapeText(formatText(RESULT_SHEET_EN, 'gapMm', { mm: showNumber(gap.gapMm) })) }, { name: columnSeen, html: state === 'not looked' ? drawDoubtTag(VERDICT_EN['site-not looked']) : escapeText(VERDICT_EN[`site-${state}`]) }] })),
    ...sites.unforeseen.map((s) => ({ head: escapeText(s.arcDeg ? place(s.cusp ?? '', s.arcDeg[0], s.arcDeg[1]).replace(/^, /, '') : (s.cusp ?? '–')), cells: [{ name: columnGap, html: escapeText(RESULT_SHEET_EN.unforeseen) }, { name: columnSeen, html: escapeText(formatText(RESULT_SHEET_EN, 'unforeseenSeen', { by: sayWho(s.by, nameOf) })) }] })),
  ];
  return `${drawWide('sites', RESULT_SHEET_EN.sitesTitle, columnPlace, rows)}<p class="soft">${escapeText(RESULT_SHEET_EN.sitesSay)}</p>`;
}

function drawDoubt(verdict: LeakVerdict): string {
  const reasons = [
    ...verdict.reasons.map((r) => ({ of: '', r })),
    ...verdict.speaking.flatMap((w) => w.reasons.map((r) => ({ of: RESULT_SHEET_EN[`bar-${w.kind}`] as string, r }))),
    ...verdict.silent.flatMap((w) => w.reasons.map((r) => ({ of: RESULT_SHEET_EN[`bar-${w.kind}`] as string, r }))),
  ];
  const seen = new Set<string>();
  const notes = reasons.flatMap(({ of, r }) => {
    const key = `${of} ${r.code} ${r.text}`;
    if (seen.has(key)) return [];
    seen.add(key);
    return [drawNote(r.code, of, r.text)];
  });
  const taken = verdict.missing.map((k) => drawNote(`missing-${k}`, '', formatText(VERDICT_EN, 'takeBecause', { witness: VERDICT_EN[`kind-${k}`] })));
  return `${notes.join('')}${taken.join('')}<p class="soft">${escapeText(formatLine(verdict.decisionLine))}</p>`;
}

function drawSettling({ settling }: VerdictAnswer): string {
  if (settling.length === 0) return `<p>${escapeText(RESULT_SHEET_EN.nothingToSettle)}</p>`;
  return `<ul class="acts">${settling.map(({ next, because }) => `<li><b>${escapeText(next)}</b> ${escapeText(because)}</li>`).join('')}</ul>`;
}
