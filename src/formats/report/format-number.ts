import { REPORT_EN } from '../../core/text/report-en.ts';
import { formatText } from '../../core/text/catalogue.ts';
import type { Fact, Ucum } from '../../core/units/fact.ts';

const MINUS = '\u2212';
const EN_DASH = '\u2013';
/** Digits after the point that are shown at most, and the sign of the unit. */
const UNITS: Readonly<Record<Ucum, { readonly sign: string; readonly decimals: number }>> = {
  mm: { sign: ' mm', decimals: 1 },
  mm2: { sign: ' mm²', decimals: 0 },
  mm3: { sign: ' mm³', decimals: 0 },
  deg: { sign: '°', decimals: 0 },
  '1': { sign: '', decimals: 2 },
  "[hnsf'U]": { sign: ' HU', decimals: 0 },
  '%': { sign: ' %', decimals: 0 },
  ms: { sign: ' ms', decimals: 0 },
  '/min': { sign: ' /min', decimals: 0 },
  "{Agatston'U}": { sign: ' AU', decimals: 0 },
  N: { sign: ' N', decimals: 1 },
  'mm[Hg]': { sign: ' mmHg', decimals: 0 },
  'mm[Hg]/s': { sign: ' mmHg/s', decimals: 0 },
  s: { sign: ' s', decimals: 2 },
  '/s': { sign: ' /s', decimals: 2 },
  Hz: { sign: ' Hz', decimals: 1 },
  cm2: { sign: ' cm²', decimals: 2 },
  cm: { sign: ' cm', decimals: 1 },
  'm/s': { sign: ' m/s', decimals: 2 },
  mL: { sign: ' mL', decimals: 0 },
  'mL/m2': { sign: ' mL/m²', decimals: 1 },
  'cm2/m2': { sign: ' cm²/m²', decimals: 2 },
  m2: { sign: ' m²', decimals: 2 },
  'kg/m2': { sign: ' kg/m²', decimals: 1 },
};

/**
 * The one way a number becomes text: fixed decimals (negative ones round to tens, hundreds), a true minus sign, never
 * "-0"; a dash for what is not a number.
 */
export function formatNumber(value: number, decimals: number): string {
  const text = roundToText(value, decimals, 'nearest');
  return text.replace('-', MINUS);
}

/** A share as whole per cent; what is not all or nothing never reads so. */
export function formatShare(ratio: number): string {
  if (ratio < 1 && ratio >= 0.995) return 'over 99 %';
  if (ratio > 0 && ratio < 0.005) return 'under 1 %';
  return `${formatNumber(100 * ratio, 0)} %`;
}

/** A coordinate inside SVG or CSS: two decimals without trailing zeros, plain minus; 0 for what is not a number. */
export function formatCoordinate(value: number): string {
  if (!Number.isFinite(value) || Math.abs(value) > 1e7) return '0';
  const text = value.toFixed(2).replace(/\.?0+$/, '');
  return text === '-0' ? '0' : text;
}

function roundToText(value: number, decimals: number, way: 'nearest' | 'down' | 'up'): string {
  if (!Number.isFinite(value)) return EN_DASH;
  const step = 10 ** -decimals;
  // The slack keeps 23.9 (which is not exact in binary) from becoming 23.8 when rounded down.
  const slack = 1e-9 * Math.max(1, Math.abs(value / step));
  const steps =
    way === 'down' ? Math.floor(value / step + slack) : way === 'up' ? Math.ceil(value / step - slack) : Math.round(value / step);
  const text = (steps * step).toFixed(Math.max(0, decimals));
  return Number(text) === 0 ? text.replace('-', '') : text;
}

/**
 * Decimals worth showing for an interval: its half-width keeps one digit, or two when it begins with 1 or 2; never
 * more than the unit allows.
 */
export function chooseDecimals(fact: Fact): number {
  const most = UNITS[fact.unit]?.decimals ?? 1;
  const half = ((fact.high ?? NaN) - (fact.low ?? NaN)) / 2;
  if (!(half > 0 && Number.isFinite(half))) return most;
  const exponent = Math.floor(Math.log10(half) + 1e-9);
  const lead = half / 10 ** exponent;
  return Math.min(most, lead >= 2.999 ? -exponent : 1 - exponent);
}

export interface FactWords {
  /** "24.3 mm" */
  readonly value: string;
  /** "(23.9–24.7)"; rounded outward, so that it is never narrower than the true interval. */
  readonly interval: string;
}

/** "24.3 mm" and "(23.9–24.7)"; null for a fact that was refused. */
export function formatFact(fact: Fact): FactWords | null {
  if (!isAnswered(fact)) return null;
  const decimals = chooseDecimals(fact);
  const sign = UNITS[fact.unit]?.sign ?? '';
  const low = roundToText(fact.low, decimals, 'down').replace('-', MINUS);
  const high = roundToText(fact.high, decimals, 'up').replace('-', MINUS);
  const joint = fact.low < 0 ? ' to ' : EN_DASH;
  return { value: formatNumber(fact.value, decimals) + sign, interval: `(${low}${joint}${high})` };
}

/** Heights in words instead of signs: "6.5 mm below" and "(5.7–7.3)"; an interval across the plane names both sides. */
export function formatHeightFact(fact: Fact): FactWords | null {
  if (!isAnswered(fact)) return null;
  const decimals = chooseDecimals(fact);
  const isBelow = fact.value < 0;
  const value = formatText(REPORT_EN, isBelow ? 'belowMm' : 'aboveMm', { mm: formatNumber(Math.abs(fact.value), decimals) });
  const [near, far] = isBelow ? [-fact.high, -fact.low] : [fact.low, fact.high];
  if (near >= 0) {
    return { value, interval: `(${roundToText(near, decimals, 'down')}${EN_DASH}${roundToText(far, decimals, 'up')})` };
  }
  const low = formatText(REPORT_EN, 'below', { mm: roundToText(-fact.low, decimals, 'up') });
  const high = formatText(REPORT_EN, 'above', { mm: roundToText(fact.high, decimals, 'up') });
  return { value, interval: `(${low} to ${high})` };
}

/** A signed height without an interval, in words: "5 mm below". */
export function formatHeight(heightMm: number, decimals = 1): string {
  const mm = formatNumber(Math.abs(heightMm), Number.isInteger(heightMm) ? 0 : decimals);
  return formatText(REPORT_EN, heightMm < 0 ? 'belowMm' : 'aboveMm', { mm });
}

/** A fact with a finite value and interval; everything else is shown in words. */
export function isAnswered(fact: Fact): fact is Fact & { readonly value: number; readonly low: number; readonly high: number } {
  return fact.status !== 'refused' && Number.isFinite(fact.value ?? NaN) && Number.isFinite(fact.low ?? NaN) &&
    Number.isFinite(fact.high ?? NaN);
}
