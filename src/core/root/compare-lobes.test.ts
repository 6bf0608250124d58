import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { makeWallTable } from '../../../test/support/survey-fixtures.ts';
import { compareLobes, seekRegularCrown } from './compare-lobes.ts';
import type { CrownEvidence } from './find-crown.ts';
import { isTwoLobed, refuseTwoCusps } from './refuse-two-cusps.ts';

const SIZE = { heights: 101, azimuths: 96, lowMm: -16, stepMm: 0.5 } as const;
/** Sinuses of 3 mm between plane and a junction at 20 mm, with `lobes` of them around; an oval ring of 12 by 1 mm. */
const wallOf = (lobes: number, turn: number) =>
  makeWallTable(SIZE, (rad, mm) => {
    const rise = mm > 0 && mm < 20 ? Math.sin((Math.PI * mm) / 20) : 0;
    return 12 + 0.5 * Math.cos(2 * rad) + 3 * rise * Math.cos((lobes * (rad - turn)) / 2) ** 2 + 0.05 * Math.max(0, mm - 20);
  });
/** Evidence of 1.5 on the crown, 0 beside it, falling off over 1.5 mm. */
function evidenceOf(cusps: number, turn: number, offsetMm: number, rise = 14): CrownEvidence {
  const values = new Float32Array(SIZE.heights * SIZE.azimuths);
  const span = (2 * Math.PI) / cusps;
  for (let a = 0; a < SIZE.azimuths; a++) {
    const from = (2 * Math.PI * a) / SIZE.azimuths - turn;
    const share = (from - span * Math.round(from / span)) / (span / 2);
    const crown = offsetMm + rise * share * share;
    for (let h = 0; h < SIZE.heights; h++) values[h * SIZE.azimuths + a] = 1.5 * Math.max(0, 1 - Math.abs(SIZE.lowMm + h * SIZE.stepMm - crown) / 1.5);
  }
  return { values, heights: SIZE.heights, azimuths: SIZE.azimuths, lowMm: SIZE.lowMm, heightStepMm: SIZE.stepMm };
}

describe(`compareLobes (property seed ${seed})`, () => {
  test('names the number of lobes, however the root is turned', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 6.28, noNaN: true }), fc.double({ min: -1, max: 1, noNaN: true }), (turn, offset) => {
        const two = compareLobes(evidenceOf(2, turn, offset), wallOf(2, turn));
        const three = compareLobes(evidenceOf(3, turn, offset), wallOf(3, turn));
        expect(isTwoLobed(two)).toBe(true);
        expect(isTwoLobed(three)).toBe(false);
        expect(two.twoCuspScore).toBeGreaterThan(two.threeCuspScore);
        expect(three.threeCuspScore).toBeGreaterThan(three.twoCuspScore);
      }),
      { ...replay, numRuns: 8 },
    );
  });
  test('an oval ring is not taken for two lobes: half of cos squared of 3 mm is the amplitude', () => {
    const { secondWaveMm, thirdWaveMm } = compareLobes(evidenceOf(3, 0, 0), wallOf(3, 0));
    // mean of sin(pi h/20) over 0.3 to 0.7 of the junction is 0.94; the junction is found within 1 mm
    expect(Math.abs(thirdWaveMm - 1.5 * 0.94)).toBeLessThan(0.15);
    expect(secondWaveMm).toBeLessThan(0.1);
  });
  test('a crown that fits two cusps on a wall of three lobes, or the reverse, is not called two-lobed', () => {
    expect(isTwoLobed(compareLobes(evidenceOf(2, 0, 0), wallOf(3, 0)))).toBe(false);
    expect(isTwoLobed(compareLobes(evidenceOf(3, 0, 0), wallOf(2, 0)))).toBe(false);
  });
  test('a wall without evidence gives low scores and no name', () => {
    const empty = { ...evidenceOf(3, 0, 0), values: new Float32Array(SIZE.heights * SIZE.azimuths) };
    const lobes = compareLobes(empty, wallOf(2, 0));
    expect([lobes.twoCuspScore, lobes.threeCuspScore]).toEqual([0, 0]);
    expect(isTwoLobed(lobes)).toBe(false);
  });
});

describe('seekRegularCrown', () => {
  test('finds the height of a crown that lies well above the plane', () => {
    const found = seekRegularCrown(evidenceOf(2, 0.3, 8), 2, [-4, 0, 4, 8, 12], [-2, 0, 2]);
    expect(found.offsetMm).toBe(8);
    expect(found.tiltMm).toEqual([0, 0]);
  });
});

describe('refuseTwoCusps', () => {
  test('says what was compared and what to mark', () => {
    const refused = refuseTwoCusps({ twoCuspScore: 1.234, threeCuspScore: 0.7, secondWaveMm: 2, thirdWaveMm: 0.3 });
    expect(refused.ok).toBe(false);
    if (refused.ok) return;
    expect(refused.failure.code).toBe('valve-not-three-leaflet');
    expect(refused.failure.nextStep).toContain('plan again');
    expect(refused.failure.evidence).toEqual({ twoCuspScore: 1.23, threeCuspScore: 0.7, secondWaveMm: 2, thirdWaveMm: 0.3 });
  });
});
