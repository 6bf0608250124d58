import { describe, expect, test } from 'vitest';
import { addClick, clearPoint, countRounds, findNext, hasNeeded, listMeans, MOST_CLICKS, undoClick, type PointName, type Shot } from './shot.ts';

const EMPTY: Shot = { run: null, size: { columns: 512, rows: 512 }, geometry: { view: null, sourceToImageMm: null, sourceToPatientMm: null, pixelMm: null, pixelAt: 'detector', knownMm: null }, clicks: [] };
const click = (shot: Shot, ...places: readonly (readonly [number, number])[]): Shot => places.reduce((s, at) => addClick(s, findNext(s), at), shot);

describe('clicks on a frame', () => {
  test('the first three clicks are the N cusp and the two inflow ends; then the round begins again', () => {
    const asked: PointName[] = [];
    let shot = EMPTY;
    for (const at of [[250, 200], [230, 230], [290, 232], [251, 201]] as const) {
      asked.push(findNext(shot));
      shot = addClick(shot, findNext(shot), at);
    }
    expect(asked).toEqual(['cuspN', 'inflowA', 'inflowB', 'cuspN']);
    expect(hasNeeded(shot)).toBe(true);
    expect(countRounds(shot)).toBe(1);
  });

  test('repeat clicks are averaged and their spread is told per axis', () => {
    const shot = [[10, 20], [12, 20], [10, 24], [12, 24]].reduce((s, at) => addClick(s, 'cuspN', at as [number, number]), EMPTY);
    const [mean] = listMeans(shot);
    expect(mean!.at).toEqual([11, 22]);
    // Sum of squares 4 * (1 + 4) = 20 over 2 axes and 3 degrees of freedom.
    expect(mean!.sdPx).toBeCloseTo(Math.sqrt(20 / 6), 12);
    expect(listMeans(addClick(EMPTY, 'cuspN', [1, 1]))[0]!.sdPx).toBeNull();
  });

  test('a click at the other inflow end goes to that end, one in between stays with the end it was meant for', () => {
    const shot = click(EMPTY, [250, 200], [230, 230], [290, 230]);
    expect(addClick(shot, 'inflowA', [288, 231]).clicks.at(-1)!.point).toBe('inflowB');
    expect(addClick(shot, 'inflowA', [262, 231]).clicks.at(-1)!.point).toBe('inflowA');
    expect(addClick(shot, 'cuspN', [288, 231]).clicks.at(-1)!.point).toBe('cuspN'); // the cusp may lie anywhere
  });

  test('the last click is taken back, a point is cleared alone, and no point takes clicks without end', () => {
    const shot = click(EMPTY, [250, 200], [230, 230], [290, 230]);
    expect(hasNeeded(undoClick(shot))).toBe(false);
    expect(undoClick(EMPTY).clicks).toEqual([]);
    expect(listMeans(clearPoint(shot, 'inflowA')).map((m) => m.point)).toEqual(['cuspN', 'inflowB']);
    const many = Array.from({ length: MOST_CLICKS + 3 }).reduce<Shot>((s) => addClick(s, 'cuspN', [5, 5]), EMPTY);
    expect(many.clicks).toHaveLength(MOST_CLICKS);
  });
});
