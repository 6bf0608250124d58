import { describe, expect, it } from 'vitest';
import type { Crown } from './find-crown.ts';
import { raiseCommissures } from './settle-crown.ts';

const crown = (commissureMm: readonly number[]): Crown => ({ nadirRad: [0.5, 2.6, 4.7], nadirMm: [0, 0.4, -0.2], commissureRad: [1.5, 3.7, 6.1], commissureMm: [...commissureMm] });

describe('commissures that stand too low', () => {
  it('are none on a usual crown', () => expect(raiseCommissures(crown([15, 18, 9]))).toBeNull());
  it('are set midway between their nadirs at their usual height; the others stay where they are', () => {
    const raised = raiseCommissures(crown([15, 18, 4.2]))!;
    expect(raised.commissureMm).toEqual([15, 18, 14.9]); // the mean of nadirs 3 and 1 is -0.1
    expect(raised.commissureRad.slice(0, 2)).toEqual([1.5, 3.7]);
    expect(raised.commissureRad[2]).toBeCloseTo((4.7 + 0.5 + 2 * Math.PI) / 2, 9); // across the start of the circle
    expect(raised.nadirMm).toEqual([0, 0.4, -0.2]);
  });
});
