import { describe, expect, test } from 'vitest';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { AGATSTON_DENSITY_PROPOSAL, AGATSTON_PROPOSAL, assessAgatstonSeverity, computeAgatstonDensity } from './agatston-severity.ts';
import {
  AGATSTON_LEAST_AREA_MM2, computeAgatston, computeVoxelVolume, scoreAgatston, weighAgatston, type AgatstonOptions, type AgatstonZone,
} from './score-agatston.ts';

const CHECKS: Tolerance = { relative: 0, absolute: 1e-9, from: 'checks.json' };
const EXACT: Tolerance = { relative: 1e-12, absolute: 0, from: 'whole pixels' };
const PIXEL = 0.5;
const WATER_HU = 40;

/** Water with a cylinder along z of `radiusMm`, painted pixel by pixel (centre inside), in slices [from, to). */
function drawCylinder(radiusMm: number, hu: number, incrementMm: number, from: number, to: number, slices: number, waterHu = WATER_HU): { volume: CtVolume; pixels: number } {
  const n = 81;
  const samplesHu = new Int16Array(n * n * slices).fill(waterHu);
  let pixels = 0;
  for (let j = 0; j < n; j++) {
    for (let i = 0; i < n; i++) {
      if (Math.hypot(i - 40, j - 40) * PIXEL > radiusMm) continue;
      pixels++;
      for (let k = from; k < to; k++) samplesHu[(k * n + j) * n + i] = hu;
    }
  }
  return {
    pixels,
    volume: {
      samplesHu, dims: [n, n, slices], spacingMm: [PIXEL, PIXEL, incrementMm], paddingHu: null,
      lpsFromVoxel: { to: 'lps', from: 'voxel', rows: [PIXEL, 0, 0, -20, 0, PIXEL, 0, -20, 0, 0, incrementMm, 100] },
    },
  };
}
const zone: AgatstonZone = { centreLps: [0, 0, 115], radiusMm: 15, heightMm: 40, normalLps: [0, 0, 1] };
const options: AgatstonOptions = {
  sliceThicknessMm: 3, isContrastDeclared: false, isGated: true, kvp: 120, sex: 'F', stamp: { by: 'trinadir test', at: '2026-03-02T08:11:00Z' },
};
function score(volume: CtVolume, change: Partial<AgatstonOptions> = {}, at: AgatstonZone | null = zone) {
  const r = scoreAgatston(volume, at, { ...options, ...change });
  if (!r.ok) throw new Error(r.failure.code);
  return r.value;
}
function refusal(volume: CtVolume, change: Partial<AgatstonOptions> = {}, at: AgatstonZone | null = zone): string {
  const r = scoreAgatston(volume, at, { ...options, ...change });
  return r.ok ? 'scored' : r.failure.code;
}

describe('scoreAgatston', () => {
  test('gives area x weight x slices for a cylinder in water', () => {
    const { volume, pixels } = drawCylinder(4, 250, 3, 3, 7, 11);
    const s = score(volume);
    expectWithin(s.scoreAu.value!, pixels * PIXEL * PIXEL * 2 * 4, EXACT);
    expect(s.lesions.map((l) => l.slice)).toEqual([3, 4, 5, 6]);
    // the circle of 4 mm: 50.3 mm2 per slice within the lattice's error (Gauss circle problem, r = 8 pixels)
    expectWithin(s.scoreAu.value!, Math.PI * 16 * 8, { relative: 0.04, absolute: 0, from: 'lattice points in a circle of 8 pixels' });
    expectWithin(s.volumeMm3.value!, pixels * PIXEL * PIXEL * 3 * 4, EXACT);
    expect(s.scoreAu.low! < s.scoreAu.value! && s.scoreAu.value! < s.scoreAu.high!).toBe(true);
    expect(s.scoreAu.status).toBe('settled');
    expect(s.scoreUnit).toBe('Agatston units, non-contrast');
  });
  test('CT-33 weighs 1 from 130, 2 from 200, 3 from 300, 4 from 400 HU, by the peak', () => {
    expect([129, 130, 131, 199, 200, 201, 299, 300, 301, 399, 400, 401, 1500].map(weighAgatston)).toEqual([0, 1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4]);
    const lesions = [[12, 150], [5, 250], [3, 399], [2.5, 400]].map(([areaMm2, peakHu]) => ({ areaMm2: areaMm2!, peakHu: peakHu! }));
    expectWithin(computeAgatston(lesions, 3), 41, CHECKS);
    // one bright pixel lifts the whole lesion
    const { volume, pixels } = drawCylinder(4, 150, 3, 3, 4, 11);
    volume.samplesHu[(3 * 81 + 40) * 81 + 40] = 400;
    expectWithin(score(volume).scoreAu.value!, pixels * PIXEL * PIXEL * 4, EXACT);
  });
  test('CT-33 scores nothing at 129 HU and all at 130 HU', () => {
    expect(score(drawCylinder(4, 129, 3, 3, 7, 11).volume).scoreAu.value).toBe(0);
    expect(score(drawCylinder(4, 130, 3, 3, 7, 11).volume).scoreAu.value).toBeGreaterThan(100);
  });
  test('CT-34 ignores lesions below 1 mm2 and marks that limit as unverified', () => {
    expect([AGATSTON_LEAST_AREA_MM2.value, AGATSTON_LEAST_AREA_MM2.status]).toEqual([1, 'M']);
    expect([0.999, 1, 1.001].map((areaMm2) => computeAgatston([{ areaMm2, peakHu: 150 }], 3))).toEqual([0, 1, 1.001]);
    const three = drawCylinder(0, 250, 3, 3, 3, 11).volume;
    const at = (i: number, j: number): void => { three.samplesHu[(3 * 81 + j) * 81 + i] = 250; };
    at(40, 40); at(41, 40); at(40, 41);
    expect(score(three).scoreAu.value).toBe(0); // 0.75 mm2
    at(41, 41);
    expectWithin(score(three).scoreAu.value!, 2, EXACT); // 1 mm2 x 2
  });
  test('CT-35 scales thin slices by increment / 3, so that the same cylinder scores the same', () => {
    expectWithin(computeAgatston([{ areaMm2: 60, peakHu: 150 }], 1.5), 30, CHECKS);
    const thick = score(drawCylinder(4, 250, 3, 3, 7, 11).volume).scoreAu;
    const thin = score(drawCylinder(4, 250, 1.5, 6, 14, 22).volume, { sliceThicknessMm: 1.5 }).scoreAu;
    expectWithin(thin.value!, thick.value!, EXACT);
    expect(thin.reasons.map((r) => r.code)).toEqual(['agatston-slices-thin']);
  });
  test('CT-41 takes voxels times dx dy dz', () => {
    expectWithin(computeVoxelVolume(1567, [0.5, 0.5, 0.6]), 235.05, { relative: 0, absolute: 1e-6, from: 'checks.json' });
  });
  test('does not change when the zone is turned about its axis or the grid is mirrored', () => {
    const { volume } = drawCylinder(4, 250, 3, 3, 7, 11);
    const mirrored = { ...volume, lpsFromVoxel: { ...volume.lpsFromVoxel, rows: [-PIXEL, 0, 0, 20, 0, PIXEL, 0, -20, 0, 0, -3, 130] } };
    expect(score(mirrored).scoreAu.value).toBe(score(volume).scoreAu.value);
    expect(score(volume, {}, { ...zone, normalLps: [0, 0, -7] }).scoreAu.value).toBe(score(volume).scoreAu.value);
  });
  test('says when the mark cuts a lesion, when motion or voltage is off and when blood is bright', () => {
    const codes = (v: CtVolume, change: Partial<AgatstonOptions>, at: AgatstonZone = zone): readonly string[] => score(v, change, at).scoreAu.reasons.map((r) => r.code);
    const { volume } = drawCylinder(4, 250, 3, 3, 7, 11);
    expect(codes(volume, {})).toEqual([]);
    expect(codes(volume, {}, { ...zone, centreLps: [10, 0, 115], radiusMm: 10 })).toEqual(['agatston-zone-cuts-lesion']);
    expect(codes(volume, { isGated: null, kvp: 100 })).toEqual(['agatston-not-gated', 'agatston-tube-voltage']);
    expect(codes(drawCylinder(4, 250, 3, 3, 7, 11, 90).volume, {})).toEqual(['agatston-blood-bright']);
  });
  test('refuses contrast, thick slices, an unknown thickness and a missing or useless mark', () => {
    const { volume } = drawCylinder(4, 250, 3, 3, 7, 11);
    expect(refusal(volume, { isContrastDeclared: true })).toBe('agatston-contrast');
    expect(refusal(drawCylinder(4, 900, 3, 3, 7, 11, 130).volume)).toBe('agatston-contrast');
    expect(refusal(drawCylinder(4, 900, 3, 3, 7, 11, 129).volume)).toBe('scored');
    expect(refusal(volume, { sliceThicknessMm: 3.1 })).toBe('agatston-slices-thick');
    expect(refusal(drawCylinder(4, 250, 5, 1, 2, 9).volume)).toBe('agatston-slices-thick');
    expect(refusal(volume, { sliceThicknessMm: null })).toBe('agatston-thickness-missing');
    expect(refusal(volume, {}, null)).toBe('agatston-zone-missing');
    expect(refusal(volume, {}, { ...zone, radiusMm: Number.NaN })).toBe('agatston-zone-invalid');
    expect(refusal(volume, {}, { ...zone, centreLps: [0, 0, 900] })).toBe('agatston-zone-outside-scan');
  });
});

describe('assessAgatstonSeverity', () => {
  const at = (value: number, sex: 'F' | 'M'): string => {
    const r = assessAgatstonSeverity({ value, low: value, high: value }, sex);
    return r.ok ? r.value.likelihood : r.failure.code;
  };
  test('CT-36 says likely from 1200 in women and 2000 in men', () => {
    expect([1199, 1200, 1201].map((v) => at(v, 'F'))).toEqual(['grey', 'likely', 'likely']);
    expect([1999, 2000, 2001].map((v) => at(v, 'M'))).toEqual(['grey', 'likely', 'likely']);
    expect([AGATSTON_PROPOSAL.F.likely.status, AGATSTON_PROPOSAL.M.likely.status]).toEqual(['C', 'C']);
  });
  test('CT-37 says very likely and unlikely at its limits, as unverified', () => {
    expect([799, 800, 1599, 1600, 1601].map((v) => at(v, 'F'))).toEqual(['unlikely', 'grey', 'likely', 'very likely', 'very likely']);
    expect([1599, 1600, 2999, 3000, 3001].map((v) => at(v, 'M'))).toEqual(['unlikely', 'grey', 'likely', 'very likely', 'very likely']);
    const far = assessAgatstonSeverity({ value: 3100, low: 2900, high: 3300 }, 'M');
    expect(far.ok && [far.value.isVerified, far.value.couldBe]).toEqual([false, ['likely', 'very likely']]);
    const near = assessAgatstonSeverity({ value: 2100, low: 1990, high: 2210 }, 'M');
    expect(near.ok && [near.value.isVerified, near.value.couldBe]).toEqual([true, ['grey', 'likely']]);
  });
  test('gives no answer without a recorded sex, but the score stays', () => {
    for (const sex of [null, 'O'] as const) {
      const s = score(drawCylinder(4, 250, 3, 3, 7, 11).volume, { sex });
      expect(s.severity.ok ? 'answered' : s.severity.failure.code).toBe('agatston-sex-missing');
      expect(s.scoreAu.value).toBeGreaterThan(0);
    }
    const broken = assessAgatstonSeverity({ value: Number.NaN, low: 0, high: 1 }, 'F');
    expect(broken.ok).toBe(false);
  });
  test('CT-42 divides by the annulus area in cm2', () => {
    const d = computeAgatstonDensity(1600, 445.32);
    expect(d.ok).toBe(true);
    if (d.ok) expectWithin(d.value, 359.292, { relative: 0, absolute: 1e-2, from: 'checks.json' });
    expect(computeAgatstonDensity(1600, 0).ok).toBe(false);
    expect([AGATSTON_DENSITY_PROPOSAL.F.value, AGATSTON_DENSITY_PROPOSAL.M.value, AGATSTON_DENSITY_PROPOSAL.F.status]).toEqual([292, 476, 'M']);
  });
});
