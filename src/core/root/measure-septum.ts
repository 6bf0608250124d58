import type { WallTable } from './find-junction.ts';
import { BASAL, cutRing } from './map-wall.ts';
import { smoothRing } from './measure-ring.ts';
import { isInSector, type Sector } from './measure-sinuses.ts';

const TURN = 2 * Math.PI;
/** Below this the tract opens into the ventricle, and where its wall ends is a matter of the map's stiffness. */
const OPENING_MM = -10.9;
const OPENING_SD_MM = 0.9;
const WALL_SD_MM = 0.45;

export interface SeptumMeasures {
  readonly bulgeMm: number;
  readonly bulgeSdMm: number;
  readonly bulgeHeightMm: number;
  readonly angleDeg: number;
  readonly azimuthRad: number;
}

/**
 * How far the septal wall stands inside the ring: largest fall of the radius from the plane to 12 mm below it, at one
 * azimuth, in the sector of the septum (from the N-R to the R-L commissure). Angle: the wall over the first 10 mm
 * against the basal plane; 90 is straight down, less leans inward.
 */
export function measureSeptum(table: WallTable, sector: Sector): SeptumMeasures {
  let best: SeptumMeasures = { bulgeMm: 0, bulgeSdMm: WALL_SD_MM, bulgeHeightMm: -1, angleDeg: 90, azimuthRad: sector.from };
  let isFirst = true;
  const smooth = (h: number): Float64Array => smoothRing(cutRing(table, BASAL, h));
  const top = smooth(0);
  const at10 = smooth(-10);
  const n = top.length;
  for (let h = -12; h <= -1; h += 0.5) {
    const ring = smooth(h);
    for (let i = 0; i < n; i += 3) {
      const rad = (TURN * i) / n;
      if (!isInSector(rad, sector)) continue;
      const fall = top[i]! - ring[i]!;
      if (isFirst || fall > best.bulgeMm) {
        best = { bulgeMm: fall, bulgeSdMm: h < OPENING_MM ? OPENING_SD_MM : WALL_SD_MM, bulgeHeightMm: h, angleDeg: 90 - (Math.atan2(top[i]! - at10[i]!, 10) * 180) / Math.PI, azimuthRad: rad };
        isFirst = false;
      }
    }
  }
  return best.bulgeMm > 0 ? best : { ...best, bulgeMm: 0 };
}
