import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { makePolarBlock } from '../../../test/support/survey-fixtures.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { findCrown, gatherCrownEvidence, readCrown, type Crown } from './find-crown.ts';

const TURN = 2 * Math.PI;
const ROUNDING: Tolerance = { relative: 0, absolute: 1e-9, from: 'a dozen roundings of numbers below 30' };
const CROWN: Crown = { nadirRad: [0.4, 2.55, 4.5], nadirMm: [-0.6, 0.9, -0.2], commissureRad: [1.5, 3.5, 5.7], commissureMm: [13, 15, 12.5] };
const wrap = (a: number): number => a - TURN * Math.floor(a / TURN);
const apart = (a: number, b: number): number => Math.min(wrap(a - b), wrap(b - a));

const anyCrown = fc
  .tuple(fc.double({ min: 0, max: 6.28, noNaN: true }), fc.array(fc.double({ min: 0.5, max: 1.5, noNaN: true }), { minLength: 6, maxLength: 6 }), fc.array(fc.double({ min: 0, max: 6, noNaN: true }), { minLength: 6, maxLength: 6 }))
  .map(([turn, share, mm]): Crown => {
    const total = share.reduce((s, v) => s + v, 0);
    const at: number[] = [];
    share.reduce((s, v) => (at.push(wrap(s)), s + (v / total) * TURN), turn);
    return { nadirRad: [at[0]!, at[2]!, at[4]!], nadirMm: mm.slice(0, 3), commissureRad: [at[1]!, at[3]!, at[5]!], commissureMm: mm.slice(3).map((v) => 8 + v) };
  });

describe(`readCrown (seed ${seed})`, () => {
  test('passes through nadirs and commissures of any crown, and never leaves their range', () => {
    fc.assert(
      fc.property(anyCrown, (crown) => {
        for (let i = 0; i < 3; i++) {
          expectWithin(readCrown(crown, crown.nadirRad[i]!), crown.nadirMm[i]!, ROUNDING);
          expectWithin(readCrown(crown, crown.commissureRad[i]! - 1e-13), crown.commissureMm[i]!, ROUNDING);
        }
        for (let rad = -7; rad < 14; rad += 0.31) {
          const mm = readCrown(crown, rad);
          expect(mm >= Math.min(...crown.nadirMm) - 1e-9 && mm <= Math.max(...crown.commissureMm) + 1e-9).toBe(true);
        }
      }),
      { ...replay, numRuns: 50 },
    );
  });
  test('rises with the square of the way on both sides of a nadir', () => {
    for (const [from, to, low, high] of [[2.55, 3.5, 0.9, 15], [2.55, 1.5, 0.9, 13]] as const) {
      for (const share of [0.25, 0.5, 0.8]) {
        expectWithin(readCrown(CROWN, from + share * (to - from)), low + (high - low) * share ** 2, ROUNDING);
      }
    }
  });
  test('is the same a whole turn on and does not jump anywhere', () => {
    for (let rad = 0; rad < TURN; rad += 0.01) {
      expectWithin(readCrown(CROWN, rad + TURN), readCrown(CROWN, rad), ROUNDING);
      expectWithin(readCrown(CROWN, rad + 0.01), readCrown(CROWN, rad), { relative: 0, absolute: 0.31, from: 'steepest slope 2 x 14.7 mm / 0.95 rad' });
    }
  });
});

const SPEC = { lowMm: -10, heightStepMm: 1, heights: 41, azimuths: 48, radiusStepMm: 0.6, radii: 44 } as const;

describe('findCrown', () => {
  test('finds a crown drawn as a ridge', () => {
    const values = new Float32Array(SPEC.heights * SPEC.azimuths);
    for (let c = 0; c < values.length; c++) {
      const off = SPEC.lowMm + Math.floor(c / SPEC.azimuths) - readCrown(CROWN, (TURN * (c % SPEC.azimuths)) / SPEC.azimuths);
      values[c] = 2 * Math.exp(-0.5 * (off / 1.5) ** 2);
    }
    const fit = findCrown({ values, heights: SPEC.heights, azimuths: SPEC.azimuths, lowMm: SPEC.lowMm, heightStepMm: 1 }, -4, 4, 3);
    for (let i = 0; i < 3; i++) {
      const k = fit.crown.nadirRad.findIndex((n) => apart(n, CROWN.nadirRad[i]!) < 0.5);
      expectWithin(apart(fit.crown.nadirRad[k]!, CROWN.nadirRad[i]!), 0, { relative: 0, absolute: 0.12, from: 'columns of 0.13 rad, a flat bottom' });
      expectWithin(fit.crown.nadirMm[k]!, CROWN.nadirMm[i]!, { relative: 0, absolute: 0.4, from: 'last step of the search is 0.2 mm, rows of 1 mm' });
      expectWithin(fit.crown.commissureMm[k]!, CROWN.commissureMm[i]!, { relative: 0, absolute: 1.5, from: 'the ridge is steep and thinly sampled there' });
    }
    expect(fit.score).toBeGreaterThan(1.7);
    expect(fit.rivalScore).toBeLessThan(0.8 * fit.score);
  });
  test('scores next to nothing where nothing speaks for a crown', () => {
    const values = new Float32Array(SPEC.heights * SPEC.azimuths);
    expectWithin(findCrown({ values, heights: SPEC.heights, azimuths: SPEC.azimuths, lowMm: SPEC.lowMm, heightStepMm: 1 }, -4, 4, 3).score, 0, { relative: 0, absolute: 0.03, from: 'the cost of tilt' });
  });
});

describe('gatherCrownEvidence', () => {
  test('is greatest where the wall turns outward and a dark sheet leaves it', () => {
    const spec = { ...SPEC, heightStepMm: 0.5, heights: 81, radiusStepMm: 0.3, radii: 88 };
    const wallMm = (mm: number): number => 12 + 0.6 * Math.max(0, mm - 2);
    const block = makePolarBlock(spec, (_rad, mm, r) => (r > wallMm(mm) || (mm > 2 && Math.abs(r - (12 - 0.4 * (mm - 2))) < 0.6) ? 60 : 400));
    const wall = { heights: spec.heights, azimuths: spec.azimuths, radiusMm: Float64Array.from({ length: spec.heights * spec.azimuths }, (_, c) => wallMm(spec.lowMm + Math.floor(c / spec.azimuths) * 0.5)) };
    const { values } = gatherCrownEvidence(block, wall, 400, 60);
    const column = Array.from({ length: spec.heights }, (_, h) => values[h * spec.azimuths]!);
    const best = column.indexOf(Math.max(...column));
    expectWithin(spec.lowMm + best * 0.5, 2, { relative: 0, absolute: 1, from: 'the two signs look 2.5 and 3 mm up and down' });
  });
});
