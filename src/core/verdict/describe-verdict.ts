import { formatText } from '../text/catalogue.ts';
import { VERDICT_EN } from '../text/verdict-en.ts';
import type { VerdictAnswer } from './compose-verdict.ts';
import { formatGradeBand } from './format-grade-band.ts';
import { formatLine, type LeakVerdict } from './fuse-witnesses.ts';
import { showNumber } from './make-reason.ts';
import type { LeakWitness } from './verdict-types.ts';

/** The answer as lines of plain text: Answer, Why, Doubt, Next, then all that would settle it, waiting, alternatives, remedies and places. */
export function describeVerdict(answer: VerdictAnswer): readonly string[] {
  const { verdict, gate } = answer;
  if (verdict === null) {
    return [formatText(VERDICT_EN, 'answer', { text: VERDICT_EN.hidden }), formatText(VERDICT_EN, 'why', { text: gate.waitingFor.length > 0 ? formatText(VERDICT_EN, 'hiddenBecause', { list: gate.waitingFor.join(', ') }) : VERDICT_EN.hiddenNobody }), formatText(VERDICT_EN, 'next', { text: answer.next })];
  }
  return [
    formatText(VERDICT_EN, 'answer', { text: describeWord(verdict) }),
    ...verdict.speaking.map((w) => formatText(VERDICT_EN, 'why', { text: describeWitness(w) })),
    formatText(VERDICT_EN, 'why', { text: formatLine(verdict.decisionLine) }),
    ...[...verdict.reasons, ...verdict.speaking.flatMap((w) => w.reasons)].map((r) => formatText(VERDICT_EN, 'doubt', { text: r.text })),
    ...verdict.silent.map((w) => formatText(VERDICT_EN, 'doubt', { text: describeSilent(w) })),
    ...verdict.missing.map((k) => formatText(VERDICT_EN, 'doubt', { text: formatText(VERDICT_EN, 'takeBecause', { witness: VERDICT_EN[`kind-${k}`] }) })),
    formatText(VERDICT_EN, 'next', { text: answer.next }),
    ...answer.settling.map(({ next, because }) => formatText(VERDICT_EN, 'settle', { next, because })),
    formatText(VERDICT_EN, 'waiting', { text: `${answer.waiting.because} ${answer.waiting.expected}` }),
    ...describeDiastole(answer), ...describeRemedies(answer), ...describeSites(answer),
  ];
}

/** The word with what it means; never a number alone. */
export function describeWord(verdict: LeakVerdict): string {
  const { word, side, common, speaking, disjoint } = verdict;
  const band = common === null ? '' : formatGradeBand(common);
  if (word === 'AGREE') return formatText(VERDICT_EN, side === 'below' ? 'wordAgreeBelow' : 'wordAgreeAbove', { band });
  if (word === 'NOT SETTLED') return formatText(VERDICT_EN, 'wordNotSettled', { band });
  if (word === 'ONE WITNESS ONLY') return formatText(VERDICT_EN, 'wordOne', { witness: VERDICT_EN[`kind-${speaking[0]!.kind}`], band });
  if (word === 'CANNOT SAY') return VERDICT_EN.wordCannotSay;
  return formatText(VERDICT_EN, 'wordDisagree', { pairs: disjoint.map(([a, b]) => formatText(VERDICT_EN, 'pair', { a: VERDICT_EN[`kind-${a}`], b: VERDICT_EN[`kind-${b}`] })).join('; ') });
}

function describeWitness(w: LeakWitness): string {
  return formatText(VERDICT_EN, 'witness', {
    witness: VERDICT_EN[`kind-${w.kind}`], band: formatGradeBand(w.interval!), by: w.by, minutes: w.minutesAfterRelease === null ? '-' : showNumber(w.minutesAfterRelease),
    rate: w.heartRatePerMin === null ? '-' : String(Math.round(w.heartRatePerMin)), loading: w.loadingNote ?? '-', method: w.method,
  });
}

function describeSilent(w: LeakWitness): string {
  return formatText(VERDICT_EN, 'repeatBecause', { witness: VERDICT_EN[`kind-${w.kind}`], text: w.reasons.map((r) => r.text).join(' ') || VERDICT_EN.silent });
}

function describeDiastole({ lowDiastole: found }: VerdictAnswer): readonly string[] {
  if (found === null || found.state === 'not low') return [];
  if (found.state === 'cannot say') return [formatText(VERDICT_EN, 'diastoleCannot', { because: found.because })];
  return [
    formatText(VERDICT_EN, 'diastole', { because: found.because }), found.state === 'low' ? VERDICT_EN.diastoleTitle : VERDICT_EN.diastoleMaybe,
    ...found.rows.map((r) => formatText(VERDICT_EN, 'diastoleRow', {
      cause: VERDICT_EN[`cause-${r.cause}`], weight: VERDICT_EN[`weight-${r.weight}`],
      // What everything speaks against need not be told apart.
      parts: [list('diastoleFor', r.for), list('diastoleAgainst', r.against), list('diastoleUnknown', r.unknown), list('diastoleTell', r.weight === 'against' && r.unknown.length === 0 ? [] : [r.next])].join(''),
    })),
  ];
}

function describeRemedies({ remedies }: VerdictAnswer): readonly string[] {
  return [VERDICT_EN.remedyTitle, ...(remedies ?? []).flatMap((r) => [
    formatText(VERDICT_EN, 'remedyRow', { name: VERDICT_EN[`remedy-${r.code}`], state: VERDICT_EN[`state-${r.state}`], detail: r.detail, gain: r.gain, limit: r.limit }),
    ...r.mustBeTrue.map((c) => formatText(VERDICT_EN, 'remedyMust', { text: c.text, holds: c.holds === null ? VERDICT_EN.notKnown : c.holds ? VERDICT_EN.yes : VERDICT_EN.no })),
    ...r.contraSigns.filter((c) => c.isPresent !== false).map((c) => formatText(VERDICT_EN, 'remedyContra', { text: c.text, holds: c.isPresent === null ? VERDICT_EN.notKnown : VERDICT_EN.yes })),
  ])];
}

function describeSites({ sites }: VerdictAnswer): readonly string[] {
  if (sites === null || sites.state === 'no forecast') return [VERDICT_EN.sitesNone];
  return [
    ...(sites.rows.length === 0 ? [VERDICT_EN.sitesNoGap] : []),
    ...sites.rows.map(({ gap, state }) => formatText(VERDICT_EN, 'site', { cusp: gap.cusp, mm: showNumber(gap.gapMm), from: String(Math.round(gap.fromDeg)), to: String(Math.round(gap.toDeg)), state: VERDICT_EN[`site-${state}`] })),
    ...sites.unforeseen.map((s) => formatText(VERDICT_EN, 'siteUnforeseen', { place: s.cusp ?? `${s.arcDeg?.join(' to ') ?? '-'} deg` })),
  ];
}

/** Nothing to say is not said. */
const list = (key: 'diastoleFor' | 'diastoleAgainst' | 'diastoleUnknown' | 'diastoleTell', items: readonly string[]): string => (items.length === 0 ? '' : formatText(VERDICT_EN, key, { text: items.join(' ') }));
