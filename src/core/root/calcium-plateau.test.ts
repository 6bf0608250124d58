import { describe, expect, test } from 'vitest';
import { uniformAt } from '../math/random.ts';
import { widenPeaks } from './calcium-plateau.ts';

const DIMS = [7, 6, 5] as const;
const REACH = [2, 1, 1] as const;
const values = Float32Array.from({ length: DIMS[0] * DIMS[1] * DIMS[2] }, (_, i) => Math.fround(uniformAt(3, i, 0)));

describe('widenPeaks', () => {
  test('gives at each place the greatest value of the box around it, cut off at the ends', () => {
    const wide = values.slice();
    widenPeaks(wide, DIMS, REACH);
    for (let k = 0; k < DIMS[2]; k++) for (let j = 0; j < DIMS[1]; j++) for (let i = 0; i < DIMS[0]; i++) {
      let most = -Infinity;
      for (let c = Math.max(0, k - REACH[2]); c <= Math.min(DIMS[2] - 1, k + REACH[2]); c++) {
        for (let b = Math.max(0, j - REACH[1]); b <= Math.min(DIMS[1] - 1, j + REACH[1]); b++) {
          for (let a = Math.max(0, i - REACH[0]); a <= Math.min(DIMS[0] - 1, i + REACH[0]); a++) most = Math.max(most, values[(c * DIMS[1] + b) * DIMS[0] + a]!);
        }
      }
      expect(wide[(k * DIMS[1] + j) * DIMS[0] + i]).toBe(most);
    }
  });
  test('with no reach leaves everything as it is', () => {
    const same = values.slice();
    widenPeaks(same, DIMS, [0, 0, 0]);
    expect(same).toEqual(values);
  });
});
