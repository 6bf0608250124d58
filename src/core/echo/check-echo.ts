import { formatText } from '../text/catalogue.ts';
import { ECHO_EN } from '../text/echo-en.ts';
import { GRADE_WORDS } from '../verdict/make-witness.ts';
import { showNumber } from '../verdict/make-reason.ts';
import type { EchoFieldCode } from './echo-fields.ts';
import { computeBernoulli, computeDiscArea, computeExtendedBernoulli, computeIsovelocityOrifice, computeOrificeVolume, computeRatio, computeRecoveredShare, computeRegurgitantFraction, computeRegurgitantVolume, computeStrokeVolume } from './echo-formulas.ts';
import type { EchoCheck } from './echo-types.ts';
import type { PlacedJets } from './place-jets.ts';
import { areApart, exact, propagate, type Reading } from './propagate-error.ts';
import { makeCheck, nameField, type ReadEntries } from './read-entries.ts';

/** What the checks hold the entries against, beside themselves. */
export interface CheckInput extends ReadEntries {
  readonly jets: PlacedJets;
  readonly area: Reading | null;
  readonly stroke: Reading | null;
  readonly aorta: Reading | null;
  readonly catheter: Reading | null;
  readonly surface: Reading | null;
}
type Held = Reading | undefined;

/** Ejection that a heart can have, in ms [A]; an envelope has between half (triangle) and the whole (box) of its frame [D]. */
const EJECTION_MS = { least: 150, most: 500 } as const;
/** Time integrals and peak velocities of the same flow differ a little by the shape of the two envelopes [A]. */
const SHAPE_SHARE = 0.1;
/** A triangle is the thinnest envelope: the mean of its squares is a third of the peak [D]. */
const THINNEST = 1 / 3;
/** From the half-time to the end of a flow whose velocity falls evenly: 1 / (1 - 1 / sqrt 2) [D]. */
const END_OVER_HALF_TIME = 1 / (1 - Math.SQRT1_2);
const LONGEST_EJECTION_MS = 400;

const show = (r: Reading): string => showNumber(r.value);
const codesOf = (...readings: readonly Held[]): readonly EchoFieldCode[] => [...new Set(readings.flatMap((r) => r?.from ?? []))] as readonly EchoFieldCode[];

/**
 * Whether the entries can all be true at once. Two numbers contradict one another when their reading bands have nothing in common;
 * nothing is averaged, corrected or chosen: the pair is named, with what to do.
 * Fails    never
 * Source   docs/methods/echo.md, "Checks"
 */
export function checkEcho(input: CheckInput): readonly EchoCheck[] {
  const { numbers: n } = input;
  const out: EchoCheck[] = [];
  const differ = (code: 'stroke-differs' | 'area-differs' | 'volume-differs' | 'fraction-differs' | 'orifice-differs' | 'orifice-volume-differs' | 'extent-differs', name: string, entered: Held, computed: Held | null): void => {
    if (!entered || !computed || !Number.isFinite(computed.value) || !areApart(entered, computed)) return;
    const text = fillPair(ECHO_EN[code], name, show(entered), show(computed));
    out.push(makeCheck(code, 'refuse', codesOf(entered, computed), text, ECHO_EN[`${code}-next`]));
  };
  checkGradients(input, out);
  checkIntegrals(input, out);
  differ('stroke-differs', 'stroke', n['stroke-volume'], both(computeStrokeOf, n['outflow-diameter'], n['outflow-vti']));
  differ('area-differs', 'area', n['valve-area'], both((d, o, v) => (computeDiscArea(d!) * o!) / v!, n['outflow-diameter'], n['outflow-vti'], n['valve-vti']));
  const stroke = input.stroke ?? undefined;
  const twoStrokes = both((s, r) => computeRegurgitantVolume(s!, r!), stroke, n['reference-stroke']);
  if (stroke && n['reference-stroke'] && n['reference-stroke'].low > stroke.high) {
    out.push(makeCheck('reference-above-stroke', 'refuse', codesOf(stroke, n['reference-stroke']), formatText(ECHO_EN, 'reference-above-stroke', { reference: show(n['reference-stroke']), stroke: show(stroke) }), ECHO_EN['reference-above-stroke-next']));
  } else differ('volume-differs', 'volume', n['regurgitant-volume'], twoStrokes);
  const volume = n['regurgitant-volume'];
  if (stroke && volume && volume.low > stroke.high) {
    out.push(makeCheck('volume-above-stroke', 'refuse', codesOf(volume, stroke), formatText(ECHO_EN, 'volume-above-stroke', { volume: show(volume), stroke: show(stroke) }), ECHO_EN['volume-above-stroke-next']));
  } else differ('fraction-differs', 'fraction', n['regurgitant-fraction'], volume ? both((v, s) => computeRegurgitantFraction(v!, s!), volume, stroke) : both((s, r) => computeRegurgitantFraction(computeRegurgitantVolume(s!, r!), s!), stroke, n['reference-stroke']));
  const converged = both((r, a, v) => computeIsovelocityOrifice(r!, a!, 100 * v!), n['isovelocity-radius'], n['isovelocity-alias'], n['leak-velocity']);
  differ('orifice-differs', 'orifice', n['regurgitant-orifice'], converged);
  differ('orifice-volume-differs', 'volume', volume, both((o, t) => computeOrificeVolume(o!, t!), n['regurgitant-orifice'] ?? converged, n['leak-vti']));
  checkJets(input, out, (clock) => differ('extent-differs', 'percent', n.circumference, clock));
  checkRest(input, out);
  return out;
}

const computeStrokeOf = (diameter?: number, vti?: number): number => computeStrokeVolume(computeDiscArea(diameter!), vti!);

const fillPair = (text: string, name: string, entered: string, computed: string): string => text.replace(`{${name}}`, entered).replace('{computed}', computed);

/** The function of readings that are all there; undefined where one is missing. */
function both(compute: (...values: (number | undefined)[]) => number, ...readings: readonly Held[]): Held {
  return readings.every((r) => r !== undefined) ? propagate(readings as readonly Reading[], compute) : undefined;
}

function checkGradients({ numbers: n, catheter, area, aorta }: CheckInput, out: EchoCheck[]): void {
  const [velocity, before, peak, mean] = [n['valve-velocity'], n['outflow-velocity'], n['valve-peak-gradient'], n['valve-mean-gradient']];
  const simple = both((v) => computeBernoulli(v!), velocity);
  const extended = both((v, b) => computeExtendedBernoulli(v!, b!), velocity, before);
  const isPeakOdd = peak && simple && areApart(peak, simple) && !(extended && !areApart(peak, extended));
  if (isPeakOdd) out.push(makeCheck('peak-gradient-differs', 'refuse', codesOf(peak, velocity), formatText(ECHO_EN, 'peak-gradient-differs', { peak: show(peak), velocity: show(velocity!), computed: show(simple) }), ECHO_EN['peak-gradient-differs-next']));
  const top = peak ?? simple;
  // Read off one trace, the entered pair has no reading error of its own: the mean is below the peak or it is not.
  const isAbove = mean !== undefined && top !== undefined && mean.value > 0 && (peak ? mean.value >= peak.value : mean.low > top.high);
  if (isAbove) out.push(makeCheck('mean-above-peak', 'refuse', codesOf(mean, top), formatText(ECHO_EN, 'mean-above-peak', { mean: show(mean), peak: show(top!) }), ECHO_EN['mean-above-peak-next']));
  else if (mean && top && mean.high < THINNEST * top.low) out.push(makeCheck('mean-low-for-peak', 'refuse', codesOf(mean, top), formatText(ECHO_EN, 'mean-low-for-peak', { mean: show(mean), peak: show(top) }), ECHO_EN['mean-low-for-peak-next']));
  if (mean && catheter && areApart(mean, catheter)) {
    const recovered = both((a, t, v) => computeRecoveredShare(a!, t!) * computeBernoulli(v!), area ?? undefined, aorta ?? undefined, velocity);
    const why = recovered && Number.isFinite(recovered.value) ? formatText(ECHO_EN, 'catheter-differs-recovery', { mmHg: show(recovered) }) : ECHO_EN['catheter-differs-unknown'];
    out.push(makeCheck('catheter-differs', 'tell', codesOf(mean), `${formatText(ECHO_EN, 'catheter-differs', { echo: show(mean), catheter: show(catheter) })} ${why}`, ECHO_EN['catheter-differs-next']));
  }
}

function checkIntegrals({ numbers: n, area, aorta }: CheckInput, out: EchoCheck[]): void {
  for (const [vtiCode, vti, velocity] of [['valve-vti', n['valve-vti'], n['valve-velocity']], ['outflow-vti', n['outflow-vti'], n['outflow-velocity']]] as const) {
    const ms = both((t, v) => (10 * t!) / v!, vti, velocity);
    if (ms && (2 * ms.high < EJECTION_MS.least || ms.low > EJECTION_MS.most)) {
      out.push(makeCheck('time-integral-unlike-velocity', 'refuse', codesOf(vti, velocity), formatText(ECHO_EN, 'time-integral-unlike-velocity', { field: nameField(vtiCode), vti: show(vti!), velocity: show(velocity!), ms: Math.round(ms.value), most: Math.round(2 * ms.value) }), ECHO_EN['time-integral-unlike-velocity-next']));
    }
  }
  const index = both((o, v) => computeRatio(o!, v!), n['outflow-vti'], n['valve-vti']);
  const ratio = both((o, v) => computeRatio(o!, v!), n['outflow-velocity'], n['valve-velocity']);
  if (index && ratio && areApart({ ...index, low: index.low * (1 - SHAPE_SHARE), high: index.high * (1 + SHAPE_SHARE) }, ratio)) {
    out.push(makeCheck('ratios-differ', 'refuse', codesOf(index, ratio), formatText(ECHO_EN, 'ratios-differ', { index: show(index), ratio: show(ratio) }), ECHO_EN['ratios-differ-next']));
  }
  const faster = [index, ratio].find((r) => r !== undefined && r.value > 1);
  if (faster) out.push(makeCheck('index-above-one', faster.low > 1 ? 'refuse' : 'doubt', codesOf(faster), formatText(ECHO_EN, 'index-above-one', { index: show(faster) }), ECHO_EN['index-above-one-next']));
  const outflow = both((d) => computeDiscArea(d!), n['outflow-diameter']);
  const entered = n['valve-area'];
  if (entered && outflow && entered.low > outflow.high) out.push(makeCheck('area-above-outflow', 'refuse', codesOf(entered, outflow), formatText(ECHO_EN, 'area-above-outflow', { area: show(entered), outflow: show(outflow) }), ECHO_EN['area-above-outflow-next']));
  if (area && aorta && area.low >= aorta.high) out.push(makeCheck('area-above-aorta', 'refuse', codesOf(area), formatText(ECHO_EN, 'area-above-aorta', { area: show(area), aorta: show(aorta) }), ECHO_EN['area-above-aorta-next']));
}

function checkJets({ entries, jets }: CheckInput, out: EchoCheck[], holdExtent: (clock: Reading | null) => void): void {
  for (const number of jets.incomplete) out.push(makeCheck('jet-incomplete', 'doubt', [`jet-${number}-from`, `jet-${number}-to`], formatText(ECHO_EN, 'jet-incomplete', { jet: number }), ECHO_EN['jet-incomplete-next']));
  for (const { number, cusp, others } of jets.misplaced) out.push(makeCheck('jet-cusp-differs', 'doubt', [`jet-${number}-cusp`], formatText(ECHO_EN, 'jet-cusp-differs', { jet: number, cusp, other: others.join(', ') }), ECHO_EN['jet-cusp-differs-next']));
  const hasHours = jets.jets.some((j) => j.fromHour !== null && j.toHour !== null);
  if (hasHours && jets.clock === 'no landmark') out.push(makeCheck('clock-marks-missing', 'tell', [], ECHO_EN['clock-marks-missing'], ECHO_EN['clock-marks-missing-next']));
  if (hasHours && jets.clock === 'no order') out.push(makeCheck('clock-order', 'doubt', (['clock-r', 'clock-r-l', 'clock-l-n', 'clock-n-r', 'clock-next'] as const).filter((c) => entries[c] != null), ECHO_EN['clock-order'], ECHO_EN['clock-order-next']));
  holdExtent(jets.extentPercent);
}

function checkRest({ entries, numbers: n, surface }: CheckInput, out: EchoCheck[]): void {
  const [from, to] = [entries['leak-from'] ?? null, entries['leak-to'] ?? null];
  if (from !== null && to !== null && GRADE_WORDS[from] > GRADE_WORDS[to]) out.push(makeCheck('grade-order', 'refuse', ['leak-from', 'leak-to'], formatText(ECHO_EN, 'grade-order', { from, to }), ECHO_EN['grade-order-next']));
  const denies: EchoFieldCode | null = entries['leak-place'] === 'none seen' ? 'leak-place' : (to ?? from) === 'none' ? 'leak-to' : null;
  if (denies !== null) {
    const seen = (['circumference', 'regurgitant-volume', 'regurgitant-orifice', 'vena-contracta', 'jet-width'] as const).find((code) => (n[code]?.low ?? 0) > 0);
    if (seen) out.push(makeCheck('leak-denied', 'refuse', [denies, seen], formatText(ECHO_EN, 'leak-denied', { field: nameField(seen), value: show(n[seen]!) }), ECHO_EN['leak-denied-next']));
  }
  const [half, rate] = [n['half-time'], n['heart-rate']];
  if (half && rate) {
    const diastoleMs = 60_000 / rate.high - LONGEST_EJECTION_MS;
    if (END_OVER_HALF_TIME * half.high < diastoleMs) out.push(makeCheck('half-time-beyond-diastole', 'doubt', codesOf(half, rate), formatText(ECHO_EN, 'half-time-beyond-diastole', { ms: show(half), diastole: Math.round(diastoleMs) }), ECHO_EN['half-time-beyond-diastole-next']));
  }
  const entered = n['body-surface'];
  if (entered && surface && areApart(entered, surface)) out.push(makeCheck('body-surface-differs', 'refuse', ['body-surface'], formatText(ECHO_EN, 'body-surface-differs', { entered: show(entered), computed: show(surface) }), ECHO_EN['body-surface-differs-next']));
  if (entries['image-quality'] === 'poor') out.push(makeCheck('image-poor', 'doubt', ['image-quality'], ECHO_EN['image-poor'], ECHO_EN['image-poor-next']));
}

export const readFact = (fact: { readonly value: number | null; readonly low: number | null; readonly high: number | null } | null): Reading | null =>
  fact === null || fact.value === null || fact.low === null || fact.high === null ? null : { ...exact(fact.value), low: fact.low, high: fact.high };
