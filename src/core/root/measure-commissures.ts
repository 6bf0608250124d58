import { TISSUE_HU } from './locate-root.ts';
import type { WallTable } from './find-junction.ts';
import type { PolarBlock } from './polar-block.ts';

/** What stands between two neighbouring cusps. */
export interface CommissureView {
  readonly azimuthRad: number;
  /** Least darkness (or calcium) met from below to above within the window about the commissure, over that of a bare leaflet: near 0 an open gap, near 1 leaflet without a gap. */
  readonly bridgedRatio: number;
  /** Height of the attachment there over the junction's height. */
  readonly heightShare: number;
}

export interface ValveView {
  readonly commissures: readonly CommissureView[];
  /** Leaflet above each supposed nadir: mean darkness within 10 degrees of it over that of a bare leaflet. */
  readonly leafletRatio: readonly number[];
  /** How dark a bare leaflet looks, 0 (as blood) to 1 (as tissue); the middle of the darker half of the uncalcified azimuths. */
  readonly leafletDarkness: number;
  /** Long over short axis (by second moments) and size of the opening seen from above; NaN where no opening is seen. */
  readonly openingAspect: number;
  readonly openingMm2: number;
}

/** The columns looked along stand at these shares of the ring's radius: outside the opening, inside the wall. */
const SHARES = [0.5, 0.55, 0.6, 0.65, 0.7];
const OPENING_REACH = 0.75;
const GRID_MM = 0.5;
const CLEAR_OF_WALL_MM = 1.5;
const LEAFLET_HU = TISSUE_HU + 30;
const CALCIUM_HU = 120;
const WINDOW_RAD = Math.PI / 6;
const NADIR_WINDOW_RAD = Math.PI / 18;
const TURN = 2 * Math.PI;

/** Darkest sample on the way up, and whether calcium was met, per azimuth and radius. */
interface SheetMap {
  readonly darkness: Float64Array;
  readonly isCalcified: Uint8Array;
  readonly radii: number;
}

/**
 * Looks down the root from the aorta: where does the way from ventricle to aorta cross leaflet, where is it free?
 * In a valve of three leaflets it is free at three commissures, and crosses leaflet above three nadirs.
 * `commissures`: azimuth and height in the block's frame; `nadirsRad`: azimuths.
 * Shape     block (smoothed once) and wall in the basal frame
 * Source    docs/methods/valve-form.md, "Gaps at the commissures"
 */
export function measureCommissures(
  block: PolarBlock,
  wall: WallTable,
  commissures: readonly { readonly azimuthRad: number; readonly heightMm: number }[],
  nadirsRad: readonly number[],
  junctionMm: number,
  bloodHu: number,
): ValveView {
  const { azimuths } = block;
  const sheet = lookDown(block, wall, junctionMm, bloodHu);
  const ring = (a: number): number => wall.radiusMm[Math.round(-wall.lowMm / wall.stepMm) * azimuths + a]!;
  const across = new Float64Array(azimuths);
  const bare: number[] = [];
  for (let a = 0; a < azimuths; a++) {
    let calcified = 0;
    for (const share of SHARES) {
      const r = a * sheet.radii + Math.round((share * ring(a)) / block.radiusStepMm);
      calcified += sheet.isCalcified[r]!;
      across[a]! += (sheet.isCalcified[r] ? 1 : sheet.darkness[r]!) / SHARES.length;
    }
    if (calcified === 0) bare.push(across[a]!);
  }
  bare.sort((x, y) => x - y);
  const leaflet = bare.length >= azimuths / 12 ? bare[Math.floor(0.65 * bare.length)]! : NaN;
  const smooth = across.map((v, a) => 0.5 * v + 0.25 * (across[(a + 1) % azimuths]! + across[(a + azimuths - 1) % azimuths]!));
  const readWindow = (rad: number, halfRad: number): number[] => {
    const middle = Math.round((rad / TURN) * azimuths) + azimuths;
    const reach = Math.round((halfRad / TURN) * azimuths);
    return Array.from({ length: 2 * reach + 1 }, (_, i) => smooth[(middle + i - reach + azimuths) % azimuths]!);
  };
  return {
    commissures: commissures.map((c) => (
      { azimuthRad: c.azimuthRad, bridgedRatio: Math.min(...readWindow(c.azimuthRad, WINDOW_RAD)) / leaflet, heightShare: c.heightMm / junctionMm }
    )),
    leafletRatio: nadirsRad.map((rad) => {
      const near = readWindow(rad, NADIR_WINDOW_RAD);
      return near.reduce((t, v) => t + v, 0) / near.length / leaflet;
    }),
    leafletDarkness: leaflet,
    ...measureOpening(sheet, block, ring, 0.5 * (leaflet + Math.min(...smooth))),
  };
}

function lookDown(block: PolarBlock, wall: WallTable, junctionMm: number, bloodHu: number): SheetMap {
  const { azimuths, radii, radiusStepMm: dr, heightStepMm: dh, lowMm, valuesHu } = block;
  const darkness = new Float64Array(azimuths * radii);
  const isCalcified = new Uint8Array(azimuths * radii);
  const from = Math.max(0, Math.round((1 - lowMm) / dh));
  const to = Math.min(wall.heights - 1, Math.round((junctionMm - lowMm) / dh));
  for (let h = from; h <= to; h++) {
    for (let a = 0; a < azimuths; a++) {
      const o = (h * azimuths + a) * radii;
      const last = Math.min(radii - 2, Math.floor((wall.radiusMm[h * azimuths + a]! - CLEAR_OF_WALL_MM) / dr));
      for (let r = 1; r <= last; r++) {
        const v = 0.25 * (valuesHu[o + r - 1]! + 2 * valuesHu[o + r]! + valuesHu[o + r + 1]!);
        const at = a * radii + r;
        const dark = Math.min(1, (bloodHu - v) / (bloodHu - LEAFLET_HU));
        if (dark > darkness[at]!) darkness[at] = dark;
        if (v > bloodHu + CALCIUM_HU) isCalcified[at] = 1;
      }
    }
  }
  return { darkness, isCalcified, radii };
}

/**
 * The opening as seen from above: the patch without leaflet that holds the clearest place near the axis, cut off at
 * three quarters of the ring's radius. Its moments do not care where in the root it lies.
 */
function measureOpening(sheet: SheetMap, block: PolarBlock, ring: (a: number) => number, darkFrom: number): Pick<ValveView, 'openingAspect' | 'openingMm2'> {
  const { azimuths, radiusStepMm: dr } = block;
  const half = Math.ceil(14 / GRID_MM);
  const side = 2 * half + 1;
  const raw = new Float64Array(side * side).fill(1);
  const nearMm = new Float64Array(side * side);
  for (let j = 0; j < side; j++) {
    for (let i = 0; i < side; i++) {
      const [x, y] = [(i - half) * GRID_MM, (j - half) * GRID_MM];
      const rad = Math.atan2(y, x);
      const a = Math.round(((rad + TURN) / TURN) * azimuths) % azimuths;
      const mm = Math.hypot(x, y);
      nearMm[j * side + i] = mm / ring(a);
      if (mm > OPENING_REACH * ring(a)) continue;
      const r = a * sheet.radii + Math.max(1, Math.round(mm / dr));
      raw[j * side + i] = sheet.isCalcified[r] ? 1 : sheet.darkness[r]!;
    }
  }
  const dark = raw.map((v, o) => {
    const i = o % side;
    const j = (o - i) / side;
    if (i === 0 || j === 0 || i === side - 1 || j === side - 1) return 1;
    return 0.25 * v + 0.125 * (raw[o - 1]! + raw[o + 1]! + raw[o - side]! + raw[o + side]!) + 0.0625 * (raw[o - side - 1]! + raw[o - side + 1]! + raw[o + side - 1]! + raw[o + side + 1]!);
  });
  let start = -1;
  dark.forEach((v, o) => {
    if (nearMm[o]! < 0.3 && (start < 0 || v < dark[start]!)) start = o;
  });
  const isOpen = new Uint8Array(side * side);
  const queue = start >= 0 && dark[start]! < darkFrom ? [start] : [];
  if (queue.length > 0) isOpen[start] = 1;
  let n = 0;
  let [mx, my, xx, yy, xy] = [0, 0, 0, 0, 0];
  while (queue.length > 0) {
    const o = queue.pop()!;
    const x = ((o % side) - half) * GRID_MM;
    const y = (Math.floor(o / side) - half) * GRID_MM;
    n++;
    mx += x;
    my += y;
    xx += x * x;
    yy += y * y;
    xy += x * y;
    for (const next of [o - 1, o + 1, o - side, o + side]) {
      if (!isOpen[next] && dark[next]! < darkFrom && nearMm[next]! <= OPENING_REACH) {
        isOpen[next] = 1;
        queue.push(next);
      }
    }
  }
  if (n === 0) return { openingAspect: NaN, openingMm2: 0 };
  const [vx, vy, cov] = [xx / n - (mx / n) ** 2, yy / n - (my / n) ** 2, xy / n - (mx * my) / (n * n)];
  const middle = (vx + vy) / 2;
  const split = Math.hypot((vx - vy) / 2, cov);
  return { openingAspect: Math.sqrt((middle + split) / Math.max(1e-3, middle - split)), openingMm2: n * GRID_MM * GRID_MM };
}
