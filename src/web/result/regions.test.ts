import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { addPoint, dropPoint, findMiddle, moveRegion, putPoint, type Polygon } from './regions.ts';

const SIZE = { columns: 512, rows: 400 };
const SQUARE: Polygon = [[10, 10], [50, 10], [50, 50], [10, 50]];
describe('regions that a person moves', () => {
  test('the whole one keeps its shape and stays in the picture, however far it is pushed', () => {
    expect(moveRegion(SQUARE, [5, -20], SIZE)).toEqual([[15, 0], [55, 0], [55, 40], [15, 40]]);
    const distance = fc.integer({ min: -2000, max: 2000 });
    fc.assert(fc.property(distance, distance, (dc, dr) => {
      const moved = moveRegion(SQUARE, [dc, dr], SIZE);
      const [a, b] = [findMiddle(SQUARE), findMiddle(moved)];
      moved.forEach(([c, r], i) => {
        expect(c >= 0 && r >= 0 && c <= SIZE.columns - 1 && r <= SIZE.rows - 1).toBe(true);
        // one tenth of a pixel is kept: half of it each way
        expect(Math.abs(c - b[0] - (SQUARE[i]![0] - a[0]))).toBeLessThanOrEqual(0.1);
        expect(Math.abs(r - b[1] - (SQUARE[i]![1] - a[1]))).toBeLessThanOrEqual(0.1);
      });
    }), { seed: 20260302, numRuns: 200 });
  });
  test('one point goes where it is put, or to the edge; a further one joins the nearest side', () => {
    expect(putPoint(SQUARE, 1, [600, -5], SIZE)).toEqual([[10, 10], [511, 0], [50, 50], [10, 50]]);
    expect(addPoint(SQUARE, [52, 30])).toEqual([[10, 10], [50, 10], [52, 30], [50, 50], [10, 50]]);
    expect(addPoint([], [1, 2])).toEqual([[1, 2]]);
    expect(dropPoint(SQUARE, 0)).toHaveLength(3);
    expect(moveRegion([], [1, 1], SIZE)).toEqual([]);
  });
});
