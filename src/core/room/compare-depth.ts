import { WORLDS, type ReleaseForecast, type ReleaseVerdict, type StartForecast, type World } from '../release/release-types.ts';
import type { DepthReading } from '../projection/depth-types.ts';

/** A read depth against one that was planned (job.md, D51): told apart only when the plan lies outside the band. */
export interface PlannedDifference {
  readonly plannedMm: number;
  /** Read minus planned, + toward the ventricle. */
  readonly differenceMm: number;
  readonly lowMm: number;
  readonly highMm: number;
  readonly verdict: 'cannot tell apart' | 'deeper' | 'higher';
}

/**
 * Units     mm, + toward the ventricle
 * Equation  difference = read - planned with the reading's own 95 % band; `deeper` when all of it is above 0, `higher` when
 *           all of it is below
 * Fails     never
 */
export function compareWithPlanned(reading: Pick<DepthReading, 'depthMm' | 'lowMm' | 'highMm'>, plannedMm: number): PlannedDifference {
  const lowMm = reading.lowMm - plannedMm;
  const highMm = reading.highMm - plannedMm;
  return { plannedMm, differenceMm: reading.depthMm - plannedMm, lowMm, highMm, verdict: lowMm > 0 ? 'deeper' : highMm < 0 ? 'higher' : 'cannot tell apart' };
}

/** What one world says of a start, and how a depth read afterwards lies to it. */
export interface WorldDepth {
  readonly answer: ReleaseVerdict;
  /** 95 % of the final depth; null where the frame leaves the landing zone or nothing was forecast. */
  readonly finalMm: { readonly value: number; readonly low: number; readonly high: number } | null;
  /** How the reading's band lies to the world's; null without one of them. */
  readonly fits: 'meets' | 'deeper' | 'higher' | null;
}
export interface ForecastComparison {
  /** The forecast's start that is nearest to the one asked for, mm. */
  readonly startMm: number;
  readonly worlds: Readonly<Record<World, WorldDepth>>;
}
/** Further from every forecast start than this, the forecast does not speak of it: half its coarsest step. */
const MOST_AWAY_MM = 1;

/**
 * The forecast of the start nearest to `startMm`, with the final depth of each world beside a reading (null: before the
 * release there is none to compare).
 * Fails     null: without a forecast, or none within 1 mm of that start
 */
export function compareWithForecast(release: ReleaseForecast | undefined, startMm: number, reading: Pick<DepthReading, 'lowMm' | 'highMm'> | null): ForecastComparison | null {
  const near = release?.sweep.reduce<StartForecast | null>((best, s) => (best && Math.abs(best.startMm - startMm) <= Math.abs(s.startMm - startMm) ? best : s), null);
  if (!near || !(Math.abs(near.startMm - startMm) <= MOST_AWAY_MM)) return null;
  const worlds = Object.fromEntries(WORLDS.map((world): [World, WorldDepth] => {
    const { answer, finalDepthMm: { value, low, high, status } } = near.worlds[world];
    const finalMm = status !== 'refused' && value !== null && low !== null && high !== null ? { value, low, high } : null;
    const fits = finalMm && reading ? (reading.lowMm > finalMm.high ? 'deeper' : reading.highMm < finalMm.low ? 'higher' : 'meets') : null;
    return [world, { answer, finalMm, fits }];
  }));
  return { startMm: near.startMm, worlds: worlds as Record<World, WorldDepth> };
}
