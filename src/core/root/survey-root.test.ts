import { describe, expect, test } from 'vitest';
import { angleDeg, listFacts, makeCube, SURVEY_STAMP } from '../../../test/support/survey-fixtures.ts';
import { expectAllWithin, expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { distance, dot, sub, type Vec3 } from '../math/vec3.ts';
import { normalAt } from '../math/random.ts';
import { drawPhantom } from '../phantom/draw-phantom.ts';
import { makeSeededShape } from '../phantom/draw-seeded-shape.ts';
import { cutToRoot, makeTwoSinuses, removeContrast, truncateAbove } from '../phantom/phantom-variants.ts';
import type { PhantomScan, PhantomShape, PhantomTruth } from '../phantom/phantom-types.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { cylinderFromLps } from './root-frame.ts';
import { CUSPS, type Landmarks, type RootSurvey, type Xyz } from './root-types.ts';
import { surveyRoot, type SurveyAnswer } from './survey-root.ts';

/** A quick scan of a seeded root: 84 mm about it, pixels of 0.5 mm, slices of 0.6 mm; blur, noise and contrast as drawn. */
function makeCase(seed: number): { shape: PhantomShape; scan: PhantomScan } {
  const { shape, scan } = makeSeededShape(seed);
  return { shape, scan: cutToRoot(shape, { ...scan, spacingMm: [0.5, 0.5, 0.6], sliceThicknessMm: 0.6 }, 84) };
}
const survey = (volume: CtVolume, marks?: Landmarks) => surveyRoot(volume, { stamp: SURVEY_STAMP, doubts: [], marks });
const codeOf = (volume: CtVolume, marks?: Landmarks): string => {
  const answer = survey(volume, marks);
  return answer.ok ? 'measured' : answer.failure.code;
};

interface Drawn extends SurveyAnswer {
  readonly seed: number;
  readonly volume: CtVolume;
  readonly truth: PhantomTruth;
}
function measureCase(seed: number): Drawn {
  const { shape, scan } = makeCase(seed);
  const { volume, truth } = drawPhantom(shape, scan);
  const answer = survey(volume);
  if (!answer.ok) throw new Error(`seed ${seed}: ${answer.failure.code}`);
  return { seed, volume, truth, ...answer.value };
}
const cases = [4, 7].map(measureCase);
const [, base] = cases as [Drawn, Drawn];

/** The 95th percentile asked of the survey over seeded phantoms: twice the median asked. */
const asked = (absolute: number, relative = 0): Tolerance => ({ absolute, relative, from: '95th percentile asked of the survey' });

for (const { seed, root, truth } of cases) {
  describe(`surveyRoot (phantom seed ${seed})`, () => {
    test('measures ring, outflow tract and plane within the limits', () => {
      const [ring, wanted] = [root.basalRing, truth.basalRing];
      expectWithin(ring.areaMm2.value!, wanted.areaMm2, asked(0, 0.03));
      expectWithin(ring.perimeterMm.value!, wanted.perimeterMm, asked(0, 0.02));
      expectWithin(ring.minDiameterMm.value!, wanted.minDiameterMm, asked(0.8));
      expectWithin(ring.maxDiameterMm.value!, wanted.maxDiameterMm, asked(0.8));
      expectWithin(root.outflowTract.areaMm2.value!, truth.outflowTract.areaMm2, { relative: 0.05, absolute: 0, from: 'the ring, and a deposit of 40 mm3 in the wall that is bridged over 5 mm' });
      expectWithin(angleDeg(root.basalPlane.normalLps, truth.basalPlane.normalLps), 0, asked(2));
      expectWithin(root.angulationDeg.value!, truth.angulationDeg, asked(2));
    });
    test('finds the nadirs, each under its own name', () => {
      for (const cusp of CUSPS) {
        const p = root.basalPlane.nadirsLps[cusp];
        expectWithin(distance(p, truth.basalPlane.nadirsLps[cusp]), 0, asked(1.6));
        const nearest = [...CUSPS].sort((a, b) => distance(p, truth.basalPlane.nadirsLps[a]) - distance(p, truth.basalPlane.nadirsLps[b]))[0];
        expect(nearest).toBe(cusp);
      }
    });
    test('measures coronary heights, junction, sinuses and ascending aorta within the limits', () => {
      expectWithin(root.coronaries.left!.heightMm.value!, truth.coronaries.left!.centreHeightMm, asked(1));
      expectWithin(root.coronaries.right!.heightMm.value!, truth.coronaries.right!.centreHeightMm, asked(1));
      expectWithin(root.sinotubularJunction.heightMm.value!, truth.sinotubularJunction.heightMm, asked(1));
      expectWithin(root.sinotubularJunction.diameterMm.value!, truth.sinotubularJunction.ringDiameterMm, asked(1));
      expectWithin(root.ascendingAorta.diameterMm.value!, truth.ascendingAorta.diameterMm, { relative: 0, absolute: 1, from: 'as the junction; no limit is asked' });
      for (const cusp of CUSPS) {
        expectWithin(root.sinuses.heightMm[cusp].value!, truth.sinuses.heightMm[cusp], { relative: 0, absolute: 2, from: 'a plane 2 degrees off and a junction 1 mm off' });
        expectWithin(root.sinuses.widthMm[cusp].value!, truth.sinuses.widthMm[cusp], { relative: 0, absolute: 3, from: 'a deep sinus behind a leaflet is read up to 2 mm short, and the widest plane may lie elsewhere' });
      }
    });
    test('the intervals hold the truth for nine in ten of the rings', () => {
      let held = 0;
      let all = 0;
      for (const level of root.levels) {
        const wanted = truth.levels.find((l) => l.heightMm === level.heightMm);
        if (!wanted) continue;
        for (const key of ['areaMm2', 'perimeterMm', 'minDiameterMm', 'maxDiameterMm'] as const) {
          all++;
          if (level[key].low! <= wanted[key] && wanted[key] <= level[key].high!) held++;
        }
      }
      expect(all).toBeGreaterThan(100);
      // 95 % are meant; levels of one root err alike, so one root may lie at the edge.
      expect(held / all).toBeGreaterThan(0.85);
    });
    test('every Fact has low <= value <= high, a unit, a source and no empty reason', () => {
      const facts = listFacts(root);
      expect(facts.size).toBeGreaterThan(150);
      for (const [path, f] of facts) {
        const isOrdered = f.value === null ? f.low === null && f.high === null && f.status === 'refused' : f.low! <= f.value && f.value <= f.high!;
        expect(isOrdered, path).toBe(true);
        expect(f.unit.length, path).toBeGreaterThan(0);
        expect(f.source.method, path).toMatch(/^root\.[a-zA-Z.]+\/\d+$/);
        expect([f.source.kind, f.source.by, f.source.at], path).toEqual(['computed', SURVEY_STAMP.by, SURVEY_STAMP.at]);
        expect(f.status === 'settled', path).toBe(f.reasons.length === 0);
        for (const r of f.reasons) expect(r.code.length > 0 && r.text.length > 0 && r.next.length > 0, path).toBe(true);
      }
    });
    test('levels run from -12 mm to above the junction without a gap, and the outflow tract is one of them', () => {
      const heights = root.levels.map((l) => l.heightMm);
      expect(heights).toEqual(heights.map((_, i) => i - 12));
      expect(heights[heights.length - 1]).toBeGreaterThanOrEqual(Math.ceil(root.sinotubularJunction.heightMm.value!));
      const { contourLps: _contour, ...level } = root.levels[7]!;
      expect(root.outflowTract).toEqual(level);
      for (const key of ['areaMm2', 'perimeterMm', 'minDiameterMm', 'maxDiameterMm'] as const) expect(root.levels[12]![key]).toEqual(root.basalRing[key]);
    });
    test('rings are sound: P2 >= 4 pi A, least width <= D_A <= D_P, contour flat, counter-clockwise and of the stated area', () => {
      for (const ring of root.levels) {
        const [a, p, least, most] = [ring.areaMm2.value!, ring.perimeterMm.value!, ring.minDiameterMm.value!, ring.maxDiameterMm.value!];
        expect(p * p).toBeGreaterThanOrEqual(4 * Math.PI * a * (1 - 1e-4));
        expect(least <= most && least <= 2 * Math.sqrt(a / Math.PI) * 1.001 && 2 * Math.sqrt(a / Math.PI) <= most * 1.001).toBe(true);
        checkContour(root, ring.contourLps, ring.heightMm, a);
      }
      const { areaDiameterMm, perimeterDiameterMm, ellipticity, areaMm2, perimeterMm, minDiameterMm, maxDiameterMm } = root.basalRing;
      const ROUNDING: Tolerance = { relative: 1e-12, absolute: 0, from: 'rounding' };
      expectWithin(areaDiameterMm.value!, 2 * Math.sqrt(areaMm2.value! / Math.PI), ROUNDING);
      expectWithin(perimeterDiameterMm.value!, perimeterMm.value! / Math.PI, ROUNDING);
      expectWithin(ellipticity.value!, maxDiameterMm.value! / minDiameterMm.value!, ROUNDING);
      expect(perimeterDiameterMm.value!).toBeGreaterThanOrEqual(areaDiameterMm.value! * (1 - 1e-4));
    });
    test('plane, nadirs, frame and angulation belong together', () => {
      const { pointLps, normalLps, nadirsLps } = root.basalPlane;
      expectWithin(Math.hypot(...normalLps), 1, { relative: 1e-12, absolute: 0, from: 'rounding' });
      for (const cusp of CUSPS) expectWithin(dot(sub(nadirsLps[cusp], pointLps), normalLps), 0, { relative: 0, absolute: 1e-9, from: 'three points define the plane' });
      expectWithin(root.angulationDeg.value!, angleDeg(normalLps, [0, 0, 1]), { relative: 0, absolute: 1e-6, from: 'acos near 1' });
    });
    test('the map shows the same wall as the rings', () => {
      const { azimuthDeg, heightMm, radiusMm, calciumHu } = root.map;
      expect([azimuthDeg.length, radiusMm.length, calciumHu.length]).toEqual([72, heightMm.length, heightMm.length]);
      heightMm.forEach((mm, i) => {
        const level = root.levels.find((l) => l.heightMm === mm);
        const area = radiusMm[i]!.reduce((s: number, r, k) => s + (r! * radiusMm[i]![(k + 1) % 72]! * Math.sin((2 * Math.PI) / 72)) / 2, 0);
        if (level) expectWithin(area, level.areaMm2.value!, { relative: 0.01, absolute: 0, from: 'polygon of 72 is low by 0.13 %; the rings are smoothed to ten waves' });
      });
    });
  });
}

function checkContour(root: RootSurvey, points: readonly Xyz[], heightMm: number, areaMm2: number): void {
  const { pointLps, normalLps } = root.basalPlane;
  let twice: Vec3 = [0, 0, 0];
  points.forEach((p, i) => {
    expectWithin(dot(sub(p, pointLps), normalLps), heightMm, { relative: 0, absolute: 1e-9, from: 'rounding' });
    const [a, b] = [sub(p, points[0]!), sub(points[(i + 1) % points.length]!, points[0]!)];
    twice = [twice[0] + a[1] * b[2] - a[2] * b[1], twice[1] + a[2] * b[0] - a[0] * b[2], twice[2] + a[0] * b[1] - a[1] * b[0]];
  });
  expectWithin(dot(twice, normalLps) / 2, areaMm2, { relative: 8e-4, absolute: 0, from: 'polygon of 120: (2 pi / 120)^2 / 6 = 4.6e-4 for a circle' });
}

const marksOf = (nadirsLps: Landmarks['nadirsLps'], ostiaLps?: Landmarks['ostiaLps']): Landmarks => ({ format: 'trinadir.landmarks/1', by: 'reader', nadirsLps, ostiaLps });
const t = base.truth.basalPlane;
/** Somewhere in the left sinus, where no artery leaves. */
const left: Xyz = [t.pointLps[0] + 14, t.pointLps[1], t.pointLps[2] + 9];

describe('surveyRoot (phantom seed 7), once more with a doubt of the scan and a marked left ostium', () => {
  const doubt = { code: 'slices-thick', text: 'Slices are thick.', next: 'Use thinner ones.' };
  const steps: number[] = [];
  const before = base.volume.samplesHu.slice();
  const again = surveyRoot(base.volume, { stamp: SURVEY_STAMP, doubts: [doubt], marks: marksOf(undefined, { left }), report: (r) => steps.push(r) });
  if (!again.ok) throw new Error(again.failure.code);
  const { root } = again.value;
  test('gives the same bytes but for the mark and the doubt', () => {
    const plain = (survey1: RootSurvey): string =>
      JSON.stringify({ ...survey1, coronaries: survey1.coronaries.right }, (key, v: unknown) =>
        key === 'status' ? undefined : key === 'reasons' ? (v as readonly { code: string }[]).filter((r) => r.code !== doubt.code) : v,
      );
    expect(plain(root)).toBe(plain(base.root));
    expect(JSON.stringify(again.value.wall)).toBe(JSON.stringify(base.wall));
  });
  test('every Fact carries the doubt', () => {
    for (const [path, f] of listFacts(root)) if (f.value !== null) expect([f.status, f.reasons.some((r) => r.code === doubt.code)], path).toEqual(['doubtful', true]);
  });
  test('the marked ostium wins, the plane stays the tool\'s', () => {
    expect(root.coronaries.left!.ostiumLps).toEqual(left);
    expect(root.coronaries.left!.heightMm.source.kind).toBe('edited');
    expect(root.basalRing.areaMm2.source.kind).toBe('computed');
    expectWithin(root.coronaries.left!.heightMm.value!, dot(sub(left, root.basalPlane.pointLps), root.basalPlane.normalLps), { relative: 0, absolute: 1e-9, from: 'height over the plane' });
  });
  test('leaves the scan as it was and reports progress up to 1', () => {
    expect(Buffer.compare(Buffer.from(base.volume.samplesHu.buffer), Buffer.from(before.buffer))).toBe(0);
    expect(steps).toEqual([...steps].sort((a, b) => a - b));
    expect(steps[steps.length - 1]).toBe(1);
  });
});

describe('surveyRoot with marked nadirs (phantom seed 7)', () => {
  const { volume, truth } = base;
  const marked = survey(volume, marksOf(t.nadirsLps, { left }));
  if (!marked.ok) throw new Error(marked.failure.code);
  const { root, frame } = marked.value;
  test('the plane goes exactly through the marks, with the marked names, normal toward the aorta', () => {
    expect(root.basalPlane.nadirsLps).toEqual(t.nadirsLps);
    for (const cusp of CUSPS) expectWithin(dot(sub(t.nadirsLps[cusp], root.basalPlane.pointLps), root.basalPlane.normalLps), 0, { relative: 0, absolute: 1e-9, from: 'rounding' });
    expectAllWithin(root.basalPlane.normalLps, t.normalLps, { relative: 0, absolute: 1e-9, from: 'the true plane goes through the true nadirs' });
    expectWithin(cylinderFromLps(frame, t.nadirsLps.R).azimuthRad, 0, { relative: 0, absolute: 1e-9, from: 'azimuth 0 at R' });
  });
  test('on the true plane the ring is right to the medians asked', () => {
    expectWithin(root.basalRing.areaMm2.value!, truth.basalRing.areaMm2, { relative: 0.015, absolute: 0, from: 'median asked: the plane adds nothing here' });
    expectWithin(root.basalRing.perimeterMm.value!, truth.basalRing.perimeterMm, { relative: 0.01, absolute: 0, from: 'median asked' });
    expectWithin(root.sinotubularJunction.heightMm.value!, truth.sinotubularJunction.heightMm, { relative: 0, absolute: 0.5, from: 'median asked' });
  });
  test('a marked ostium wins, the other one is still found', () => {
    expect(root.coronaries.left!.ostiumLps).toEqual(left);
    expectWithin(root.coronaries.left!.heightMm.value!, dot(sub(left, t.pointLps), t.normalLps), { relative: 0, absolute: 1e-9, from: 'height over the marked plane' });
    expectWithin(root.coronaries.right!.heightMm.value!, truth.coronaries.right!.centreHeightMm, asked(1));
  });
  test('what follows from marks says that a person edited it', () => {
    for (const f of [root.basalRing.areaMm2, root.levels[0]!.perimeterMm, root.coronaries.left!.heightMm, root.sinotubularJunction.heightMm, root.angulationDeg]) expect(f.source.kind).toBe('edited');
  });
  test('names are the person\'s, even when they differ from the tool\'s', () => {
    const { R, L, N } = t.nadirsLps;
    const answer = survey(volume, marksOf({ R: L, L: N, N: R }));
    expect(answer.ok && answer.value.root.basalPlane.nadirsLps).toEqual({ R: L, L: N, N: R });
    expect(answer.ok && answer.value.messages.some((m) => m.code === 'cusp-names-uncertain')).toBe(false);
  });
  test('refuses marks in line, too near, too far apart and outside the scan', () => {
    const [x, y, z] = t.pointLps;
    expect(codeOf(volume, marksOf({ R: [x - 12, y, z], L: [x, y, z], N: [x + 12, y, z] }))).toBe('nadirs-collinear');
    expect(codeOf(volume, marksOf({ R: [x, y, z], L: [x + 4, y, z], N: [x, y + 4, z] }))).toBe('nadirs-implausible');
    expect(codeOf(volume, marksOf({ R: [x, y, z], L: [x + 60, y, z], N: [x, y + 60, z] }))).toBe('nadirs-implausible');
    const far = (p: Xyz): Xyz => [p[0] + 500, p[1], p[2]];
    expect(codeOf(volume, marksOf({ R: far(t.nadirsLps.R), L: far(t.nadirsLps.L), N: far(t.nadirsLps.N) }))).toMatch(/^root-(not-opacified|outside-scan)$/);
  });
});

describe('surveyRoot refuses', () => {
  const { shape, scan } = makeCase(7);
  const quick: PhantomScan = { ...scan, dims: [84, 84, 84], spacingMm: [1, 1, 1], sliceThicknessMm: 1 };
  const NO_ROOT = /^(aorta-not-found|root-not-found|root-not-opacified|root-outside-scan|root-model-does-not-fit)$/;
  test('a scan without contrast: nothing looks like an aorta', () => {
    expect(codeOf(drawPhantom(shape, removeContrast(quick)).volume)).toBe('aorta-not-found');
  });
  test('a field that ends 10 mm above the ring', () => {
    expect(codeOf(drawPhantom(shape, truncateAbove(shape, quick, 10)).volume)).toMatch(NO_ROOT);
  });
  test('a valve with two sinuses', () => {
    // Named only where two cusps win clearly; seek-two-cusps.test.ts asks for the name.
    expect(codeOf(drawPhantom(makeTwoSinuses(shape), scan).volume)).toMatch(/^(valve-not-three-leaflet|root-model-does-not-fit)$/);
  });
  test('noise, an even scan, extreme values, one slice and a handful of voxels, without throwing', () => {
    const cube = makeCube(48, 1.5, () => 0);
    const filled = (value: (i: number) => number): CtVolume => ({ ...cube, samplesHu: Int16Array.from({ length: cube.samplesHu.length }, (_, i) => value(i)) });
    const sliced = (n: number): CtVolume => ({ ...cube, dims: [48, 48, n], samplesHu: filled((i) => 300 + (i % 7)).samplesHu.slice(0, 48 * 48 * n) });
    const tiny: CtVolume = { ...cube, dims: [2, 2, 2], samplesHu: new Int16Array(8).fill(400) };
    const flat: CtVolume = { ...cube, lpsFromVoxel: { ...cube.lpsFromVoxel, rows: [1, 0, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0] } };
    const scans: readonly CtVolume[] = [
      filled((i) => 1000 * normalAt(1, i, 0)), filled((i) => 350 + 30 * normalAt(2, i, 0)), filled(() => 400), filled(() => -1000), filled(() => 32767), filled(() => -32768),
      filled((i) => (i % 2 ? 32767 : -32768)), sliced(1), sliced(2), tiny, { ...tiny, dims: [1, 1, 1], samplesHu: new Int16Array(1) }, flat,
    ];
    for (const s of scans) {
      const answer = survey(s);
      expect(answer.ok ? 'measured' : answer.failure.code).toMatch(/^(aorta|root)-not-found$/);
      if (!answer.ok) expect(answer.failure.message.length > 10 && answer.failure.nextStep.length > 10).toBe(true);
    }
  });
  test('marks in a scan without contrast', () => {
    const marks = marksOf({ R: [0, -12, 0], L: [10, 6, 0], N: [-10, 6, 0] });
    for (const hu of [-1000, 40, -32768]) expect(codeOf(makeCube(48, 1.5, () => hu), marks)).toBe('root-not-opacified');
  });
});
