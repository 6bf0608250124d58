import { describe, expect, test } from 'vitest';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { findChannelKind } from './find-channel-kind.ts';
import { readUnit } from './read-unit.ts';

describe('findChannelKind', () => {
  test.each([
    ['AO', 'mmHg', 'aortic'], ['AoP', 'mmHg', 'aortic'], ['P_ao', 'mmHg', 'aortic'], ['Ascending Aorta', 'mmHg', 'aortic'], ['Aortic pressure', null, 'aortic'], ['aoPress', 'kPa', 'aortic'],
    ['ABP', 'mmHg', 'aortic'], ['ART', 'mmHg', 'aortic'], ['Press LV', 'mmHg', 'ventricular'], ['LVP', 'kPa', 'ventricular'], ['left ventricle', 'mmHg', 'ventricular'], ['Linker Ventrikel', null, 'ventricular'],
    ['PA', 'mmHg', 'pulmonary'], ['PAP', 'mmHg', 'pulmonary'], ['RV', 'mmHg', 'other'], ['right ventricle', 'mmHg', 'other'], ['PCWP', 'mmHg', 'other'], ['LA', 'mmHg', 'other'], ['CVP', 'mmHg', 'other'],
    ['II', 'mV', 'ecg'], ['Lead aVF', 'uV', 'ecg'], ['ECG V2', 'mV', 'ecg'], ['MLII', 'mV', 'ecg'], ['MCL1', 'mV', 'ecg'], ['V', 'mV', 'ecg'], ['Lead I (Einthoven)', 'uV', 'ecg'],
    ['RESP', 'mV', 'other'], ['PLETH', 'mV', 'other'], ['ABP', 'mV', 'other'], ['II', 'mmHg', 'other'], ['ECG', 'bpm', 'other'], ['Paper', null, 'other'], ['start', null, 'other'],
  ])('%s in %s is %s', (label, unit, kind) => {
    expect(findChannelKind(label, '', readUnit(unit)).kind).toBe(kind);
  });
});

describe('readUnit', () => {
  test.each([['mmHg', 1], ['mm[Hg]', 1], ['kPa', 1000 / (13.5951 * 9.80665)], ['cmH2O', 10 / 13.5951], ['mbar', 100 / (13.5951 * 9.80665)], ['mV', 1], ['uV', 0.001], ['µV', 0.001], ['V', 1000]])('one %s', (unit, factor) => {
    expectWithin(readUnit(unit)!.factor, factor, { relative: 1e-8, absolute: 0, from: 'the constant is written with twelve digits' });
  });
  test('what is no pressure and no voltage keeps its word; none is none', () => {
    expect([readUnit('ohm'), readUnit(''), readUnit(null), readUnit('constructor')]).toEqual([{ quantity: 'other', unit: 'ohm', factor: 1 }, null, null, { quantity: 'other', unit: 'constructor', factor: 1 }]);
  });
});
