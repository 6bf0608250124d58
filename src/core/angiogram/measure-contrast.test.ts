import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { ALL_SAID, codesOf, drawAny, drawSmall, jitterRegions, makeRun, measured, trueRatio } from '../../../test/support/contrast-phantoms.ts';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { seed as baseSeed } from '../../../test/support/seed.ts';
import type { Fact } from '../units/fact.ts';
import { checkContrast } from './check-contrast.ts';
import type { ContrastAnswer, ContrastAsk, ContrastRun } from './contrast-types.ts';
import { computeDensityRatio, integrateCurve } from './density-ratio.ts';
import { measureContrast } from './measure-contrast.ts';

const CHECK: Tolerance = { relative: 0, absolute: 1e-6, from: 'tolerance of the check' };
const ROUNDING: Tolerance = { relative: 1e-9, absolute: 1e-12, from: 'order of sums over pixels' };
const FIXTURE: Tolerance = { relative: 0, absolute: 2e-6, from: 'nothing is shifted; logarithms and sums of the other program' };

const plain = drawSmall();
const regions = { ...plain.truth.regions, background: null };
const ask: ContrastAsk = { ...ALL_SAID, regions };
const plainAnswer = measured(makeRun(plain), ask);

describe('density ratio', () => {
  const LVOT = [0, 2, 12, 20, 18, 12, 5];
  const ROOT = [0, 20, 80, 100, 90, 60, 20];
  const times = LVOT.map((_, i) => i);
  test('AN-02 trapezium rule over the same window, a fraction', () => {
    expectWithin(computeDensityRatio(times, LVOT, ROOT), 0.184722, CHECK);
  });
  test('does not depend on the unit of time, and a window may begin between frames', () => {
    expectWithin(computeDensityRatio(times.map((t) => t / 15), LVOT, ROOT), computeDensityRatio(times, LVOT, ROOT), ROUNDING);
    expectWithin(integrateCurve(times, ROOT, 1.5, 2.5), (50 + 80) / 4 + (80 + 90) / 4, ROUNDING);
  });
  test('is NaN when the root has no area', () => expect(computeDensityRatio(times, LVOT, LVOT.map(() => 0))).toBeNaN());
});

describe('measureContrast against another program', () => {
  interface Reference { readonly rows: number; readonly columns: number; readonly frames: number; readonly framesPerS: number; readonly pixels: string; readonly regions: NonNullable<ContrastAsk['regions']>; readonly mask: readonly [number, number]; readonly window: [number, number]; readonly aorta: number[]; readonly outflow: number[]; readonly areaAorta: number; readonly areaOutflow: number; readonly ratio: number }
  const reference = JSON.parse(readFileSync(new URL('../../../test/reference/contrast/contrast.json', import.meta.url), 'utf8')) as Reference;
  test('gives the curves, areas and ratio of NumPy and SciPy from the same frames', () => {
    const bytes = Uint8Array.from(Buffer.from(reference.pixels, 'base64'));
    const size = reference.rows * reference.columns;
    const run: ContrastRun = {
      rows: reference.rows, columns: reference.columns, bits: 8, isInverted: false, intensity: 'LIN', history: { isDerived: false, isSubtracted: false, isLossy: false },
      frames: Array.from({ length: reference.frames }, (_, k) => bytes.subarray(k * size, (k + 1) * size)), frameTimesMs: Array.from({ length: reference.frames }, (_, k) => (1000 * k) / reference.framesPerS),
    };
    const a = measured(run, { ...ALL_SAID, regions: reference.regions, frames: reference.window, ratePerMin: 75 });
    expect(a.mask).toEqual({ fromFrame: reference.mask[0], toFrame: reference.mask[1] });
    expect(a.motion.shiftsPx.every(([c, r]) => c === 0 && r === 0)).toBe(true);
    a.curves.aorta.forEach((v, k) => expectWithin(v, reference.aorta[k]!, FIXTURE));
    a.curves.outflow.forEach((v, k) => expectWithin(v, reference.outflow[k]!, FIXTURE));
    expectWithin(a.aorta.area.value!, reference.areaAorta, FIXTURE);
    expectWithin(a.ratio.value!, reference.ratio, FIXTURE);
  });
});

describe(`measureContrast on drawn runs (seed ${baseSeed})`, () => {
  test('covers the true ratio with given and with proposed regions, near it and without drift', () => {
    const errors: number[] = [];
    let [inside, all] = [0, 0];
    for (let k = 0; k < 5; k++) {
      const drawn = drawAny((baseSeed % 1000) + k);
      for (const regionsAsk of [jitterRegions(drawn), undefined]) {
        const a = measured(makeRun(drawn), { ...ALL_SAID, regions: regionsAsk });
        expect(checkContrast(a)).toEqual([]);
        expect(a.ratio.value, codesOf(a).join()).not.toBeNull();
        const truth = trueRatio(drawn, a);
        errors.push(a.ratio.value! - truth);
        if (a.ratio.low! <= truth && truth <= a.ratio.high!) inside++;
        all++;
        expect(Math.abs(a.cycle.ratePerMin.value! - drawn.shape.ratePerMin)).toBeLessThan(3); // a fifth of a frame in a cycle
      }
    }
    expect(inside / all).toBeGreaterThanOrEqual(0.9);
    expect(Math.abs(errors.reduce((s, e) => s + e, 0) / all)).toBeLessThan(0.02); // scatter alone raises it by up to 0.03
  });
  test('of no leak is about 0, and grows with the leak', () => {
    const ratios = [0, 0.2, 0.45].map((regurgitantFraction) => {
      const drawn = drawSmall({ regurgitantFraction });
      return measured(makeRun(drawn), { ...ALL_SAID, regions: { ...drawn.truth.regions, background: null } }).ratio;
    });
    expect(Math.abs(ratios[0]!.value!)).toBeLessThan(0.02); // half of the interval
    for (let k = 1; k < ratios.length; k++) expect(ratios[k]!.value!).toBeGreaterThan(ratios[k - 1]!.value! + 0.05);
  });
  test('settles when all is said and the regions are a person’s; says who drew them when not', () => {
    expect(plainAnswer.ratio.status).toBe('settled');
    expect(plainAnswer.regions!.by).toBe('entered');
    const proposed = measured(makeRun(plain), ALL_SAID);
    expect(proposed.regions!.by).toBe('proposed');
    expect(proposed.ratio.reasons.map((r) => r.code)).toEqual(['regions-proposed']);
    const marked = measured(makeRun(plain), { ...ALL_SAID, marks: plain.truth.marks });
    expect(marked.regions!.by).toBe('frame marks');
    expectWithin(marked.ratio.value!, plainAnswer.ratio.value!, { relative: 0, absolute: 0.01, from: 'marks rounded to a tenth of a pixel' });
  });
});

describe('measureContrast when the input is changed in a known way', () => {
  const ratioOf = (run: ContrastRun, question: ContrastAsk = ask): number => measured(run, question).ratio.value!;
  const same: Tolerance = { relative: 0.02, absolute: 0.002, from: 'rounding to whole greys, and a fit of shift and brightness' };
  test('mirrored columns with mirrored regions: the same', () => {
    const W = plain.shape.columns;
    const frames = plain.pixels.map((frame) => Uint16Array.from(frame, (_, i) => frame[i - (i % W) + (W - 1 - (i % W))]!));
    const mirror = (p: readonly (readonly [number, number])[]): [number, number][] => p.map(([c, r]) => [W - 1 - c, r]);
    expectWithin(ratioOf(makeRun(plain, { frames }), { ...ask, regions: { aorta: mirror(regions.aorta), outflow: mirror(regions.outflow), background: null } }), plainAnswer.ratio.value!, { relative: 0.02, absolute: 0.006, from: 'arrival may be seen a frame earlier or later: the fit of the shift starts at the other side' });
  });
  test('greys the other way round and said so: the same; not said: refused', () => {
    const frames = plain.pixels.map((frame) => frame.map((v) => 4095 - v));
    expectWithin(ratioOf(makeRun(plain, { frames, isInverted: true })), plainAnswer.ratio.value!, ROUNDING);
    const wrong = measured(makeRun(plain, { frames }), ask);
    expect(wrong.ratio.value).toBeNull();
    expect(codesOf(wrong)).toContain('contrast-brightens');
  });
  test('another exposure: the same', () => {
    const frames = plain.pixels.map((frame) => frame.map((v) => Math.round(v * 0.7)));
    expectWithin(ratioOf(makeRun(plain, { frames })), plainAnswer.ratio.value!, same);
  });
  test('greys stored as logarithm: the same', () => {
    const top = Math.log(4096);
    const frames = plain.pixels.map((frame) => frame.map((v) => Math.round((4095 * Math.log(Math.max(1, v))) / top)));
    expectWithin(ratioOf(makeRun(plain, { frames, intensity: 'LOG' })), plainAnswer.ratio.value!, { relative: 0.02, absolute: 0.004, from: 'steps of a logarithm of 12 bit are 0.002' });
  });
  test('the whole picture shifted with its regions: the same', () => {
    const W = plain.shape.columns;
    const frames = plain.pixels.map((frame) => Uint16Array.from(frame, (_, i) => frame[Math.max(0, Math.floor(i / W) - 2) * W + Math.max(0, (i % W) - 3)]!));
    const move = (p: readonly (readonly [number, number])[]): [number, number][] => p.map(([c, r]) => [c + 3, r + 2]);
    expectWithin(ratioOf(makeRun(plain, { frames }), { ...ask, regions: { aorta: move(regions.aorta), outflow: move(regions.outflow), background: null } }), plainAnswer.ratio.value!, same);
  });
  test('half of the frames: within the interval, and the slow rate is told', () => {
    const every = plain.pixels.filter((_, k) => k % 2 === 0);
    const a = measured(makeRun(plain, { frames: every, frameTimesMs: plain.frameTimesMs.filter((_, k) => k % 2 === 0) }), { ...ask, ratePerMin: 72 });
    expect(codesOf(a)).toContain('frame-rate-low');
    expect(a.ratio.low!).toBeLessThan(trueRatio(plain, a));
    expect(a.ratio.high!).toBeGreaterThan(trueRatio(plain, a));
  });
  test('frames entered by hand as the answer found them give the same ratio', () => {
    const { fromFrame, toFrame } = plainAnswer.window!;
    const a = measured(makeRun(plain), { ...ask, frames: [fromFrame, toFrame] });
    expect(a.window!.by).toBe('frames entered');
    expectWithin(a.ratio.value!, plainAnswer.ratio.value!, { relative: 0.02, absolute: 0.008, from: 'whole frames instead of whole cycles: half a frame of the tail' });
  });
  test('an entered rate that the picture has too: the same; one that it does not have is doubted', () => {
    expectWithin(ratioOf(makeRun(plain), { ...ask, ratePerMin: 72 }), plainAnswer.ratio.value!, same);
    expect(codesOf(measured(makeRun(plain), { ...ask, ratePerMin: 55 }))).toContain('rate-disagrees');
    const beats = measured(makeRun(plain), { ...ask, beatTimesMs: [100, 933, 1767, 2600] });
    expect(beats.cycle.by).toBe('beats entered');
  });
});

describe('measureContrast refuses or doubts, each by its name', () => {
  const weightOf = (a: ContrastAnswer, code: string): string | undefined => a.quality.find((q) => q.code === code)?.weight;
  const expectRefused = (a: ContrastAnswer, code: string): void => {
    expect(weightOf(a, code), codesOf(a).join()).toBe('refuse');
    expect(a.ratio.value).toBeNull();
    expect(a.ratio.reasons.map((r) => r.code)).toContain(code);
    expect(a.ratio.reasons.every((r) => r.text !== '' && r.next !== '')).toBe(true);
    expect(checkContrast(a)).toEqual([]);
  };
  test('what a person says (AN-05)', () => {
    for (const [said, code] of [[{ breathHeld: false }, 'breath-not-held'], [{ tableMoved: true }, 'table-moved-said'], [{ isPaced: true }, 'paced-said'], [{ isOverlapped: true }, 'overlap-said'], [{ isInView: false }, 'not-in-view']] as const) {
      expectRefused(measured(makeRun(plain), { ...ask, ...said }), code);
    }
    const unsaid = measured(makeRun(plain), { regions });
    expect(weightOf(unsaid, 'breath-unknown')).toBe('doubt');
    expect(unsaid.ratio.status).toBe('doubtful');
  });
  test('a table that moves', () => expectRefused(measured(makeRun(drawSmall({ tableMove: { atS: 2, by: [0.05, 0.03] } })), ask), 'table-moves'));
  test('a small shift is followed and told', () => {
    const drawn = drawSmall({ tableMove: { atS: 1.8, by: [0.012, 0.006] } });
    const a = measured(makeRun(drawn), ask);
    expect(codesOf(a)).toContain('picture-shifts');
    expectWithin(a.motion.largest.value!, 100 * Math.hypot(0.012, 0.006), { relative: 0.2, absolute: 0, from: 'a fifth of a pixel' });
    expect(a.ratio.low!).toBeLessThan(trueRatio(drawn, a));
    expect(a.ratio.high!).toBeGreaterThan(trueRatio(drawn, a));
  });
  test('fast pacing', () => expectRefused(measured(makeRun(drawSmall({ ratePerMin: 180 })), ask), 'rate-fast'));
  test('a descending aorta over the outflow tract, unless a person says there is none', () => {
    const run = makeRun(drawSmall({ hasDescendingAorta: true }));
    expectRefused(measured(run, { ...ask, isOverlapped: undefined }), 'overlap-suspected');
    expect(weightOf(measured(run, ask), 'overlap-suspected')).toBe('doubt');
  });
  test('a probe in the region', () => {
    const drawn = drawSmall({ hasProbe: true, valve: [0.46, 0.5] });
    const [c] = drawn.truth.regions.outflow[0]!;
    const a = measured(makeRun(drawn), { ...ask, regions: { ...regions, outflow: regions.outflow.map(([x, y]) => [x, y] as const) } });
    expect(weightOf(a, 'dense-thing-in-region'), `${c} ${codesOf(a).join()}`).toBe('doubt');
  });
  test('automatic exposure', () => {
    expect(weightOf(measured(makeRun(drawSmall({ gainJump: { atS: 2, ratio: 1.2 } })), ask), 'brightness-jumps')).toBe('doubt');
    expectRefused(measured(makeRun(drawSmall({ gainJump: { atS: 2, ratio: 1.6 }, white: 2500 })), ask), 'brightness-jumps');
  });
  test('greys cut off at black', () => expectRefused(measured(makeRun(drawSmall({ black: 860 })), ask), 'picture-clipped'));
  test('a root that is not dense', () => {
    // A root that was drawn where no contrast comes.
    expectRefused(measured(makeRun(plain), { ...ask, regions: { ...regions, aorta: [[4, 4], [20, 4], [20, 24], [4, 24]] } }), 'root-not-dense');
  });
  test('no contrast, and contrast from the first frame on', () => {
    expectRefused(measured(makeRun(drawSmall({ injectedMl: 0.01 })), ask), 'no-contrast-seen');
    const late = drawSmall({ frames: 75 });
    const cut = measured(makeRun(late, { frames: late.pixels.slice(26), frameTimesMs: late.frameTimesMs.slice(26) }), ask);
    expect(cut.ratio.value).toBeNull();
    expect(codesOf(cut).some((c) => c === 'no-frames-before-contrast' || c === 'contrast-brightens' || c === 'no-contrast-seen'), codesOf(cut).join()).toBe(true);
  });
  test('frames before contrast of less than a cycle, fewer cycles than published, less than one', () => {
    const short = drawSmall({ injectAtS: 0.5 });
    expect(weightOf(measured(makeRun(short), ask), 'baseline-short')).toBe('doubt');
    const cut = (frames: number): ContrastAnswer => measured(makeRun(plain, { frames: plain.pixels.slice(0, frames), frameTimesMs: plain.frameTimesMs.slice(0, frames) }), { ...ask, ratePerMin: 72 });
    expect(weightOf(cut(50), 'cycles-few')).toBe('doubt');
    expectRefused(cut(33), 'cycles-too-few');
  });
  test('frame times: unknown, given by hand, too slow', () => {
    expectRefused(measured(makeRun(plain, { frameTimesMs: null }), ask), 'frame-times-unknown');
    const byHand = measured(makeRun(plain, { frameTimesMs: null }), { ...ask, framesPerS: 15 });
    expectWithin(byHand.ratio.value!, plainAnswer.ratio.value!, ROUNDING);
    expect(byHand.framesPerS.source.kind).toBe('entered');
    expectRefused(measured(makeRun(plain, { frameTimesMs: plain.frameTimesMs.map((t) => t * 4) }), { ...ask, ratePerMin: 30 }), 'frame-rate-low');
  });
  test('runs that were subtracted, processed or packed with loss', () => {
    const history = (change: object): ContrastRun => makeRun(plain, { history: { isDerived: false, isSubtracted: false, isLossy: false, ...change } });
    expectRefused(measured(history({ isSubtracted: true }), ask), 'run-subtracted');
    expect(weightOf(measured(history({ isDerived: true }), ask), 'run-derived')).toBe('doubt');
    expect(weightOf(measured(history({ isLossy: true }), ask), 'run-lossy')).toBe('doubt');
    expect(weightOf(measured(makeRun(plain, { intensity: null }), ask), 'intensity-unknown')).toBe('doubt');
    // Nothing in the header, but an even grey with vessels: subtracted all the same.
    const mask = plain.pixels[5]!;
    const frames = plain.pixels.map((f) => f.map((v, i) => Math.min(4095, Math.max(0, Math.round(2000 + 900 * (Math.log(v) - Math.log(mask[i]!)))))));
    expectRefused(measured(makeRun(plain, { frames }), ask), 'run-subtracted');
  });
  test('nothing that could be a root: no region is proposed', () => {
    const flat = drawSmall({ contrastPerMm: 0, gainJump: null });
    const a = measured(makeRun(flat), ALL_SAID);
    expect(a.ratio.value).toBeNull();
    expect(a.regions).toBeNull();
  });
  test('what cannot be read at all is a failure with a code', () => {
    const codeOf = (run: ContrastRun, question: ContrastAsk): string | null => {
      const r = measureContrast(run, question, { by: 'test', at: '2026-03-02T08:00:00Z' });
      return r.ok ? null : r.failure.code;
    };
    const run = makeRun(plain);
    expect(codeOf({ ...run, frames: run.frames.slice(0, 4), frameTimesMs: null }, ask)).toBe('contrast-frames-too-few');
    expect(codeOf({ ...run, rows: 90 }, ask)).toBe('contrast-frames-invalid');
    expect(codeOf({ ...run, columns: 20 }, ask)).toBe('contrast-size-invalid');
    expect(codeOf({ ...run, frameTimesMs: run.frameTimesMs!.map((t, i) => (i === 9 ? 0 : t)) }, ask)).toBe('contrast-times-invalid');
    expect(codeOf({ ...run, frameTimesMs: run.frameTimesMs!.map((t, i) => (i === 9 ? NaN : t)) }, ask)).toBe('contrast-times-invalid');
    const withOutflow = (outflow: readonly (readonly [number, number])[]): ContrastAsk => ({ ...ask, regions: { ...regions, outflow } });
    expect(codeOf(run, withOutflow([[1, 1], [2, 2]]))).toBe('contrast-region-invalid');
    expect(codeOf(run, withOutflow([[1, 1], [NaN, 2], [3, 9]]))).toBe('contrast-region-invalid');
    expect(codeOf(run, withOutflow([[50, 80], [70, 80], [60, 140]]))).toBe('contrast-region-outside');
    expect(codeOf(run, withOutflow([[50, 80], [53, 80], [50, 83]]))).toBe('contrast-region-small');
    expect(codeOf(run, withOutflow(regions.aorta))).toBe('contrast-regions-overlap');
    expect(codeOf(run, { ...ask, frames: [10, 11] })).toBe('contrast-range-invalid');
    expect(codeOf(run, { ...ask, frames: [10, 900] })).toBe('contrast-range-invalid');
    for (const bad of [{ ratePerMin: 0 }, { ratePerMin: NaN }, { cycles: 0 }, { framesPerS: Infinity }, { beatTimesMs: [5, 4] }]) expect(codeOf(run, { ...ask, ...bad })).toBe('contrast-rate-invalid');
    expect(codeOf(run, { ...ask, marks: { inflow: [[1, 1], [1, 1]], axis: [[0, 0], [9, 9]] } })).toBe('contrast-marks-invalid');
  });
});

test('every number of an answer is a whole fact with unit, method and stamp', () => {
  const facts: readonly Fact[] = [plainAnswer.ratio, plainAnswer.aorta.area, plainAnswer.outflow.peak, plainAnswer.cycle.ratePerMin, plainAnswer.motion.largest, plainAnswer.framesPerS, plainAnswer.window!.cycles];
  for (const f of facts) {
    expect(f.source.by).toBe('test');
    expect(f.source.method.startsWith('contrast/1/')).toBe(true);
  }
  expect(JSON.parse(JSON.stringify(plainAnswer))).toEqual(plainAnswer);
});
