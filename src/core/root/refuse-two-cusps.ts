import { fail, type Result } from '../result.ts';
import type { LobeComparison } from './compare-lobes.ts';

/** Limits were set on phantoms of seeds 1 to 60 and checked on 61 to 100 (docs/methods/valve-form.md). */
const TWO_CUSP_SCORE = 0.8;
const TWO_CUSP_LEAD = 0.2;
const SECOND_WAVE_SHARE = 1.8;

/** Two cusps explain the wall well, clearly better than three, and the bulge has two lobes rather than three. */
export function isTwoLobed(lobes: LobeComparison): boolean {
  const lead = lobes.twoCuspScore - lobes.threeCuspScore;
  return lobes.twoCuspScore > TWO_CUSP_SCORE && lead > TWO_CUSP_LEAD && lobes.secondWaveMm > SECOND_WAVE_SHARE * lobes.thirdWaveMm;
}

export const MARK_TWO_CUSPS =
  'Mark the lowest point of each of the two cusps and, as the third point, the place of the wall between them where the plane stands square to the outflow tract; plan again.';
export function refuseTwoCusps(lobes: LobeComparison): Result<never, 'valve-not-three-leaflet'> {
  const round = (v: number): number => Math.round(100 * v) / 100;
  return fail(
    'valve-not-three-leaflet',
    'Two cusps explain the wall better than three: the valve seems to have two sinuses.',
    MARK_TWO_CUSPS,
    { twoCuspScore: round(lobes.twoCuspScore), threeCuspScore: round(lobes.threeCuspScore), secondWaveMm: round(lobes.secondWaveMm), thirdWaveMm: round(lobes.thirdWaveMm) },
  );
}
