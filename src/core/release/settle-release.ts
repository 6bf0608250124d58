import { concludeForecast, planEnsemble, type ReleaseQuestion } from './forecast-release.ts';
import { findBand } from './judge-verdict.ts';
import { WORLDS, type GeometrySpread, type ReleaseChoice, type ReleaseForecast, type ReleaseVerdict } from './release-types.ts';
import { pickCell, runEnsemblePart } from './run-ensemble.ts';

/** A better measurement that a person could make, and what the forecast would say with it. */
export interface Settling {
  readonly measurement: string;
  readonly answer: ReleaseVerdict;
  /** Width of the 5-95 % band of the movement in the middle world, mm; null when it leaves the landing zone. */
  readonly widthMm: number | null;
  readonly isSettled: boolean;
}

interface Improvement {
  readonly measurement: string;
  readonly spread?: Partial<GeometrySpread>;
  readonly choice?: Partial<ReleaseChoice>;
}
const SURE_RADIUS_MM = 0.2;
const SURE_START_MM = 0.5;
const IMPROVEMENTS: readonly Improvement[] = [
  { measurement: 'outflow radius at −5 and −10 mm to ± 0.2 mm', spread: { outflow5Mm: SURE_RADIUS_MM, outflow10Mm: SURE_RADIUS_MM } },
  { measurement: 'annulus radius to ± 0.2 mm', spread: { annulusMm: SURE_RADIUS_MM } },
  { measurement: 'start depth to ± 0.5 mm', spread: { startMm: SURE_START_MM } },
  { measurement: 'catheter tension known to be neutral', choice: { tension: 'neutral' } },
];

/** Enough to see a verdict turn; each improvement costs as many tables. */
export const SETTLE_RELEASES = 200;

/**
 * What would settle a refused answer: the forecast again with one spread at its improved value and the same draws.
 * Only at the chosen start. Nothing is returned when the answer is not "cannot say".
 */
export function settleRelease(q: ReleaseQuestion, forecast: ReleaseForecast, releases = SETTLE_RELEASES): readonly Settling[] {
  if (forecast.answer !== 'cannot say' || forecast.sweep.length === 0) return [];
  return IMPROVEMENTS.filter((i) => i.choice?.tension === undefined || q.choice.tension === 'unknown').map((improvement) => {
    const better: ReleaseQuestion = {
      ...q, sweepMm: [], releases,
      spread: narrow(q.spread, improvement.spread ?? {}),
      choice: { ...q.choice, ...improvement.choice },
    };
    const plan = planEnsemble(better);
    const part = runEnsemblePart({ ...plan, withUndamped: false }, 0, releases);
    const then = concludeForecast(better, part);
    const band = findBand(pickCell(part.movementMm, plan, 0, WORLDS.indexOf('middle')));
    return {
      measurement: improvement.measurement,
      answer: then.answer,
      widthMm: Number.isFinite(band.high - band.low) ? band.high - band.low : null,
      isSettled: then.answer !== 'cannot say',
    };
  });
}

/** A spread is only ever narrowed. */
function narrow(spread: GeometrySpread, to: Partial<GeometrySpread>): GeometrySpread {
  const least = (key: keyof GeometrySpread): number => Math.min(spread[key], to[key] ?? Infinity);
  return {
    annulusMm: least('annulusMm'), outflow5Mm: least('outflow5Mm'), outflow10Mm: least('outflow10Mm'),
    narrowingMid: spread.narrowingMid, narrowing: least('narrowing'), startMm: least('startMm'),
  };
}
