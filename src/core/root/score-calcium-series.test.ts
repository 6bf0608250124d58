import { describe, expect, test } from 'vitest';
import { makeWallTable, PLAIN_FRAME, SURVEY_STAMP } from '../../../test/support/survey-fixtures.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { scoreCalciumSeries, type CalciumSeriesInput } from './score-calcium-series.ts';

/** Spheres of calcium in 40 HU, painted pixel by pixel; slices of 3 mm. */
function drawSpheres(spheres: readonly { at: readonly [number, number, number]; radiusMm: number; hu: number }[], slices = 24, lowZ = -24): CtVolume {
  const n = 121;
  const samplesHu = new Int16Array(n * n * slices).fill(40);
  for (let k = 0, o = 0; k < slices; k++) {
    for (let j = 0; j < n; j++) {
      for (let i = 0; i < n; i++, o++) {
        for (const s of spheres) if (Math.hypot(i * 0.5 - 30 - s.at[0], j * 0.5 - 30 - s.at[1], k * 3 + lowZ - s.at[2]) <= s.radiusMm) samplesHu[o] = s.hu;
      }
    }
  }
  return {
    samplesHu, dims: [n, n, slices], spacingMm: [0.5, 0.5, 3], paddingHu: null,
    lpsFromVoxel: { to: 'lps', from: 'voxel', rows: [0.5, 0, 0, -30, 0, 0.5, 0, -30, 0, 0, 3, lowZ] },
  };
}
const wall = makeWallTable({ heights: 90, azimuths: 96, lowMm: -16, stepMm: 0.5 }, () => 12);
const contrast = drawSpheres([]);
const inputOf = (volume: CtVolume, change: Partial<CalciumSeriesInput> = {}, series: Partial<CalciumSeriesInput['series']> = {}): CalciumSeriesInput => ({
  contrast, frame: PLAIN_FRAME, wall, placeDoubts: [], junctionMm: 18, sex: 'F', isSexConflicting: false, stamp: SURVEY_STAMP, ...change,
  series: { volume, seriesUid: '1.2', sha256: 'ab', sliceThicknessMm: 3, isContrastDeclared: false, isGated: true, kvp: 120, phasePercent: 75, doubts: [], ...series },
});
function must(input: CalciumSeriesInput) {
  const r = scoreCalciumSeries(input);
  if (!r.ok) throw new Error(r.failure.code);
  return r.value;
}
/** Area x weight over slices of a painted sphere: the known answer. */
const pixelsOf = (volume: CtVolume): number => volume.samplesHu.reduce((n, v) => n + (v >= 130 ? 1 : 0), 0);
const LEAFLET = { at: [6, 0, 9] as const, radiusMm: 4, hu: 450 };

describe('scoreCalciumSeries', () => {
  test('counts calcium of the valve and neither of the aorta above nor of the outflow tract below', () => {
    const valve = drawSpheres([LEAFLET]);
    const all = drawSpheres([LEAFLET, { at: [0, 0, 30], radiusMm: 4, hu: 600 }, { at: [0, 8, -14], radiusMm: 4, hu: 600 }, { at: [24, 0, 9], radiusMm: 4, hu: 600 }]);
    const score = must(inputOf(all));
    expectWithin(score.score.value!, pixelsOf(valve) * 0.25 * 4, { relative: 1e-12, absolute: 0, from: 'whole pixels' });
    expectWithin(score.volumeMm3.value!, pixelsOf(valve) * 0.25 * 3, { relative: 1e-12, absolute: 0, from: 'whole pixels' });
    expect([score.score.unit, score.scoreUnit, score.series.slices, score.series.incrementMm, score.lesions]).toEqual(["{Agatston'U}", 'Agatston units, non-contrast', 24, 3, 3]);
  });
  test('reaches 3 mm beyond the wall, and widens the interval where another margin would change the score', () => {
    const inside = must(inputOf(drawSpheres([LEAFLET])));
    const rim = must(inputOf(drawSpheres([LEAFLET, { at: [14.2, 0, 9], radiusMm: 0.6, hu: 450 }])));
    expect(rim.score.value!).toBeGreaterThan(inside.score.value!); // centre 2.2 mm outside the wall: counted
    expect(rim.score.value! - rim.score.low!).toBeGreaterThan(inside.score.value! - inside.score.low! + 1); // not with a margin of 1.5 mm
    const beyond = must(inputOf(drawSpheres([LEAFLET, { at: [15.8, 0, 9], radiusMm: 0.6, hu: 450 }])));
    expect(beyond.score.value).toBe(inside.score.value);
    expect(beyond.score.high!).toBeGreaterThan(inside.score.high! + 0.5); // but with one of 4.5 mm
  });
  test('follows the root when it leans and lies elsewhere', () => {
    const turn = 0.5;
    const frame = { originLps: [2, -1, 3] as const, normalLps: [0, Math.sin(turn), Math.cos(turn)] as const, uLps: [1, 0, 0] as const, vLps: [0, Math.cos(turn), -Math.sin(turn)] as const };
    const at = [0, 1, 2].map((i) => frame.originLps[i]! + 8 * frame.uLps[i]! + 8 * frame.normalLps[i]!) as unknown as readonly [number, number, number];
    const leaning = drawSpheres([{ at, radiusMm: 3, hu: 450 }]);
    expectWithin(must(inputOf(leaning, { frame })).score.value!, pixelsOf(leaning) * 0.25 * 4, { relative: 1e-12, absolute: 0, from: 'whole pixels' });
  });
  test('says that nothing but the frame of reference was checked where no bone shows', () => {
    const { score, boneShiftMm } = must(inputOf(drawSpheres([LEAFLET]), { placeDoubts: [{ code: 'crown-uneven', text: 't', next: 'n' }] }));
    expect(score.reasons.map((r) => r.code)).toEqual(['crown-uneven', 'calcium-series-unchecked']);
    expect([score.status, boneShiftMm]).toEqual(['doubtful', [null, null, null]]);
  });
  test('gives the severity by sex, as a proposal, and none without a sex or with two', () => {
    // 4 mm spheres score 900 to 1000: unlikely in men, open in women
    const volume = drawSpheres([LEAFLET, { at: [-6, 3, 9], radiusMm: 4, hu: 450 }, { at: [-2, -7, 6], radiusMm: 3.4, hu: 450 }]);
    const value = must(inputOf(volume)).score.value!;
    expect([value > 800, value < 1200]).toEqual([true, true]);
    const of = (change: Partial<CalciumSeriesInput>) => must(inputOf(volume, change)).severity;
    expect([of({ sex: 'F' }).likelihood, of({ sex: 'M' }).likelihood]).toEqual(['grey', 'unlikely']);
    expect([of({}).sex, of({}).threshold?.value, of({}).reasons[0]!.code]).toEqual(['F', 800, 'agatston-thresholds-unsigned']);
    expect([of({ sex: null }).likelihood, of({ sex: null }).reasons[0]!.code]).toEqual([null, 'agatston-sex-missing']);
    expect(of({ sex: 'O' }).reasons[0]!.code).toBe('agatston-sex-missing');
    expect([of({ isSexConflicting: true }).likelihood, of({ isSexConflicting: true }).reasons[0]!.code]).toEqual([null, 'agatston-sex-conflicts']);
  });
  test('refuses a series that does not hold the whole valve, or contrast, or thick slices', () => {
    const code = (input: CalciumSeriesInput): string => {
      const r = scoreCalciumSeries(input);
      return r.ok ? 'scored' : r.failure.code;
    };
    expect(code(inputOf(drawSpheres([LEAFLET], 12, -24)))).toBe('calcium-series-misses-valve'); // ends at 9 mm
    expect(code(inputOf(drawSpheres([LEAFLET]), {}, { isContrastDeclared: true }))).toBe('agatston-contrast');
    expect(code(inputOf(drawSpheres([LEAFLET]), {}, { sliceThicknessMm: 5 }))).toBe('agatston-slices-thick');
    expect(code(inputOf(drawSpheres([LEAFLET])))).toBe('scored');
  });
});
