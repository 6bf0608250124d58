import { describe, expect, test } from 'vitest';
import { normalAt } from '../math/random.ts';
import type { Result } from '../result.ts';
import type { Fact } from '../units/fact.ts';
import { computeContinuityArea, computeDiscArea } from './echo-formulas.ts';
import { around, propagate } from './propagate-error.ts';
import { traceClock } from './trace-clock.ts';
import { traceEnvelope } from './trace-envelope.ts';
import { traceDistance, traceHalfTime } from './trace-line.ts';
import { USUAL_CLICK, type TracePoint, type TraceRegion } from './trace-region.ts';

const STAMP = { by: 'test', at: '2026-03-02T10:14:00.000Z' };
/** 4 ms and 3 cm/s a pixel; velocity grows downward. */
const SPECTRUM: TraceRegion = { space: 'spectral', data: 'continuous', box: { left: 0, top: 300, right: 799, bottom: 599 }, unitX: 's', unitY: 'cm/s', deltaX: 0.004, deltaY: -3, baselineRow: 340, angleDeg: null, fault: null };
const PLANE: TraceRegion = { space: '2d', data: 'tissue', box: { left: 0, top: 0, right: 799, bottom: 299 }, unitX: 'cm', unitY: 'cm', deltaX: 0.03, deltaY: 0.03, baselineRow: null, angleDeg: null, fault: null };
const REGIONS = [PLANE, SPECTRUM];
const value = <T>(result: Result<T, string>): T => {
  if (!result.ok) throw new Error(result.failure.code);
  return result.value;
};
const codeOf = (result: Result<unknown, string>): string => (result.ok ? 'ok' : result.failure.code);
const SD = 1.96;

interface Shape {
  readonly peak: number;
  readonly vti: number;
  readonly mean: number;
  readonly at: (share: number) => number;
}
/** Half a sine, and a peak early in ejection; both 320 ms long. */
const DURATION_S = 0.32;
const integrate = (peak: number, at: (share: number) => number): Shape => {
  const steps = 20_000;
  let [sum, squares] = [0, 0];
  for (let i = 0; i < steps; i++) {
    const v = at((i + 0.5) / steps);
    sum += v;
    squares += 4 * v * v;
  }
  return { peak, vti: (100 * DURATION_S * sum) / steps, mean: squares / steps, at };
};
const SHAPES: readonly Shape[] = [integrate(3.8, (s) => 3.8 * Math.sin(Math.PI * s)), integrate(2.4, (s) => 2.4 * Math.sin(Math.PI * Math.sqrt(s)))];

/** Marks of a reader: each click off by itself, all of them by one edge, and the baseline by its rounding. */
function markEnvelope(shape: Shape, seed: number, marks: number, isExact = false): readonly TracePoint[] {
  const edge = isExact ? 0 : (normalAt(seed, 0, 0) * Math.hypot(USUAL_CLICK.edgePx, 0.5)) / SD;
  return Array.from({ length: marks }, (_, i): TracePoint => {
    const share = i / (marks - 1);
    const off = (variable: number): number => (isExact ? 0 : (normalAt(seed, i, variable) * USUAL_CLICK.clickPx) / SD);
    const lift = share === 0 || share === 1 ? 0 : edge;
    return [100 + (share * DURATION_S) / SPECTRUM.deltaX + off(1), SPECTRUM.baselineRow! + (100 * shape.at(share)) / 3 + lift + off(2)];
  });
}

describe('traceEnvelope', () => {
  test.each(SHAPES)('exact marks of a known envelope (peak $peak m/s) give its numbers', (shape) => {
    const { peakVelocity, vti, meanGradient, durationMs, peakGradient } = value(traceEnvelope(markEnvelope(shape, 1, 41, true), REGIONS, STAMP));
    expect(peakVelocity.value! / shape.peak).toBeCloseTo(1, 2);
    expect(vti.value! / shape.vti).toBeCloseTo(1, 2); // straight pieces lie 0.1 % below the arch
    expect(meanGradient.value! / shape.mean).toBeCloseTo(1, 2);
    expect(durationMs.value).toBeCloseTo(320, 6);
    expect(peakGradient.value).toBeCloseTo(4 * peakVelocity.value! ** 2, 9);
  });
  test('EC-03: the mean gradient is not that of the mean velocity', () => {
    const half = integrate(4, (s) => 4 * Math.sin(Math.PI * s));
    const { meanGradient, vti } = value(traceEnvelope(markEnvelope(half, 1, 81, true), REGIONS, STAMP));
    expect(meanGradient.value).toBeCloseTo(32, 1);
    expect(4 * (vti.value! / 100 / DURATION_S) ** 2).toBeCloseTo(25.94, 1);
  });
  test('bands cover the truth in 95 % of seeds', () => {
    const seeds = 400;
    for (const shape of SHAPES) {
      for (const marks of [11, 21]) {
        const hits = { peak: 0, vti: 0, mean: 0 };
        for (let seed = 1; seed <= seeds; seed++) {
          const trace = value(traceEnvelope(sortInTime(markEnvelope(shape, seed, marks)), REGIONS, STAMP));
          for (const [key, fact, truth] of [['peak', trace.peakVelocity, shape.peak], ['vti', trace.vti, shape.vti], ['mean', trace.meanGradient, shape.mean]] as const) if (holds(fact, truth)) hits[key]++;
        }
        // 0.95 less two SD of a binomial (0.011 each).
        for (const key of ['peak', 'vti', 'mean'] as const) expect([key, marks, hits[key] / seeds >= 0.928]).toEqual([key, marks, true]);
        if (process.env['SHOW_COVERAGE']) console.log(shape.peak, marks, hits);
      }
    }
  }, 30_000);
  test('marks from right to left and on the other side of the baseline give the same numbers', () => {
    const marks = markEnvelope(SHAPES[1]!, 3, 15);
    const there = value(traceEnvelope(sortInTime(marks), REGIONS, STAMP));
    const back = value(traceEnvelope([...sortInTime(marks)].reverse(), REGIONS, STAMP));
    expect(back.vti.value).toBeCloseTo(there.vti.value!, 9);
    const up = { ...SPECTRUM, box: { ...SPECTRUM.box, top: 0 }, baselineRow: 340 };
    const mirrored = value(traceEnvelope(sortInTime(marks).map(([c, r]): TracePoint => [c, 680 - r]), [up], STAMP));
    expect(mirrored.meanGradient.value).toBeCloseTo(there.meanGradient.value!, 9);
  });
  test('doubts: few marks, an open end', () => {
    const few = value(traceEnvelope(markEnvelope(SHAPES[0]!, 1, 6, true), REGIONS, STAMP));
    expect(few.vti.reasons.map((r) => r.code)).toEqual(['trace-few-marks']);
    const open = value(traceEnvelope(markEnvelope(SHAPES[0]!, 1, 21, true).slice(0, 12), REGIONS, STAMP));
    expect(open.vti.reasons.map((r) => r.code)).toEqual(['trace-open-ended']);
  });
  test('other units, no baseline and no region are refused', () => {
    const marks = markEnvelope(SHAPES[0]!, 1, 15, true);
    expect(codeOf(traceEnvelope(marks, [{ ...SPECTRUM, unitY: 'cm' }], STAMP))).toBe('region-units');
    expect(codeOf(traceEnvelope(marks, [{ ...SPECTRUM, baselineRow: null }], STAMP))).toBe('region-baseline-missing');
    expect(codeOf(traceEnvelope(marks, [], STAMP))).toBe('trace-outside-region');
    expect(codeOf(traceEnvelope([...marks.slice(0, 5), [NaN, 400]], REGIONS, STAMP))).toBe('trace-outside-region');
    expect(codeOf(traceEnvelope([], REGIONS, STAMP))).toBe('trace-outside-region');
    expect(codeOf(traceEnvelope(marks, [{ ...SPECTRUM, fault: 'region-uncalibrated' }], STAMP))).toBe('region-uncalibrated');
  });
});
const sortInTime = (marks: readonly TracePoint[]): readonly TracePoint[] => [...marks].sort((a, b) => a[0] - b[0]);
const holds = (fact: Fact, truth: number): boolean => fact.low! <= truth && truth <= fact.high!;

describe('traceHalfTime and traceDistance', () => {
  /** 4 m/s falling evenly to 4 / sqrt 2 in the half-time. */
  const at = (ms: number, halfMs: number): number => 4 - (4 * (1 - Math.SQRT1_2) * ms) / halfMs;
  const mark = (ms: number, halfMs: number, seed = 0): TracePoint => {
    const off = (variable: number): number => (seed === 0 ? 0 : (normalAt(seed, ms, variable) * USUAL_CLICK.clickPx) / SD);
    return [100 + ms / 4 + off(1), 340 + (100 * at(ms, halfMs)) / 3 + off(2)];
  };
  test('known answers', () => {
    const { halfTimeMs, beginVelocity } = value(traceHalfTime([mark(0, 430), mark(400, 430)], REGIONS, STAMP));
    expect(halfTimeMs.value).toBeCloseTo(430, 6);
    expect(beginVelocity.value).toBeCloseTo(4, 9);
    expect(value(traceDistance([[10, 10], [40, 50]], REGIONS, STAMP)).value).toBeCloseTo(1.5, 9);
  });
  test('bands cover the truth in 95 % of seeds', () => {
    let [time, length] = [0, 0];
    const seeds = 400;
    for (let seed = 1; seed <= seeds; seed++) {
      if (holds(value(traceHalfTime([mark(0, 430, seed), mark(350, 430, seed)], REGIONS, STAMP)).halfTimeMs, 430)) time++;
      const off = (i: number): number => (normalAt(seed, 9, i) * USUAL_CLICK.clickPx) / SD;
      if (holds(value(traceDistance([[100 + off(1), 100 + off(2)], [130 + off(3), 140 + off(4)]], REGIONS, STAMP)), 1.5)) length++;
    }
    expect([time / seeds >= 0.93, length / seeds >= 0.93]).toEqual([true, true]);
    if (process.env['SHOW_COVERAGE']) console.log('half-time', time, 'distance', length);
  });
  test('a slope that may as well rise is refused, and a distance in a spectrum', () => {
    expect(codeOf(traceHalfTime([[100, 450], [200, 449]], REGIONS, STAMP))).toBe('slope-not-falling');
    expect(codeOf(traceHalfTime([[100, 440], [200, 460]], REGIONS, STAMP))).toBe('slope-not-falling');
    expect(codeOf(traceDistance([[100, 450], [200, 449]], REGIONS, STAMP))).toBe('region-kind');
  });
});

describe('traceClock', () => {
  const on = (hour: number, radiusPx = 60): TracePoint => [400 + radiusPx * Math.sin((hour * Math.PI) / 6), 150 - radiusPx * Math.cos((hour * Math.PI) / 6)];
  const RING = [0, 2, 4, 6, 8, 10].map((h) => on(h));
  test('hours and extent of jets on a ring', () => {
    const { hours, extentPercent, centre, radiusCm } = value(traceClock(RING, [[on(4, 50), on(6, 70)], [on(11), on(1)]], REGIONS, STAMP));
    expect(hours.flat().map((h) => Math.round(h * 1e6) / 1e6)).toEqual([4, 6, 11, 1]);
    expect(extentPercent.value).toBeCloseTo(100 / 3, 9);
    expect(centre[0]).toBeCloseTo(400, 6);
    expect(radiusCm).toBeCloseTo(1.8, 6);
  });
  test('bands cover the truth in 95 % of seeds', () => {
    let hits = 0;
    const seeds = 400;
    for (let seed = 1; seed <= seeds; seed++) {
      const px = Math.hypot(USUAL_CLICK.clickPx, USUAL_CLICK.edgePx) / SD;
      const shake = ([c, r]: TracePoint, i: number): TracePoint => [c + px * normalAt(seed, i, 1), r + px * normalAt(seed, i, 2)];
      const trace = value(traceClock(RING.map(shake), [[shake(on(4), 20), shake(on(6), 21)]], REGIONS, STAMP));
      if (holds(trace.extentPercent, 100 / 6)) hits++;
    }
    expect(hits / seeds).toBeGreaterThanOrEqual(0.93);
    if (process.env['SHOW_COVERAGE']) console.log('extent', hits);
  });
  test('too few marks, marks on a line and marks on one side are refused', () => {
    expect(codeOf(traceClock(RING.slice(0, 3), [], REGIONS, STAMP))).toBe('ring-too-few-marks');
    expect(codeOf(traceClock([[100, 100], [120, 100], [140, 100], [160, 100]], [], REGIONS, STAMP))).toBe('ring-not-round');
    expect(codeOf(traceClock([on(0), on(1), on(2), on(3)], [], REGIONS, STAMP))).toBe('ring-not-round');
  });
});

describe('propagate', () => {
  test('area by continuity: bands cover the truth in 95 % of seeds, and the diameter counts twice', () => {
    const truth = computeContinuityArea(computeDiscArea(2), 20, 90);
    const halves = [0.1, 1.6, 5.4] as const;
    let hits = 0;
    const seeds = 2000;
    for (let seed = 1; seed <= seeds; seed++) {
      const [d, o, v] = [2, 20, 90].map((x, i) => x + (normalAt(seed, 0, i) * halves[i]!) / SD) as [number, number, number];
      const band = propagate([around(d, halves[0]), around(o, halves[1]), around(v, halves[2])], (a, b, c) => computeContinuityArea(computeDiscArea(a!), b!, c!));
      if (band.low <= truth && truth <= band.high) hits++;
    }
    expect(Math.abs(hits / seeds - 0.95)).toBeLessThan(0.015); // three SD of a binomial
    if (process.env['SHOW_COVERAGE']) console.log('area', hits / seeds);
    const one = propagate([around(2, 0.1)], (d) => computeDiscArea(d!));
    expect(one.high / one.value).toBeCloseTo(1.1025, 9); // EC-04
  });
});
