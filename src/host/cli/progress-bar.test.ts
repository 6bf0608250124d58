import { describe, expect, test } from 'vitest';
import { makeProgressBar } from './progress-bar.ts';

function listen(isTerminal: boolean, quiet = false): { texts: string[]; bar: ReturnType<typeof makeProgressBar> } {
  const texts: string[] = [];
  const io = { out: () => { throw new Error('progress must not reach standard output'); }, err: (t: string) => void texts.push(t), isTerminal };
  return { texts, bar: makeProgressBar(io, { quiet }) };
}

describe('makeProgressBar', () => {
  test('draws over one line on a terminal, inside 80 columns, and wipes it at the end', () => {
    const { texts, bar } = listen(true);
    bar.step('Reading a series with a very long name that would not fit on a line of the terminal');
    for (let k = 0; k <= 1000; k++) bar.report(k / 1000);
    bar.end();
    expect(texts.some((t) => t.includes('\n'))).toBe(false);
    expect(texts.every((t) => t.replace('\r\u001b[K', '').length <= 80)).toBe(true);
    expect(texts.at(-2)).toContain('100 %');
    expect(texts.at(-1)).toBe('\r\u001b[K');
    expect(texts.length).toBeLessThan(150); // one drawing per visible change, not per report
  });
  test('stays inside the bar for shares below 0, above 1 and not a number', () => {
    const { texts, bar } = listen(true);
    bar.step('x');
    for (const ratio of [-1, 2, Number.NaN]) bar.report(ratio);
    expect(texts.every((t) => /\[[= ]{24}\]/.test(t))).toBe(true);
  });
  test('writes one plain line per step elsewhere', () => {
    const { texts, bar } = listen(false);
    bar.step('Reading 400 slices');
    bar.report(0.5);
    bar.step('Measuring the root');
    bar.end();
    expect(texts).toEqual(['Reading 400 slices\n', 'Measuring the root\n']);
  });
  test('is silent when quiet, on a terminal and elsewhere', () => {
    for (const isTerminal of [true, false]) {
      const { texts, bar } = listen(isTerminal, true);
      bar.step('x');
      bar.report(0.5);
      bar.end();
      expect(texts).toEqual([]);
    }
  });
});
