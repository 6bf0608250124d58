import { describe, expect, test } from 'vitest';
import { drawTracePath, findTop, listTicks } from './trace-path.ts';

describe('the path of a curve', () => {
  test('goes through single samples once, spans a column of many, and breaks where none are', () => {
    expect(drawTracePath([1, 2, null, 3], [1, 4, null, 3], 0, 40, (v) => 10 * v)).toBe('M5.0 10.0L15.0 20.0L15.0 40.0M35.0 30.0');
    expect(drawTracePath([], [], 0, 40, (v) => v)).toBe('');
    expect(drawTracePath([null], [null], 0, 40, (v) => v)).toBe('');
  });
  test('the scale ends on a round number above all, and never hides a low curve in a high one', () => {
    expect([findTop([]), findTop([null, 12]), findTop([118]), findTop([136.5])]).toEqual([60, 60, 140, 160]);
    expect(listTicks(0, 60, 20)).toEqual([0, 20, 40, 60]);
    expect(listTicks(-20, 20, 20)).toEqual([-20, 0, 20]);
  });
});
