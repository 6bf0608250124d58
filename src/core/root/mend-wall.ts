import type { WallTable } from './find-junction.ts';
import type { PolarBlock } from './polar-block.ts';

/** A deposit of 2 mm against the wall is seen with its outer side at the wall and its bright middle this far inside. */
const INSIDE_MM = 1.6;
const OUTSIDE_MM = 2.2;
/** Calcium above blood by this much hides the wall. */
const EXCESS_HU = 140;
const SWEEPS = 80;
/** More than this share of a ring hidden: bridging would invent the wall. */
const MAX_BRIDGED_SHARE = 0.6;

export interface MendedWall {
  readonly table: WallTable;
  /** 1 where the wall was bridged over calcium. */
  readonly isBridged: Uint8Array;
}

/**
 * Bridges the wall where calcium lies in or against it: there is no edge between blood and tissue to find, and the
 * half-level would follow the deposit's outer side. The gap is filled by the surface of least curvature from its rim.
 * Source    docs/methods/root-survey.md, "Calcium"
 */
export function bridgeCalcium(block: PolarBlock, table: WallTable, bloodHu: number): MendedWall {
  const { heights, azimuths, radii, radiusStepMm: dr, valuesHu } = block;
  const hidden = new Uint8Array(heights * azimuths);
  for (let c = 0; c < hidden.length; c++) {
    const from = Math.max(0, Math.round((table.radiusMm[c]! - INSIDE_MM) / dr));
    const to = Math.min(radii - 1, Math.round((table.radiusMm[c]! + OUTSIDE_MM) / dr));
    let run = 0;
    for (let r = from; r <= to; r++) {
      // Three samples in a row, about a millimetre: noise does not do that.
      run = valuesHu[c * radii + r]! > bloodHu + EXCESS_HU ? run + 1 : 0;
      if (run >= 3) {
        hidden[c] = 1;
        break;
      }
    }
  }
  const isBridged = new Uint8Array(hidden.length);
  // A millimetre up and down and a column to each side belong to the blurred rim.
  for (let h = 0; h < heights; h++) {
    for (let a = 0; a < azimuths; a++) {
      if (!hidden[h * azimuths + a]) continue;
      for (let d = -2; d <= 2; d++) {
        for (let e = -1; e <= 1; e++) {
          const g = h + d;
          if (g >= 0 && g < heights) isBridged[g * azimuths + ((a + e + azimuths) % azimuths)] = 1;
        }
      }
    }
  }
  const radius = Float64Array.from(table.radiusMm);
  const cells: number[] = [];
  for (let h = 0; h < heights; h++) {
    let n = 0;
    for (let a = 0; a < azimuths; a++) n += isBridged[h * azimuths + a]!;
    if (n > MAX_BRIDGED_SHARE * azimuths) {
      for (let a = 0; a < azimuths; a++) isBridged[h * azimuths + a] = 0;
      continue;
    }
    for (let a = 0; a < azimuths; a++) if (isBridged[h * azimuths + a]) cells.push(h * azimuths + a);
  }
  // Start from the nearest seen columns of the same ring, then relax toward the mean of the four neighbours.
  for (const c of cells) {
    const h = Math.floor(c / azimuths);
    const a = c % azimuths;
    let left = 1;
    while (left < azimuths && isBridged[h * azimuths + ((a - left + azimuths) % azimuths)]) left++;
    let right = 1;
    while (right < azimuths && isBridged[h * azimuths + ((a + right) % azimuths)]) right++;
    const p = table.radiusMm[h * azimuths + ((a - left + azimuths) % azimuths)]!;
    const q = table.radiusMm[h * azimuths + ((a + right) % azimuths)]!;
    radius[c] = (p * right + q * left) / (left + right);
  }
  for (let sweep = 0; sweep < SWEEPS; sweep++) {
    for (const c of cells) {
      const h = Math.floor(c / azimuths);
      const a = c % azimuths;
      const up = h < heights - 1 ? radius[c + azimuths]! : radius[c]!;
      const down = h > 0 ? radius[c - azimuths]! : radius[c]!;
      const left = radius[h * azimuths + ((a + azimuths - 1) % azimuths)]!;
      const right = radius[h * azimuths + ((a + 1) % azimuths)]!;
      radius[c] = 0.25 * (up + down + left + right);
    }
  }
  return { table: { ...table, radiusMm: radius }, isBridged };
}

const HINGE_TOP_MM = 0.5;
const LINE_LOW_MM = -4;
const LINE_HIGH_MM = -1.25;

/** Sums of the straight line of radius over height through the clean wall below a hinge, heights counted from it. */
export interface LineSums {
  readonly n: number;
  readonly sh: number;
  readonly sr: number;
  readonly shh: number;
  readonly shr: number;
}

/** The sums for one column: the wall from 4 to 1.25 mm below `hingeMm`. */
export function sumLineBelow(wall: WallTable, column: number, hingeMm: number): LineSums {
  let n = 0;
  let sh = 0;
  let sr = 0;
  let shh = 0;
  let shr = 0;
  for (let h = 0; h < wall.heights; h++) {
    const mm = wall.lowMm + h * wall.stepMm - hingeMm;
    if (mm < LINE_LOW_MM || mm > LINE_HIGH_MM) continue;
    const r = wall.radiusMm[h * wall.azimuths + column]!;
    n++;
    sh += mm;
    sr += r;
    shh += mm * mm;
    shr += mm * r;
  }
  return { n, sh, sr, shh, shr };
}

/**
 * Where the wall below turns outward into the sinus it cannot turn in a point: the lumen's side of a wall 1.5 to 2 mm
 * thick is the outer side of the bend. Roots of two makes have radii of 0 and about 2.3 mm there; one between them
 * is taken, and as much as it adds is its doubt.
 */
const BEND_RADIUS_MM = 1.4;
const MOST_OPENING_RAD = 1.4;

/** How far a bend of BEND_RADIUS_MM stands outside the line below it, `offMm` along the wall from the corner. */
function bendOutward(openingRad: number, offMm: number): number {
  const reach = BEND_RADIUS_MM * Math.tan(Math.max(0, Math.min(MOST_OPENING_RAD, openingRad)) / 2);
  return Math.max(0, reach - Math.abs(offMm)) ** 2 / (2 * BEND_RADIUS_MM);
}

/**
 * Near a nadir the leaflet's root thickens the wall just at the basal plane, while the window of the edge model also
 * sees the sinus above it. There the wall up to the plane is the line through the clean wall below it, bent outward at
 * the attachment.
 * `attachmentMm(azimuth)`: height of the leaflet attachment above the plane; from 3 mm on the wall is left as seen.
 * `upperAngleRad(azimuth)`: of the wall above the attachment, outward from the upward direction; without it nothing bends.
 */
export function straightenHinge(table: WallTable, attachmentMm: (azimuthRad: number) => number, upperAngleRad?: (azimuthRad: number) => number): WallTable {
  const { heights, azimuths, lowMm, stepMm } = table;
  const radius = Float64Array.from(table.radiusMm);
  const bentMm = new Float64Array(radius.length);
  for (let a = 0; a < azimuths; a++) {
    const height = attachmentMm((2 * Math.PI * a) / azimuths);
    const share = Math.max(0, Math.min(1, (3 - height) / 2));
    if (share === 0) continue;
    const { n, sh, sr, shh, shr } = sumLineBelow(table, a, 0);
    const slope = (n * shr - sh * sr) / (n * shh - sh * sh);
    const base = (sr - slope * sh) / n;
    const opening = upperAngleRad ? upperAngleRad((2 * Math.PI * a) / azimuths) - Math.atan(slope) : 0;
    for (let h = 0; h < heights; h++) {
      const mm = lowMm + h * stepMm;
      if (mm <= LINE_HIGH_MM || mm > HINGE_TOP_MM) continue;
      const c = h * azimuths + a;
      bentMm[c] = share * bendOutward(opening, mm - height);
      radius[c] = radius[c]! + share * (base + slope * mm - radius[c]!) + bentMm[c]!;
    }
  }
  return { ...table, radiusMm: radius, bentMm };
}

/** A wall line above one hinge, in the table's own cylinder coordinates, from the hinge upward. */
export interface PocketWall {
  readonly azimuthRad: number;
  readonly points: readonly { readonly radiusMm: number; readonly heightMm: number }[];
}

const POCKET_TOP_MM = 4.5;
/** A leaflet that hugs no wall stands up to 8 mm inside it at the top of its pocket. */
const MOST_OUTWARD_MM = 10;
/** A hinge speaks for azimuths this near. */
const REACH_RAD = 0.2;

/**
 * Just above its hinge the pocket behind a leaflet is narrower than the blur, and the wall found there is the leaflet.
 * The hinge model knows the wall behind it: over the first millimetres the wall is taken outward to that line, faded
 * into the map over the last third to POCKET_TOP_MM.
 */
export function openPockets(table: WallTable, walls: readonly PocketWall[]): WallTable {
  const { heights, azimuths, lowMm, stepMm } = table;
  const radius = Float64Array.from(table.radiusMm);
  const openedMm = new Float64Array(radius.length);
  for (let a = 0; a < azimuths; a++) {
    const rad = (2 * Math.PI * a) / azimuths;
    let near: PocketWall | null = null;
    let off = REACH_RAD;
    for (const w of walls) {
      const d = Math.abs(Math.atan2(Math.sin(w.azimuthRad - rad), Math.cos(w.azimuthRad - rad)));
      if (d < off) {
        off = d;
        near = w;
      }
    }
    const base = near?.points[0];
    if (!near || !base) continue;
    for (let h = 0; h < heights; h++) {
      const mm = lowMm + h * stepMm;
      const up = mm - base.heightMm;
      if (up <= 0 || up > POCKET_TOP_MM || mm <= 0.5) continue;
      const i = near.points.findIndex((p) => p.heightMm >= mm);
      if (i < 1) continue;
      const p = near.points[i - 1]!;
      const q = near.points[i]!;
      const f = (mm - p.heightMm) / Math.max(1e-6, q.heightMm - p.heightMm);
      const model = p.radiusMm + f * (q.radiusMm - p.radiusMm);
      const c = h * azimuths + a;
      const gain = model - radius[c]!;
      if (gain <= 0 || gain > MOST_OUTWARD_MM) continue;
      openedMm[c] = gain * Math.min(1, (3 * (POCKET_TOP_MM - up)) / POCKET_TOP_MM);
      radius[c] = radius[c]! + openedMm[c]!;
    }
  }
  limitToNeighbours(table, radius, openedMm);
  return { ...table, radiusMm: radius, openedMm };
}

const NEIGHBOURS = 6;
const MOST_ALONE_MM = 1;

/** A pocket is as wide as a cusp: where one hinge alone asks for more than those beside it, it is wrong. */
function limitToNeighbours(table: WallTable, radius: Float64Array, openedMm: Float64Array): void {
  const { heights, azimuths } = table;
  const before = Float64Array.from(openedMm);
  for (let h = 0; h < heights; h++) {
    for (let a = 0; a < azimuths; a++) {
      const c = h * azimuths + a;
      if (!(before[c]! > MOST_ALONE_MM)) continue;
      const near: number[] = [];
      for (let d = -NEIGHBOURS; d <= NEIGHBOURS; d++) near.push(before[h * azimuths + ((a + d + azimuths) % azimuths)]!);
      near.sort((x, y) => x - y);
      const limit = near[NEIGHBOURS]! + MOST_ALONE_MM;
      if (openedMm[c]! <= limit) continue;
      radius[c] = radius[c]! - openedMm[c]! + limit;
      openedMm[c] = limit;
    }
  }
}
