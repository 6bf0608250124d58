import type { LandingWindow } from '../../core/deployment/landing-types.ts';
import { formatNumber } from './format-number.ts';

/** The depths of a landing window as text, mm; a shown value never lies outside the window it came from. */
export interface WindowWords {
  readonly start: string;
  readonly aimLow: string;
  readonly aimHigh: string;
  readonly stop: string;
}

/** Start, aim and stop with one decimal, each rounded into its own limits. null for an empty window. */
export function formatWindow(w: LandingWindow): WindowWords | null {
  const { startMm, aimLowMm, aimHighMm, stopMm } = w;
  if (w.empty || startMm === null || aimLowMm === null || aimHighMm === null || stopMm === null) return null;
  const anatomy = w.limits.filter((l) => l.code !== 'device-window');
  const least = Math.max(...anatomy.map((l) => l.lowMm ?? -Infinity));
  const most = Math.min(...anatomy.map((l) => l.highMm ?? Infinity));
  // A window narrower than a tenth keeps the hundredth instead of turning over.
  const digits = roundUp(aimLowMm, 1) > roundDown(aimHighMm, 1) ? 2 : 1;
  const near = Math.round(startMm * 10) / 10;
  const start = near > most + SLACK ? roundDown(startMm, 1) : near < least - SLACK ? roundUp(startMm, 1) : near;
  return {
    start: formatNumber(start, 1), stop: formatNumber(roundDown(stopMm, 1), 1),
    aimLow: formatNumber(roundUp(aimLowMm, digits), digits), aimHigh: formatNumber(roundDown(aimHighMm, digits), digits),
  };
}

/** Keeps 2.3, which is not exact in binary, from becoming 2.2. */
const SLACK = 1e-9;
const roundDown = (v: number, digits: number): number => Math.floor(v * 10 ** digits + SLACK) / 10 ** digits;
const roundUp = (v: number, digits: number): number => Math.ceil(v * 10 ** digits - SLACK) / 10 ** digits;
