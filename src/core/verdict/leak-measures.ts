import type { Fact, Reason } from '../units/fact.ts';
import type { WitnessKind } from './verdict-types.ts';

/**
 * Every measure that a leak rule may speak of, with the one unit its rules must have. `rate`: how heart rate spoils it.
 * A short diastole keeps diastolic pressure up and hides a leak, a long one lets it run off and feigns one.
 */
export const LEAK_MEASURES = {
  'ar-index': { kind: 'pressure', unit: '1', rate: 'spoils' },
  'ar-index-ratio': { kind: 'pressure', unit: '1', rate: 'spoils' },
  'diastolic-delta': { kind: 'pressure', unit: 'mm[Hg]', rate: 'spoils' },
  'rate-adjusted-delta': { kind: 'pressure', unit: 'mm[Hg]', rate: 'adjusted' },
  'pressure-time': { kind: 'pressure', unit: '1', rate: 'spoils' },
  'density-ratio': { kind: 'angiogram', unit: '1', rate: 'none' },
  'circumference': { kind: 'echo', unit: '%', rate: 'none' },
  'regurgitant-volume': { kind: 'echo', unit: 'mL', rate: 'none' },
  'regurgitant-fraction': { kind: 'echo', unit: '%', rate: 'none' },
  'regurgitant-orifice': { kind: 'echo', unit: 'cm2', rate: 'none' },
  'vena-contracta': { kind: 'echo', unit: 'cm', rate: 'none' },
  'pressure-half-time': { kind: 'echo', unit: 'ms', rate: 'none' },
  'jet-width': { kind: 'echo', unit: '%', rate: 'none' },
} as const satisfies Readonly<Record<string, { readonly kind: WitnessKind; readonly unit: string; readonly rate: 'spoils' | 'adjusted' | 'none' }>>;
export type LeakMeasureCode = keyof typeof LEAK_MEASURES;

/** One measured number with its 95 % interval, in the unit of LEAK_MEASURES; value null: refused, with reasons. */
export interface LeakMeasure {
  readonly code: LeakMeasureCode;
  readonly value: number | null;
  readonly low: number | null;
  readonly high: number | null;
  readonly unit: string;
  readonly reasons: readonly Reason[];
}

/** A fact as a measure, its doubts kept. */
export function readLeakMeasure(code: LeakMeasureCode, fact: Fact): LeakMeasure {
  const { value, low, high, unit, reasons } = fact;
  return { code, value, low, high, unit, reasons };
}
