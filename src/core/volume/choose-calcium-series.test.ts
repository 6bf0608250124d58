import { describe, expect, test } from 'vitest';
import { chooseCalciumSeries, type CalciumCandidate } from './choose-calcium-series.ts';

const GOOD: CalciumCandidate = {
  key: 'b', frameOfReferenceUid: '1.2', isContrastDeclared: null, sliceThicknessMm: 3, stepMm: 3, slices: 44, leanDeg: 0, isGated: true, kvp: 120,
};
const measured = { key: 'root', frameOfReferenceUid: '1.2' };
const keysOf = (...others: Partial<CalciumCandidate>[]): readonly string[] =>
  chooseCalciumSeries(others.map((other, i) => ({ ...GOOD, key: `s${i}`, ...other })), measured).keys;

describe('chooseCalciumSeries', () => {
  test('takes axial series of 2.5 to 3 mm without contrast, overlapping or not', () => {
    expect(keysOf({ sliceThicknessMm: 2.5, stepMm: 1.25 }, {}, { stepMm: 1.5 })).toEqual(['s1', 's2', 's0']);
  });
  test('leaves out each that cannot be scored', () => {
    const wrong: Partial<CalciumCandidate>[] = [
      { isContrastDeclared: true }, { sliceThicknessMm: null }, { sliceThicknessMm: 2.4 }, { sliceThicknessMm: 3.1 },
      { stepMm: 5 }, { stepMm: 0 }, { slices: 7 }, { leanDeg: 11 }, { key: 'root' },
    ];
    for (const other of wrong) expect(chooseCalciumSeries([{ ...GOOD, ...other }], measured), JSON.stringify(other)).toEqual({ keys: [], elsewhere: 0 });
  });
  test('counts those of another frame of reference, and takes none where the measured series names none', () => {
    expect(chooseCalciumSeries([{ ...GOOD, frameOfReferenceUid: '1.3' }], measured)).toEqual({ keys: [], elsewhere: 1 });
    expect(chooseCalciumSeries([{ ...GOOD, frameOfReferenceUid: null }], { key: 'root', frameOfReferenceUid: null })).toEqual({ keys: [], elsewhere: 1 });
  });
  test('puts the gated one first, then 3 mm, then 120 kV, then the longer one, whatever the order', () => {
    const list = [{ slices: 30 }, { kvp: 100 }, { sliceThicknessMm: 2.5 }, { isGated: false }, {}];
    expect(keysOf(...list)).toEqual(['s4', 's0', 's1', 's2', 's3']);
    expect(keysOf(...[...list].reverse())).toEqual(['s0', 's4', 's3', 's2', 's1']);
  });
});
