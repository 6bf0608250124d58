import { expect, test } from 'vitest';
import { findCentre } from './find-centre.ts';

test('findCentre: the middle of an oblique, unequal grid', () => {
  const centre = findCentre({ dims: [3, 5, 9], lpsFromVoxel: { to: 'lps', from: 'voxel', rows: [0, 1, 0, 100, 0.5, 0, 0, -20, 0, 0, -2, 7] } });
  expect([...centre]).toEqual([102, -19.5, -1]);
});
