import { describe, expect, test } from 'vitest';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { drawClosedSpline } from './closed-spline.ts';

const circle = (n: number, radius: number, turn: (i: number) => number = (i) => (2 * Math.PI * i) / n): [number, number][] =>
  Array.from({ length: n }, (_, i) => [radius * Math.cos(turn(i)) + 5, radius * Math.sin(turn(i)) - 3]);
const worst = (curve: readonly (readonly [number, number])[], radius: number): number =>
  Math.max(...curve.map(([x, y]) => Math.abs(Math.hypot(x - 5, y + 3) - radius)));

describe('drawClosedSpline', () => {
  test('goes through its points, in steps no longer than asked', () => {
    const points = circle(9, 12, (i) => (2 * Math.PI * (i + 0.3 * Math.sin(i))) / 9);
    const curve = drawClosedSpline(points, 0.25);
    for (const p of points) expect(Math.min(...curve.map((q) => Math.hypot(q[0] - p[0], q[1] - p[1])))).toBeLessThan(1e-9);
    curve.forEach((p, i) => {
      const q = curve[(i + 1) % curve.length]!;
      expect(Math.hypot(q[0] - p[0], q[1] - p[1])).toBeLessThan(0.25 * 1.15); // an arc is longer than its chord
    });
  });
  test('draws a circle from 8 points within 0.12 % of its radius, and 16 times better from 16', () => {
    const [eight, sixteen] = [worst(drawClosedSpline(circle(8, 12), 0.1), 12), worst(drawClosedSpline(circle(16, 12), 0.1), 12)];
    expectWithin(eight / 12, 0.00113, { relative: 0.05, absolute: 0, from: 'middle of an arc of 45 degrees, by hand: 0.99887' });
    expectWithin(eight / sixteen, 16, { relative: 0.15, absolute: 0, from: 'fourth order' });
  });
  test('does not depend on where it starts, nor on the way round', () => {
    const points = circle(11, 10, (i) => (2 * Math.PI * (i + 0.25 * Math.cos(3 * i))) / 11);
    const other = [...points.slice(4), ...points.slice(0, 4)].reverse();
    const [a, b] = [drawClosedSpline(points, 0.2), drawClosedSpline(other, 0.2)];
    for (const p of a) expect(Math.min(...b.map((q) => Math.hypot(q[0] - p[0], q[1] - p[1])))).toBeLessThan(0.03); // steps fall elsewhere
    const area = (c: readonly (readonly [number, number])[]): number => Math.abs(c.reduce((s, p, i) => s + p[0] * c[(i + 1) % c.length]![1] - p[1] * c[(i + 1) % c.length]![0], 0)) / 2;
    expectWithin(area(a), area(b), { relative: 1e-5, absolute: 0, from: 'steps fall elsewhere' });
  });
});
