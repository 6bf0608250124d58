import type { Cusp } from '../root/root-types.ts';
import type { Commissure, PhantomShape, PolarContour } from './phantom-types.ts';

export const RAD = Math.PI / 180;
/** Depth at which the outflow contour is given. */
const OUTFLOW_DEPTH_MM = 12;
/** Below the ring the taper sets in over this depth, so that the wall has no kink at the basal plane. */
const TAPER_ONSET_MM = 1.5;
const BOTTOM_MM = -24;
const STEP_MM = 0.25;
const AZIMUTHS = 720;

/** Radius of a contour at an azimuth (rad). */
export function contourRadius(c: PolarContour, azimuthRad: number): number {
  const a = c.meanRadiusMm * Math.sqrt(c.ellipticity);
  const b = c.meanRadiusMm / Math.sqrt(c.ellipticity);
  const t = azimuthRad - c.longAxisDeg * RAD;
  let r = (a * b) / Math.hypot(b * Math.cos(t), a * Math.sin(t));
  for (const w of c.waves) r += w.amplitudeMm * Math.cos(w.order * (azimuthRad - w.phaseDeg * RAD));
  return r;
}

/** One side of one cusp: from its nadir to a commissure. */
interface CuspSide {
  readonly cusp: Cusp;
  readonly nadirRad: number;
  readonly widthRad: number;
  readonly commissure: Commissure;
}
export interface CuspPlace extends CuspSide {
  /** 0 at the nadir, 1 at the commissure. */
  readonly share: number;
}

export const wrapAngle = (rad: number): number => rad - 2 * Math.PI * Math.floor(rad / (2 * Math.PI));

/** The sides of all cusps, counter-clockwise from the R nadir. */
function listSides(shape: PhantomShape): { readonly from: number; readonly to: number; readonly side: CuspSide; readonly isRising: boolean }[] {
  const order: readonly { cusp: Cusp; after: Commissure }[] =
    shape.valve === 'two-sinus'
      ? [{ cusp: 'R', after: 'RL' }, { cusp: 'N', after: 'NR' }]
      : [{ cusp: 'R', after: 'RL' }, { cusp: 'L', after: 'LN' }, { cusp: 'N', after: 'NR' }];
  return order.flatMap((at, i) => {
    const next = order[(i + 1) % order.length]!;
    const from = wrapAngle(shape.nadirAzimuthDeg[at.cusp] * RAD);
    const mid = from + wrapAngle(shape.commissureAzimuthDeg[at.after] * RAD - from);
    const to = mid + wrapAngle(shape.nadirAzimuthDeg[next.cusp] * RAD - mid);
    return [
      { from, to: mid, side: { cusp: at.cusp, nadirRad: from, widthRad: mid - from, commissure: at.after }, isRising: true },
      { from: mid, to, side: { cusp: next.cusp, nadirRad: to, widthRad: to - mid, commissure: at.after }, isRising: false },
    ];
  });
}

/** Which cusp holds an azimuth, and how far toward its commissure. */
export function makeCuspFinder(shape: PhantomShape): (azimuthRad: number) => CuspPlace {
  const sides = listSides(shape);
  const start = sides[0]!.from;
  return (azimuthRad) => {
    const a = start + wrapAngle(azimuthRad - start);
    const hit = sides.find((s) => a < s.to) ?? sides[sides.length - 1]!;
    const share = hit.isRising ? (a - hit.from) / (hit.to - hit.from) : (hit.to - a) / (hit.to - hit.from);
    return { ...hit.side, share: Math.min(1, Math.max(0, share)) };
  };
}

export function junctionHeight(shape: PhantomShape, azimuthRad: number): number {
  let h = shape.junction.heightMm;
  for (const w of shape.junction.heightWaves) h += w.amplitudeMm * Math.cos(w.order * (azimuthRad - w.phaseDeg * RAD));
  return h;
}

/** Height of the crown-shaped leaflet attachment: 0 at the nadir, rising with the square toward the commissure. */
export function attachmentHeight(shape: PhantomShape, place: CuspPlace): number {
  return commissureHeight(shape, place.commissure) * place.share * place.share;
}
export function commissureHeight(shape: PhantomShape, commissure: Commissure): number {
  return shape.commissureHeightShare[commissure] * junctionHeight(shape, shape.commissureAzimuthDeg[commissure] * RAD);
}

const ease = (t: number): number => (t <= 0 ? 0 : t >= 1 ? 1 : t * t * (3 - 2 * t));
/** Sinus profile over its height: v (1 - v)^1.5, scaled to a peak of 1 at v = 0.4; flat at the junction. */
const SINUS_PEAK = 0.4 * 0.6 ** 1.5;
const sinusProfile = (v: number): number => (v <= 0 || v >= 1 ? 0 : (v * (1 - v) * Math.sqrt(1 - v)) / SINUS_PEAK);

/** Depth of the septal bulge at a place of the wall. */
export function bulgeAt(shape: PhantomShape, azimuthRad: number, heightMm: number): number {
  const b = shape.septalBulge;
  if (b.inwardMm === 0) return 0;
  const turn = wrapAngle(azimuthRad - b.azimuthDeg * RAD + Math.PI) - Math.PI;
  const s = turn / (b.sigmaAzimuthDeg * RAD);
  const t = (heightMm - b.heightMm) / b.sigmaHeightMm;
  return b.inwardMm * Math.exp(-0.5 * (s * s + t * t));
}

/** What one azimuth of the wall is made of; found once, then evaluated at many heights. */
interface WallColumn {
  readonly azimuthRad: number;
  readonly ringMm: number;
  readonly outflowMm: number;
  readonly junctionMm: number;
  readonly topMm: number;
  readonly attachMm: number;
  readonly sinusMm: number;
}

function makeColumn(shape: PhantomShape, findCusp: (rad: number) => CuspPlace, azimuthRad: number): WallColumn {
  const place = findCusp(azimuthRad);
  return {
    azimuthRad,
    ringMm: contourRadius(shape.ring, azimuthRad),
    outflowMm: contourRadius(shape.outflow.contour, azimuthRad),
    junctionMm: contourRadius(shape.junction.contour, azimuthRad),
    topMm: junctionHeight(shape, azimuthRad),
    attachMm: attachmentHeight(shape, place),
    sinusMm: shape.sinusDepthMm[place.cusp] * (1 - place.share * place.share),
  };
}

/**
 * Radius of the lumen wall about the root's (slightly curved) axis, from the outflow tract to the ascending aorta.
 * Between the leaflets' attachment and the junction a sinus adds to the straight wall; below the attachment
 * (outflow tract and interleaflet triangles) there is the straight wall alone.
 */
function columnRadius(shape: PhantomShape, c: WallColumn, heightMm: number): number {
  const bulge = bulgeAt(shape, c.azimuthRad, heightMm);
  if (heightMm <= 0) {
    const depth = -heightMm;
    const eased = depth < TAPER_ONSET_MM ? (depth * depth) / (2 * TAPER_ONSET_MM) : depth - TAPER_ONSET_MM / 2;
    const share = Math.min(1.5, eased / (OUTFLOW_DEPTH_MM - TAPER_ONSET_MM / 2));
    return c.ringMm + (c.outflowMm - c.ringMm) * share - bulge;
  }
  if (heightMm >= c.topMm) {
    return c.junctionMm + (shape.ascending.radiusMm - c.junctionMm) * ease((heightMm - c.topMm) / shape.ascending.widenOverMm) - bulge;
  }
  const straight = c.ringMm + (c.junctionMm - c.ringMm) * ease(heightMm / c.topMm);
  return straight + c.sinusMm * sinusProfile((heightMm - c.attachMm) / (c.topMm - c.attachMm)) - bulge;
}

/** The wall as a table over azimuth and height; drawing and truth both read this table, so they agree exactly. */
export interface RootWall {
  readonly azimuths: number;
  readonly rows: number;
  readonly bottomMm: number;
  readonly topMm: number;
  readonly stepMm: number;
  /** rows x (azimuths + 1): last column repeats the first. */
  readonly radiusMm: Float64Array;
  /** 1 / |gradient of (r - R)|, so that (r - R) times it is a distance near the wall. */
  readonly perGradient: Float64Array;
  /** Axis of the root at each row. */
  readonly axisXMm: Float64Array;
  readonly axisYMm: Float64Array;
  readonly findCusp: (azimuthRad: number) => CuspPlace;
}

export function tabulateRootWall(shape: PhantomShape): RootWall {
  const findCusp = makeCuspFinder(shape);
  const topMm = Math.ceil(shape.junction.heightMm + shape.ascending.widenOverMm + 8);
  const rows = Math.round((topMm - BOTTOM_MM) / STEP_MM) + 1;
  const width = AZIMUTHS + 1;
  const radiusMm = new Float64Array(rows * width);
  const perGradient = new Float64Array(rows * width);
  const axisXMm = new Float64Array(rows);
  const axisYMm = new Float64Array(rows);
  const columns = Array.from({ length: AZIMUTHS }, (_, i) => makeColumn(shape, findCusp, (i * 2 * Math.PI) / AZIMUTHS));
  for (let k = 0; k < rows; k++) {
    const z = BOTTOM_MM + k * STEP_MM;
    const [shift, share] = z > 0 ? [shape.junction.shiftMm, (z / shape.junction.heightMm) ** 2] : [shape.outflow.shiftMm, (z / OUTFLOW_DEPTH_MM) ** 2];
    axisXMm[k] = shift[0] * Math.min(share, 2);
    axisYMm[k] = shift[1] * Math.min(share, 2);
    for (let i = 0; i < AZIMUTHS; i++) radiusMm[k * width + i] = columnRadius(shape, columns[i]!, z);
    radiusMm[k * width + AZIMUTHS] = radiusMm[k * width]!;
  }
  const dA = (2 * Math.PI) / AZIMUTHS;
  for (let k = 0; k < rows; k++) {
    const below = Math.max(0, k - 1);
    const above = Math.min(rows - 1, k + 1);
    for (let i = 0; i <= AZIMUTHS; i++) {
      const at = radiusMm[k * width + i]!;
      const east = radiusMm[k * width + ((i + 1) % AZIMUTHS)]!;
      const west = radiusMm[k * width + ((i + AZIMUTHS - 1) % AZIMUTHS)]!;
      const perHeight = (radiusMm[above * width + i]! - radiusMm[below * width + i]!) / ((above - below) * STEP_MM);
      const perArc = (east - west) / (2 * dA * at);
      perGradient[k * width + i] = 1 / Math.sqrt(1 + perHeight * perHeight + perArc * perArc);
    }
  }
  return { azimuths: AZIMUTHS, rows, bottomMm: BOTTOM_MM, topMm, stepMm: STEP_MM, radiusMm, perGradient, axisXMm, axisYMm, findCusp };
}

/** Bilinear value of a wall table (radius or perGradient). */
export function readWall(wall: RootWall, table: Float64Array, azimuthRad: number, heightMm: number): number {
  const a = (wrapAngle(azimuthRad) * wall.azimuths) / (2 * Math.PI);
  const i = Math.min(wall.azimuths - 1, Math.floor(a));
  const h = Math.min(wall.rows - 1.000001, Math.max(0, (heightMm - wall.bottomMm) / wall.stepMm));
  const k = Math.floor(h);
  const o = k * (wall.azimuths + 1) + i;
  const f = a - i;
  const low = table[o]! * (1 - f) + table[o + 1]! * f;
  const high = table[o + wall.azimuths + 1]! * (1 - f) + table[o + wall.azimuths + 2]! * f;
  return low + (high - low) * (h - k);
}

/** Axis of the root at a height. */
export function readAxis(wall: RootWall, heightMm: number): readonly [number, number] {
  const h = Math.min(wall.rows - 1.000001, Math.max(0, (heightMm - wall.bottomMm) / wall.stepMm));
  const k = Math.floor(h);
  const f = h - k;
  return [
    wall.axisXMm[k]! * (1 - f) + wall.axisXMm[k + 1]! * f,
    wall.axisYMm[k]! * (1 - f) + wall.axisYMm[k + 1]! * f,
  ];
}


/** Cells of the coarse table below: this many azimuths and rows of the fine one. */
const CELL = 8;

/**
 * Smallest perGradient within `windowMm` of each place (whole rings where azimuth loses its meaning, near the axis).
 * With it, (r - R) x value changes by at most the way walked, so that a block can be ruled in or out by its middle.
 */
export interface SteepestSlopes {
  readonly columns: number;
  readonly perGradient: Float64Array;
  readonly ofRing: Float64Array;
}

export function findSteepestSlopes(wall: RootWall, windowMm: number): SteepestSlopes {
  const columns = wall.azimuths / CELL;
  const rows = Math.ceil(wall.rows / CELL);
  const cells = new Float64Array(columns * rows).fill(1);
  for (let k = 0; k < wall.rows; k++) {
    for (let i = 0; i < wall.azimuths; i++) {
      const c = Math.floor(k / CELL) * columns + Math.floor(i / CELL);
      cells[c] = Math.min(cells[c]!, wall.perGradient[k * (wall.azimuths + 1) + i]!);
    }
  }
  const overRows = Math.ceil(windowMm / (CELL * wall.stepMm)) + 1;
  const overColumns = Math.min(columns >> 1, Math.ceil((windowMm / 6) * (columns / (2 * Math.PI))) + 1);
  const perGradient = new Float64Array(columns * rows).fill(1);
  const ofRing = new Float64Array(rows).fill(1);
  for (let k = 0; k < rows; k++) {
    for (let j = Math.max(0, k - overRows); j <= Math.min(rows - 1, k + overRows); j++) {
      for (let i = 0; i < columns; i++) {
        ofRing[k] = Math.min(ofRing[k]!, cells[j * columns + i]!);
        for (let d = -overColumns; d <= overColumns; d++) {
          const from = cells[j * columns + ((i + d + columns) % columns)]!;
          if (from < perGradient[k * columns + i]!) perGradient[k * columns + i] = from;
        }
      }
    }
  }
  return { columns, perGradient, ofRing };
}

/** Reads the coarse table by fine row and column. */
export function readSteepest(s: SteepestSlopes, row: number, column: number, radiusMm: number): number {
  const k = row >> 3;
  return radiusMm < 9 ? s.ofRing[k]! : s.perGradient[k * s.columns + ((column >> 3) % s.columns)]!;
}
