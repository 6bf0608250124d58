import type { DepositFit } from './calcium-types.ts';
import { placeOf, ZONE_LOW_MM, type CalciumGrid } from './calcium-zone.ts';
import type { WallTable } from './find-junction.ts';
import { CUSPS, type ByCusp, type Cusp } from './root-types.ts';

/** Volume of one deposit by place: above the basal plane to the junction, and from -10 mm to the plane. */
export interface SectorSums {
  readonly totalMm3: number;
  readonly aboveMm3: ByCusp<number>;
  readonly belowMm3: ByCusp<number>;
}

export interface CuspSectors {
  findCusp(x: number, y: number, heightMm: number): Cusp;
}

/** Centroid of the wall at a height of the table. */
function findWallCentre(wall: WallTable, heightMm: number): readonly [number, number] {
  const h = Math.max(0, Math.min(wall.heights - 1, Math.round((heightMm - wall.lowMm) / wall.stepMm)));
  let [area, x, y] = [0, 0, 0];
  for (let a = 0; a < wall.azimuths; a++) {
    const r = wall.radiusMm[h * wall.azimuths + a]!;
    const rad = (2 * Math.PI * a) / wall.azimuths;
    area += (r * r) / 2;
    x += (r * r * r * Math.cos(rad)) / 3;
    y += (r * r * r * Math.sin(rad)) / 3;
  }
  return [x / area, y / area];
}

/**
 * Sectors of the cusps about the axis of the root: a line from the ring's centre to the junction's.
 * Frame     azimuths `from` and `to` are of the frame, at the height of the commissures (near the junction); here they
 *           are turned to the axis, which may be shifted there by a millimetre or two
 */
export function makeCuspSectors(wall: WallTable, commissureRad: ByCusp<{ readonly from: number; readonly to: number }>, junctionHeightMm: number): CuspSectors {
  const ring = findWallCentre(wall, 0);
  const top = findWallCentre(wall, junctionHeightMm);
  const h = Math.max(0, Math.min(wall.heights - 1, Math.round((junctionHeightMm - wall.lowMm) / wall.stepMm)));
  const turn = (rad: number): number => {
    const part = rad / (2 * Math.PI);
    const at = Math.floor((part - Math.floor(part)) * wall.azimuths) % wall.azimuths;
    const r = wall.radiusMm[h * wall.azimuths + at]!;
    return Math.atan2(r * Math.sin(rad) - top[1], r * Math.cos(rad) - top[0]);
  };
  const full = 2 * Math.PI;
  const wrap = (rad: number): number => rad - full * Math.floor(rad / full);
  const sectors = CUSPS.map((cusp) => {
    const from = turn(commissureRad[cusp].from);
    return { cusp, from, widthRad: wrap(turn(commissureRad[cusp].to) - from) };
  });
  return {
    findCusp(x, y, heightMm) {
      const share = Math.max(0, Math.min(1, heightMm / Math.max(1, junctionHeightMm)));
      const rad = Math.atan2(y - ring[1] - share * (top[1] - ring[1]), x - ring[0] - share * (top[0] - ring[0]));
      for (const s of sectors) if (wrap(rad - s.from) < s.widthRad) return s.cusp;
      // Sectors that do not close leave a gap: the nearest beginning wins.
      let best = sectors[0]!;
      for (const s of sectors) if (wrap(s.from - rad) < wrap(best.from - rad)) best = s;
      return best.cusp;
    },
  };
}

/** Adds up a deposit's voxels by sector and height, all moved by `by` (root frame, mm) first. */
export function sumBySector(
  g: CalciumGrid, touched: Int32Array, fit: DepositFit, sectors: CuspSectors, by: readonly [number, number, number], topMm: number,
): SectorSums {
  const aboveMm3 = { R: 0, L: 0, N: 0 };
  const belowMm3 = { R: 0, L: 0, N: 0 };
  const [nx, ny] = g.dims;
  let totalMm3 = 0;
  for (let n = 0; n < touched.length; n++) {
    const mm3 = fit.shares[n]! * fit.volumeMm3;
    if (mm3 === 0) continue;
    const v = touched[n]!;
    const p = placeOf(g, v % nx, Math.floor(v / nx) % ny, Math.floor(v / (nx * ny)));
    const heightMm = p[2] + by[2];
    if (heightMm < ZONE_LOW_MM || heightMm > topMm) continue;
    const cusp = sectors.findCusp(p[0] + by[0], p[1] + by[1], heightMm);
    totalMm3 += mm3;
    if (heightMm >= 0) aboveMm3[cusp] += mm3;
    else belowMm3[cusp] += mm3;
  }
  return { totalMm3, aboveMm3, belowMm3 };
}
