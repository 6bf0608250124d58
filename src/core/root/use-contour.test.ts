import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { makeWallTable, PLAIN_FRAME, SURVEY_STAMP } from '../../../test/support/survey-fixtures.ts';
import { expectAllWithin, expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { drawPhantom } from '../phantom/draw-phantom.ts';
import { makeSeededShape } from '../phantom/draw-seeded-shape.ts';
import { cutToRoot } from '../phantom/phantom-variants.ts';
import { BASAL, cutRing, measureCut } from './map-wall.ts';
import type { Vec3 } from '../math/vec3.ts';
import type { Landmarks } from './root-types.ts';
import { surveyRoot } from './survey-root.ts';
import { checkContourPlace, CONTOUR_METHOD, isContourByHand, readContour, useContour, type PlaneContour, type UsedContour } from './use-contour.ts';

const WALL = makeWallTable({ heights: 81, azimuths: 96, lowMm: -16, stepMm: 0.5 }, () => 12);
/** n points on an ellipse about (x, y), each `heightMm` over the plane. */
function drawEllipse(n: number, a = 12, b = 12, options: { x?: number; y?: number; heightMm?: (i: number) => number; turn?: number } = {}): Vec3[] {
  return Array.from({ length: n }, (_, i) => {
    const t = (2 * Math.PI * i) / n + (options.turn ?? 0);
    return [(options.x ?? 0) + a * Math.cos(t), (options.y ?? 0) + b * Math.sin(t), options.heightMm?.(i) ?? 0];
  });
}
function mustRead(points: readonly Vec3[]): PlaneContour {
  const r = readContour(points, PLAIN_FRAME);
  if (!r.ok) throw new Error(r.failure.code);
  return r.value;
}
function mustUse(points: readonly Vec3[]): UsedContour {
  const r = useContour(mustRead(points), WALL);
  if (!r.ok) throw new Error(r.failure.code);
  return r.value;
}
function refusal(points: readonly Vec3[]): string {
  const read = readContour(points, PLAIN_FRAME);
  if (!read.ok) return read.failure.code;
  const used = useContour(read.value, WALL);
  return used.ok ? 'used' : used.failure.code;
}

describe(`use-contour (seed ${seed})`, () => {
  test('gives the area, perimeter and widths of an ellipse drawn with 24 points', () => {
    const ring = measureCut(mustUse(drawEllipse(24, 13, 11)).wall, BASAL, 0);
    const close: Tolerance = { relative: 3e-4, absolute: 0, from: 'spline through 24 points 4e-5, 360 chords 1.3e-5, ten waves of the radius 1e-4' };
    expectWithin(ring.areaMm2, Math.PI * 13 * 11, close);
    const h = ((13 - 11) / (13 + 11)) ** 2;
    expectWithin(ring.perimeterMm, Math.PI * 24 * (1 + (3 * h) / (10 + Math.sqrt(4 - 3 * h))), close);
    expectWithin(ring.minDiameterMm, 22, close);
    expectWithin(ring.maxDiameterMm, 26, close);
  });
  test('reads 8 points as a curve, not as an octagon', () => {
    const { areaMm2 } = measureCut(mustUse(drawEllipse(8)).wall, BASAL, 0);
    expectWithin(areaMm2, Math.PI * 144, { relative: 0.0025, absolute: 0, from: 'spline through 8 points of a circle; the octagon would be 10 % low' });
  });
  test('measures the same whichever way round, wherever it starts, closed or not, and with points set twice', () => {
    const points = drawEllipse(20, 13, 11, { x: 0.8, y: -0.5 });
    const wanted = measureCut(mustUse(points).wall, BASAL, 0);
    for (const other of [[...points].reverse(), [...points.slice(7), ...points.slice(0, 7)], [...points, points[0]!], points.flatMap((p) => [p, p])]) {
      const ring = measureCut(mustUse(other).wall, BASAL, 0);
      for (const key of ['areaMm2', 'perimeterMm', 'minDiameterMm', 'maxDiameterMm'] as const) {
        expectWithin(ring[key], wanted[key], { relative: 1e-4, absolute: 0, from: 'steps of the curve fall elsewhere' });
      }
    }
  });
  test('lies about its own centre, wherever it was drawn about the axis', () => {
    fc.assert(fc.property(fc.double({ min: -2, max: 2, noNaN: true }), fc.double({ min: -2, max: 2, noNaN: true }), (x, y) => {
      expectAllWithin(mustRead(drawEllipse(16, 12.5, 11.5, { x, y })).centreLps, [x, y, 0], { relative: 0, absolute: 1e-3, from: 'spline through 16 points' });
    }), { ...replay, numRuns: 20 });
  });
  test('is the wall at the plane, half of it 1.5 mm away, and nothing of it from 3 mm on', () => {
    const { wall, shareAt } = mustUse(drawEllipse(24, 13, 13));
    const radiusAt = (mm: number): number => cutRing(wall, BASAL, mm)[0]!;
    expectAllWithin([0, 1.5, -1.5, 3, -3, 8].map(radiusAt), [13, 12.5, 12.5, 12, 12, 12], { relative: 0, absolute: 1e-3, from: 'spline through 24 points' });
    expect([0, -1.5, 3, 5].map(shareAt)).toEqual([1, 0.5, 0, 0]);
  });
  test('widens intervals for a contour off the plane, and between hand and picture, and narrows them with more points', () => {
    const automatic = { areaMm2: 3, perimeterMm: 0.3, minDiameterMm: 0.2, maxDiameterMm: 0.2 };
    const ring = { areaMm2: 452, perimeterMm: 75.4, minDiameterMm: 24, maxDiameterMm: 24 };
    const areaSd = (points: readonly Vec3[], mm = 0): number => mustUse(points).spreadAt(mm, ring, automatic).areaMm2;
    const flat = areaSd(drawEllipse(24));
    expectWithin(flat, 75.4 * Math.hypot(0.2, 0.45 / Math.sqrt(12)), { relative: 1e-3, absolute: 0, from: 'formula of the method page' });
    expect(areaSd(drawEllipse(8))).toBeGreaterThan(1.05 * flat); // sqrt(0.04 + 0.2025 / 8) over sqrt(0.04 + 0.2025 / 12): 1.07
    expect(areaSd(drawEllipse(24, 12, 12, { heightMm: (i) => (i % 2 === 0 ? 1.4 : -1.4) }))).toBeGreaterThan(1.3 * flat);
    expect(areaSd(drawEllipse(24, 15, 15), 1)).toBeGreaterThan(flat); // 3 mm outside the wall, carried 1 mm up
    expect(areaSd(drawEllipse(24, 15, 15), 5)).toBe(automatic.areaMm2);
  });
  test('doubts a contour that is not flat or far from the edge of the blood, and neither at its limit', () => {
    const codes = (points: readonly Vec3[]): string[] => mustUse(points).doubts.map((d) => d.code);
    expect(codes(drawEllipse(24, 13.9, 13.9, { heightMm: () => 1.5 }))).toEqual([]);
    expect(codes(drawEllipse(24, 14.1, 14.1, { heightMm: () => 1.6 }))).toEqual(['contour-not-flat', 'contour-differs']);
  });
  test('refuses what cannot be this ring, each for its reason', () => {
    expect(refusal(drawEllipse(7))).toBe('contour-too-few-points');
    expect(refusal([...drawEllipse(7), drawEllipse(7)[0]!])).toBe('contour-too-few-points'); // closed, still 7
    expect(refusal(drawEllipse(12).map((p, i) => (i === 5 ? [p[0], Number.NaN, 0] : p)))).toBe('contour-not-finite');
    expect(refusal(drawEllipse(12, 12, 12, { heightMm: (i) => (i === 3 ? 3.1 : 0) }))).toBe('contour-off-plane');
    expect(refusal(drawEllipse(12, 12, 12, { heightMm: (i) => (i === 3 ? 2.9 : 0) }))).toBe('used');
    expect(refusal(drawEllipse(24, 17.1, 17.1))).toBe('contour-off-wall');
    expect(refusal(drawEllipse(24, 16.9, 16.9))).toBe('used');
    expect(refusal(drawEllipse(24, 6.9, 6.9))).toBe('contour-off-wall');
    const far = checkContourPlace(mustRead(drawEllipse(24, 12, 12, { x: 5.1 })), PLAIN_FRAME);
    expect([far?.failure.code, checkContourPlace(mustRead(drawEllipse(24, 12, 12, { x: 4.9 })), PLAIN_FRAME)]).toEqual(['contour-off-wall', null]);
    const swapped = drawEllipse(16);
    [swapped[3], swapped[7]] = [swapped[7]!, swapped[3]!];
    expect(refusal(swapped)).toBe('contour-crosses-itself');
    expect(refusal(drawEllipse(24).filter((_, i) => i < 17))).toBe('contour-has-gap');
    // A finger that leaves the ring, runs along it and comes back without crossing.
    const folded = drawEllipse(36).flatMap((p, i): Vec3[] => (i !== 0 ? [p] : [[12.6, 0, 0], [15, 3.4, 0], [14.4, 3.8, 0], [12, 0.6, 0]]));
    expect(refusal(folded)).toBe('contour-folds-back');
  });
});

describe('surveyRoot with a contour by hand (phantom seed 7)', () => {
  const { shape, scan } = makeSeededShape(7);
  const { volume, truth } = drawPhantom(shape, cutToRoot(shape, { ...scan, spacingMm: [0.6, 0.6, 0.6], sliceThicknessMm: 0.6 }, 84));
  const survey = (marks: Omit<Landmarks, 'format' | 'by'>) => surveyRoot(volume, { stamp: SURVEY_STAMP, doubts: [], marks: { format: 'trinadir.landmarks/1', by: 'reader', ...marks } });
  const must = (marks: Omit<Landmarks, 'format' | 'by'>) => {
    const r = survey(marks);
    if (!r.ok) throw new Error(r.failure.code);
    return r.value;
  };
  const { nadirsLps } = truth.basalPlane;
  const plain = must({ nadirsLps });
  /** The automatic ring, 1 mm wider all around; every fifth point of it. */
  const wider = plain.root.basalRing.contourLps.filter((_, i) => i % 5 === 0).map((p): Vec3 => {
    const d = p.map((v, axis) => v - plain.frame.originLps[axis]!) as unknown as Vec3;
    const r = Math.hypot(...d);
    return p.map((v, axis) => v + d[axis]! / r) as unknown as Vec3;
  });
  const edited = must({ nadirsLps, contourLps: wider });

  test('measures the ring that was drawn, and the level at the plane agrees', () => {
    const { basalRing: ring, levels } = edited.root;
    const atPlane = levels.find((l) => l.heightMm === 0)!;
    // Steiner: a ring moved out by d has the area A + P d + pi d2 and the perimeter P + 2 pi d.
    const before = plain.root.basalRing;
    expectWithin(ring.areaMm2.value!, before.areaMm2.value! + before.perimeterMm.value! + Math.PI, { relative: 0.004, absolute: 0, from: 'moved along the radius, not the normal; 24 points' });
    expectWithin(ring.perimeterMm.value!, before.perimeterMm.value! + 2 * Math.PI, { relative: 0.004, absolute: 0, from: 'the same' });
    for (const key of ['areaMm2', 'perimeterMm', 'minDiameterMm', 'maxDiameterMm'] as const) expect(atPlane[key]).toEqual(ring[key]);
    expect(atPlane.contourLps).toEqual(ring.contourLps);
    expectWithin(ring.ellipticity.value!, ring.maxDiameterMm.value! / ring.minDiameterMm.value!, { relative: 1e-12, absolute: 0, from: 'rounding' });
    expectWithin(ring.perimeterDiameterMm.value! * Math.PI, ring.perimeterMm.value!, { relative: 1e-12, absolute: 0, from: 'rounding' });
    for (const p of wider) expect(Math.min(...ring.contourLps.map((q) => Math.hypot(q[0] - p[0], q[1] - p[1], q[2] - p[2])))).toBeLessThan(0.5); // points of 120 lie 0.65 mm apart
  });
  test('says whose ring it is, without a doubt where there is none', () => {
    const { basalRing: ring } = edited.root;
    expect([ring.areaMm2.source.kind, ring.areaMm2.source.method, ring.ellipticity.source.method, ring.areaMm2.status]).toEqual(['edited', CONTOUR_METHOD, CONTOUR_METHOD, 'settled']);
    expect([isContourByHand(ring), isContourByHand(plain.root.basalRing)]).toEqual([true, false]);
    expect(edited.messages.map((m) => m.code)).toContain('contour-by-hand');
    expect(ring.areaMm2.high! - ring.areaMm2.low!).toBeGreaterThan(plain.root.basalRing.areaMm2.high! - plain.root.basalRing.areaMm2.low!);
  });
  test('carries the change to the rings beside it and leaves the others as found', () => {
    const areaAt = (of: typeof plain, mm: number): number => of.root.levels.find((l) => l.heightMm === mm)!.areaMm2.value!;
    const grown = (mm: number): number => areaAt(edited, mm) / areaAt(plain, mm) - 1;
    expect(grown(0)).toBeGreaterThan(grown(1));
    expect(grown(1)).toBeGreaterThan(0.02);
    // The axis moved to the middle of the contour, so the wall is sampled along other rays.
    for (const mm of [-8, -5, 6, 10]) expectWithin(grown(mm), 0, { relative: 0, absolute: 0.006, from: 'other rays through the same wall' });
    const [near, far] = [1, 4].map((mm) => edited.root.levels.find((l) => l.heightMm === mm)!.areaMm2);
    expect([near!.source.kind, near!.reasons.map((r) => r.code)]).toEqual(['edited', ['contour-carried']]);
    expect(far!.reasons).toEqual([]);
    const row = edited.root.map.heightMm.indexOf(0);
    const mean = (of: typeof plain): number => of.root.map.radiusMm[row]!.reduce((s: number, r) => s + r!, 0) / 72;
    expectWithin(mean(edited) - mean(plain), 1, { relative: 0, absolute: 0.05, from: 'mean of the radius about another middle' });
  });
  test('works on the automatic plane too, and refuses a contour of another place or frame', () => {
    const truthRing = truth.basalRing.contourLps.filter((_, i) => i % 8 === 0);
    const { root } = must({ contourLps: truthRing });
    expectWithin(root.basalRing.areaMm2.value!, truth.basalRing.areaMm2, { relative: 0.005, absolute: 0, from: 'projected onto a plane within 2 degrees: cos 2 = 0.9994; 15 points' });
    expect(root.basalRing.areaMm2.low! < truth.basalRing.areaMm2 && truth.basalRing.areaMm2 < root.basalRing.areaMm2.high!).toBe(true);
    const asRas = survey({ nadirsLps, contourLps: truthRing.map((p): Vec3 => [-p[0], -p[1], p[2]]) });
    expect(asRas.ok ? 'used' : asRas.failure.code).toMatch(/^contour-off-/);
  });
});
