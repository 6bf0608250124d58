import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { fillIsoband, traceIsolines, type PlanePoint, type ScalarGrid } from './trace-isolines.ts';

function makeGrid(count: number, half: number, f: (x: number, y: number) => number | null): ScalarGrid {
  const xs = Array.from({ length: count }, (_, i) => -half + (2 * half * i) / (count - 1));
  return { xs, ys: xs, values: xs.map((y) => xs.map((x) => f(x, y))) };
}
function polygonArea(points: readonly PlanePoint[]): number {
  let sum = 0;
  points.forEach((p, i) => {
    const q = points[(i + 1) % points.length]!;
    sum += p[0] * q[1] - p[1] * q[0];
  });
  return Math.abs(sum) / 2;
}

describe(`traceIsolines (seed ${seed})`, () => {
  test('follows a circle within the chord error of the grid', () => {
    const lines = traceIsolines(makeGrid(61, 15, (x, y) => Math.hypot(x, y)), 10);
    expect(lines.length).toBe(1);
    expect(lines[0]!.isClosed).toBe(true);
    for (const [x, y] of lines[0]!.points) {
      // A cone along an edge of 0.5 mm bends by at most step^2 / (8 r).
      expectWithin(Math.hypot(x, y), 10, { relative: 0, absolute: 0.5 ** 2 / 8 / 9, from: 'linear interpolation, step 0.5' });
    }
  });
  test('finds straight lines exactly, each open and whole', () => {
    const lines = traceIsolines(makeGrid(9, 4, (x, y) => x + 0.25 * y), 0.6);
    expect(lines.length).toBe(1);
    expect(lines[0]!.isClosed).toBe(false);
    for (const [x, y] of lines[0]!.points) expect(x + 0.25 * y).toBeCloseTo(0.6, 12);
  });
  test('draws nothing through cells with an unknown corner', () => {
    const whole = traceIsolines(makeGrid(9, 4, (x) => x), 0.5);
    const holed = traceIsolines(makeGrid(9, 4, (x, y) => (x === 0 && y === 0 ? null : x)), 0.5);
    expect(whole.length).toBe(1);
    expect(holed.length).toBe(2);
    expect(traceIsolines({ xs: [], ys: [], values: [] }, 1)).toEqual([]);
  });
  test('parts a saddle in two lines that do not cross', () => {
    const lines = traceIsolines({ xs: [0, 1], ys: [0, 1], values: [[1, 0], [0, 1]] }, 0.6);
    expect(lines.length).toBe(2);
    for (const line of lines) expect(line.points.length).toBe(2);
  });
});

describe(`fillIsoband (seed ${seed})`, () => {
  test('covers the part at or above the level and, with its complement, the whole grid', () => {
    fc.assert(fc.property(
      fc.array(fc.array(fc.double({ min: -3, max: 3, noNaN: true }), { minLength: 5, maxLength: 5 }), { minLength: 5, maxLength: 5 }),
      fc.double({ min: -2, max: 2, noNaN: true }), (values, level) => {
        const xs = [0, 1, 2, 3, 4];
        const mirrored = values.map((row) => row.map((v) => -v));
        const above = fillIsoband({ xs, ys: xs, values }, level).reduce((s, p) => s + polygonArea(p), 0);
        const below = fillIsoband({ xs, ys: xs, values: mirrored }, -level).reduce((s, p) => s + polygonArea(p), 0);
        // In a saddle cell both halves keep their middle: the sum may exceed 16 but never fall short.
        expect(above + below).toBeGreaterThan(16 - 1e-9);
      }), replay);
  });
  test('gives the exact area under a straight level', () => {
    const area = fillIsoband(makeGrid(9, 4, (x) => x), 1.5).reduce((s, p) => s + polygonArea(p), 0);
    expectWithin(area, 2.5 * 8, { relative: 1e-12, absolute: 0, from: 'rounding' });
  });
});
