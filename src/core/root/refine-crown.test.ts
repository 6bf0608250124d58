import { describe, expect, test } from 'vitest';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { normalAt, uniformAt } from '../math/random.ts';
import { readCrown, type Crown } from './find-crown.ts';
import type { Hinge } from './fit-hinges.ts';
import { isTrusted, refineCrown } from './refine-crown.ts';

/** Half cusps of 60 degrees, commissures 14 mm above the mean of their nadirs: the priors pull nowhere. */
const TRUE_CROWN: Crown = { nadirRad: [0.3, 0.3 + (2 * Math.PI) / 3, 0.3 + (4 * Math.PI) / 3], nadirMm: [0.4, -0.3, -0.1], commissureRad: [0.3 + Math.PI / 3, 0.3 + Math.PI, 0.3 + (5 * Math.PI) / 3], commissureMm: [14.05, 13.8, 14.15] };
const OFF_CROWN: Crown = { nadirRad: TRUE_CROWN.nadirRad.map((v) => v + 0.12), nadirMm: [1.5, 1, -1.2], commissureRad: TRUE_CROWN.commissureRad.map((v) => v - 0.1), commissureMm: [12, 15.5, 13] };

const hingeAt = (azimuthRad: number, heightMm: number): Hinge => ({ azimuthRad, heightMm, radiusMm: 12, heightSdMm: 0.2, radiusSdMm: 0.1, leafletAngleDeg: 40, leafletMm: 0.9, upperAngleRad: 0.5, upperBendPerMm: 0.04, misfit: 0.05, hiddenRatio: 0 });
const drawHinges = (heightOf: (rad: number, i: number) => number): Hinge[] =>
  Array.from({ length: 48 }, (_, i) => hingeAt((2 * Math.PI * i) / 48, heightOf((2 * Math.PI * i) / 48, i)));
const exact = drawHinges((rad) => readCrown(TRUE_CROWN, rad));

describe('refineCrown', () => {
  test('gives back the crown of exact points from a start 7 degrees and a millimetre off', () => {
    const { crown, scatterMm, support } = refineCrown(exact, OFF_CROWN);
    for (let i = 0; i < 3; i++) {
      expectWithin(crown.nadirMm[i]!, TRUE_CROWN.nadirMm[i]!, { relative: 0, absolute: 0.02, from: 'priors of 14 degrees, 5 and 6 mm against 48 points of 0.4 mm' });
      expectWithin(crown.nadirRad[i]!, TRUE_CROWN.nadirRad[i]!, { relative: 0, absolute: 0.01, from: 'as above; a flat bottom' });
      expectWithin(crown.commissureMm[i]!, TRUE_CROWN.commissureMm[i]!, { relative: 0, absolute: 0.25, from: 'as above, where the crown is steepest' });
    }
    expect(scatterMm).toBeLessThan(0.02);
    for (const s of support) expect(s).toBeGreaterThanOrEqual(9);
  });
  test('is moved little by every fifth hinge being 2 to 6 mm off', () => {
    const spoilt = drawHinges((rad, i) => readCrown(TRUE_CROWN, rad) + (i % 5 === 0 ? (i % 2 === 0 ? 1 : -1) * (2 + 4 * uniformAt(3, i, 0)) : 0));
    const { crown } = refineCrown(spoilt, OFF_CROWN);
    for (let i = 0; i < 3; i++) expectWithin(crown.nadirMm[i]!, TRUE_CROWN.nadirMm[i]!, { relative: 0, absolute: 0.25, from: 'an outlier pulls with 1 / (1 + its size) from 1.5 SD on' });
  });
  test('is not moved at all by hinges that are not to be trusted', () => {
    const wrong = exact.map((h) => ({ ...h, azimuthRad: h.azimuthRad + 0.05, heightMm: h.heightMm + 5, misfit: 0.3 }));
    expect(refineCrown([...exact, ...wrong], OFF_CROWN).crown).toEqual(refineCrown(exact, OFF_CROWN).crown);
    expect([{ misfit: 0.16 }, { heightSdMm: 0.7 }, { leafletMm: 3 }, { leafletMm: 0.05 }].map((c) => isTrusted({ ...exact[0]!, ...c }))).toEqual([false, false, false, false]);
  });
  test('states SDs that hold the error of noisy points', () => {
    let over = 0;
    let all = 0;
    for (let n = 0; n < 20; n++) {
      const noisy = drawHinges((rad, i) => readCrown(TRUE_CROWN, rad) + 0.4 * normalAt(9, i, n));
      const { crown, nadirSdMm } = refineCrown(noisy, TRUE_CROWN);
      for (let i = 0; i < 3; i++) {
        all++;
        if (!(Math.abs(crown.nadirMm[i]! - TRUE_CROWN.nadirMm[i]!) <= 2 * nadirSdMm[i]!)) over++;
      }
    }
    // Three of 60 lie beyond two SDs of a Gaussian; ten and more would be a chance of 0.1 %.
    expect(over / all).toBeLessThan(10 / 60);
  });
  test('without any hinge keeps near the start and says that nothing supports it', () => {
    const { support, scatterMm, crown } = refineCrown([], TRUE_CROWN);
    expect(support).toEqual([0, 0, 0]);
    expect(scatterMm).toBe(Infinity);
    for (let i = 0; i < 3; i++) expectWithin(crown.nadirRad[i]!, TRUE_CROWN.nadirRad[i]!, { relative: 0, absolute: 0.05, from: 'the priors already hold at the start' });
  });
});
