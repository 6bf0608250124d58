import { describe, expect, test } from 'vitest';
import { makePolarBlock } from '../../../test/support/survey-fixtures.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { normalCdf } from '../math/normal-cdf.ts';
import { normalAt } from '../math/random.ts';
import { refineWall } from './refine-wall.ts';

const SPEC = { lowMm: -5, heightStepMm: 0.5, heights: 21, azimuths: 48, radiusStepMm: 0.3, radii: 88 } as const;
const BLOOD = 400;
const TRUE_MM = 12.37;

interface Case {
  readonly wallMm: number;
  readonly wallHu: number;
  readonly outsideHu: number;
  readonly blurMm: number;
  readonly noiseHu?: number;
}
/** Blood, a wall, then what lies outside, blurred by a Gaussian: the exact profile of a flat wall. */
function measureBias(c: Case): { biasMm: number; sdMm: number; blurMm: number } {
  let n = 0;
  const block = makePolarBlock(SPEC, (_rad, _mm, r) => {
    const clean = BLOOD - (BLOOD - c.wallHu) * normalCdf((r - TRUE_MM) / c.blurMm) + (c.outsideHu - c.wallHu) * normalCdf((r - TRUE_MM - c.wallMm) / c.blurMm);
    return clean + (c.noiseHu ?? 0) * normalAt(17, n++, 0);
  });
  const coarse = { heights: SPEC.heights, azimuths: SPEC.azimuths, radiusMm: new Float64Array(SPEC.heights * SPEC.azimuths).fill(12.3) };
  const fine = refineWall(block, coarse, BLOOD, 0.6, c.noiseHu ?? 5);
  const mean = fine.radiusMm.reduce((s, v) => s + v, 0) / fine.radiusMm.length;
  const variance = fine.radiusMm.reduce((s, v) => s + (v - mean) ** 2, 0) / fine.radiusMm.length;
  return { biasMm: mean - TRUE_MM, sdMm: Math.sqrt(variance), blurMm: fine.blurMm };
}

describe('refineWall', () => {
  // Two edges nearer than twice the blur are one to the eye: there the bias grows, and its sign is the neighbour's.
  for (const [name, outsideHu, thickMm, thinMm] of [['lung', -850, 0.05, 0.16], ['fat', -95, 0.05, 0.06], ['a second chamber', 350, 0.03, 0.06]] as const) {
    test(`finds a wall before ${name} without bias when it is thrice as thick as the blur, and with a small one at 1.7 times`, () => {
      for (const [wallMm, blurMm] of [[1.5, 0.45], [2, 0.45], [2, 0.6]] as const) {
        expectWithin(measureBias({ wallMm, wallHu: 60, outsideHu, blurMm }).biasMm, 0, { relative: 0, absolute: thickMm, from: 'an edge model with wall and outside; a tenth of the blur' });
      }
      expectWithin(measureBias({ wallMm: 1, wallHu: 60, outsideHu, blurMm: 0.6 }).biasMm, 0, { relative: 0, absolute: thinMm, from: 'measured; the priors of tissue and wall settle what the profile leaves open' });
    });
  }
  test('errs inward before lung and outward before a chamber when wall and blur are alike', () => {
    const wall = { wallMm: 1, wallHu: 60, blurMm: 0.8 };
    const [lung, chamber] = [measureBias({ ...wall, outsideHu: -850 }), measureBias({ ...wall, outsideHu: 350 })];
    expect(lung.biasMm).toBeLessThan(0);
    expect(chamber.biasMm).toBeGreaterThan(0);
    for (const { biasMm } of [lung, chamber]) expectWithin(biasMm, 0, { relative: 0, absolute: 0.4, from: 'half the blur' });
  });
  test('recovers the blur of thick walls', () => {
    for (const blurMm of [0.5, 0.7, 0.9]) {
      const found = measureBias({ wallMm: 5, wallHu: 70, outsideHu: 70, blurMm });
      expectWithin(found.blurMm, blurMm, { relative: 0.1, absolute: 0, from: 'prior of 0.15 mm about the guess of 0.6' });
      expectWithin(found.biasMm, 0, { relative: 0, absolute: 0.05, from: 'a twentieth of a millimetre, docblock' });
    }
  });
  test('noise of 40 HU moves the wall by no more than it says', () => {
    const { biasMm, sdMm } = measureBias({ wallMm: 1.5, wallHu: 60, outsideHu: -95, blurMm: 0.6, noiseHu: 40 });
    expectWithin(biasMm, 0, { relative: 0, absolute: 0.03, from: 'two SDs of the mean of 1008 columns, 49 to a window, plus the bias without noise' });
    expectWithin(sdMm, 0, { relative: 0, absolute: 0.06, from: '40 HU over a slope of 230 HU/mm and the root of 12 independent columns' });
  });
  test('keeps the coarse wall where no edge lies within reach', () => {
    const even = makePolarBlock(SPEC, () => BLOOD);
    const coarse = { heights: SPEC.heights, azimuths: SPEC.azimuths, radiusMm: new Float64Array(SPEC.heights * SPEC.azimuths).fill(12.3) };
    const fine = refineWall(even, coarse, BLOOD, 0.6, 20);
    expect(fine.isEdge.every((v) => v === 0)).toBe(true);
    expect([...fine.radiusMm]).toEqual([...coarse.radiusMm]);
    expect(fine.noiseSdMm.every((v) => v === 0.5)).toBe(true);
  });
});
