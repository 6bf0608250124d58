import { expect, test } from 'vitest';
import { findCounting } from './find-counting.ts';

const line = (seq: number, takenAt: string, change: object = {}) => ({ seq, at: '2026-03-02T09:00:00.000Z', takenAt, note: null, withdrawn: null, ...change });
test('of several witnesses the one taken last counts, also when it was handed in first; a withdrawn one never', () => {
  const [early, late] = [line(2, '2026-03-02T10:00:00.000Z'), line(1, '2026-03-02T10:05:00.000Z')];
  expect(findCounting([early, late])).toBe(late);
  expect(findCounting([early, { ...late, withdrawn: { because: 'x' } }])).toBe(early);
  const noted = { ...early, note: { takenAt: '2026-03-02T10:09:00.000Z', heartRatePerMin: null, loadingNote: null } };
  expect(findCounting([noted, late])).toBe(noted);
  expect(findCounting([line(1, '2026-03-02T10:00:00.000Z'), line(5, '2026-03-02T10:00:00.000Z')])!.seq).toBe(5);
  expect(findCounting([])).toBeNull();
});
