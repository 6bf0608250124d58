/** What a unit measures, and how many of its base one of it is. */
interface UnitOf {
  readonly quantity: string;
  readonly factor: number;
}
const table = (quantity: string, factors: Readonly<Record<string, number>>): readonly (readonly [string, UnitOf])[] => Object.entries(factors).map(([unit, factor]) => [unit, { quantity, factor }]);

/** UCUM, case as UCUM has it; a few spellings that machines write instead. Base units: m, m/s, m2, mL, mm[Hg], s, 1, /s. */
const UNITS: ReadonlyMap<string, UnitOf> = new Map([
  ...table('length', { m: 1, cm: 0.01, mm: 0.001, um: 1e-6 }),
  ...table('velocity', { 'm/s': 1, 'cm/s': 0.01, 'mm/s': 0.001, 'm/sec': 1, 'cm/sec': 0.01, 'm.s-1': 1, 'cm.s-1': 0.01 }),
  ...table('area', { m2: 1, cm2: 1e-4, mm2: 1e-6, 'cm^2': 1e-4 }),
  ...table('volume', { mL: 1, ml: 1, cm3: 1, L: 1000, l: 1000, dL: 100, dl: 100, mm3: 0.001, cc: 1 }),
  ...table('pressure', { 'mm[Hg]': 1, mmHg: 1, kPa: 1000 / 133.322387415, Pa: 1 / 133.322387415, 'cm[H2O]': 98.0665 / 133.322387415 }),
  ...table('time', { s: 1, ms: 0.001, us: 1e-6, sec: 1, msec: 0.001, min: 60 }),
  ...table('share', { '1': 1, '%': 0.01, '{ratio}': 1, ratio: 1 }),
  ...table('rate', { '/min': 1 / 60, '/s': 1, '{beats}/min': 1 / 60, '{H.B.}/min': 1 / 60, '{beat}/min': 1 / 60, 'bpm': 1 / 60, BPM: 1 / 60, '1/min': 1 / 60, 'Hz': 1 }),
]);

/**
 * A value in another unit of the same quantity. null: the unit is not known, or measures something else.
 * Source   UCUM; mmHg of 133.322387415 Pa
 */
export function convertUcum(value: number, from: string, to: string): number | null {
  const [a, b] = [UNITS.get(from.trim()), UNITS.get(to)];
  if (a === undefined || b === undefined || a.quantity !== b.quantity) return null;
  return from.trim() === to ? value : (value * a.factor) / b.factor;
}
