import { add, scale, type Vec3 } from '../math/vec3.ts';
import type { WallTable } from './find-junction.ts';
import { BASAL, cutRing, measureCut, nearPlaneThrough, type NearPlane } from './map-wall.ts';
import type { RingMeasures } from './measure-ring.ts';
import type { RootFrame } from './root-frame.ts';

/**
 * First-order propagation of what is not known about the root: each nadir's height over the plane, and the place of
 * the blood-wall edge. Docs: docs/methods/root-survey.md, "Intervals".
 */
export interface RootUncertainty {
  /** SD of each nadir along the normal, mm (order of the nadirs given). */
  readonly nadirSdMm: readonly number[];
  /** Planes with one nadir raised by one SD. */
  readonly planes: readonly NearPlane[];
  /** SD of the edge common to the whole ring, mm of radius. */
  readonly edgeSdMm: number;
  /** 95 % half-width of the tilt of the normal. */
  readonly tilt95Deg: number;
}

/** Common shift of the edge from the threshold model: a share of the blur, of the voxel and of the noise. */
export function estimateEdgeSd(blurMm: number, voxelMm: number, noiseHu: number, contrastHu: number): number {
  const model = 0.02 * blurMm + 0.02 * voxelMm + 0.1 * Math.max(0, voxelMm - 0.6);
  const noise = (0.2 * noiseHu * blurMm) / Math.max(50, contrastHu);
  return Math.hypot(0.02, model, noise);
}

export function propagateNadirs(frame: RootFrame, nadirs: readonly Vec3[], nadirSdMm: readonly number[], edgeSdMm: number): RootUncertainty {
  const planes = nadirs.map((_, i) => {
    const moved = nadirs.map((p, k) => (k === i ? add(p, scale(frame.normalLps, nadirSdMm[i]!)) : p));
    return nearPlaneThrough(frame, moved) ?? BASAL;
  });
  const tiltVariance = planes.reduce((sum, p) => sum + p.dx * p.dx + p.dy * p.dy, 0);
  // Two tilt components share the variance; 2.45 is the 95 % radius of a two-dimensional Gaussian.
  const tilt95Deg = ((2.45 * Math.sqrt(tiltVariance / 2)) * 180) / Math.PI;
  return { nadirSdMm, planes, edgeSdMm, tilt95Deg };
}

/** Calibrated on phantoms: docs/methods/root-survey.md, "Intervals". */
const BRIDGE_SD_MM = 0.6;
/** Doubt of what was opened behind leaflets, as a share of it. */
const OPENED_SD_RATIO = 0.12;
/** And of what may not have been opened, as a share of the ring, up to this height. */
const POCKET_SD_RATIO = 0.008;
const POCKET_TOP_MM = 6;
/** Doubt of the bend at the attachments, as a share of it. */
const BENT_SD_RATIO = 1;
/** The map rounds the corners between sinuses: this share of the area for a perimeter twice that of the circle. */
const LOBE_AREA_SD_RATIO = 0.1;
/** Doubt of the perimeter, as a share of what ten waves cut off at corners: the map has rounded part of them before. */
const CORNER_SD_RATIO = 1.1;
/** At the plane and below there are no corners; high waves there are errors of the wall. */
const BUMP_SD_RATIO = 0.4;

/**
 * Perimeter lost by keeping ten waves of a ring with corners, where the amplitude falls as the square of the order:
 * c from orders 6 to 10, then the rest of the series, sum over k > 10 of (pi / 2 r) (c / k)^2. A smooth ring loses nothing.
 */
function estimateLostPerimeter(radiusMm: ArrayLike<number>): number {
  const n = radiusMm.length;
  let square = 0;
  for (let k = 6; k <= 10; k++) {
    let c = 0;
    let s = 0;
    for (let i = 0; i < n; i++) {
      c += (2 * radiusMm[i]! * Math.cos((2 * Math.PI * k * i) / n)) / n;
      s += (2 * radiusMm[i]! * Math.sin((2 * Math.PI * k * i) / n)) / n;
    }
    square += (k ** 4 * (c * c + s * s)) / 5;
  }
  const mean = Array.from(radiusMm).reduce((a, b) => a + b, 0) / n;
  return (Math.PI * square) / (2 * mean * 10.5);
}

/** Area of the pockets that were opened behind leaflets, at the row nearest a height. */
function openedAreaMm2(table: WallTable, heightMm: number): number {
  const { openedMm, radiusMm, azimuths } = table;
  if (!openedMm) return 0;
  const row = Math.max(0, Math.min(table.heights - 1, Math.round((heightMm - table.lowMm) / table.stepMm)));
  let area = 0;
  for (let c = row * azimuths; c < (row + 1) * azimuths; c++) area += ((radiusMm[c]! - openedMm[c]! / 2) * openedMm[c]! * 2 * Math.PI) / azimuths;
  return area;
}

/** Mean over azimuth of how far the ring at a height was bent outward at the attachments; as much is its doubt. */
function meanBentMm(table: WallTable, heightMm: number): number {
  const { bentMm, azimuths } = table;
  if (!bentMm) return 0;
  const row = Math.max(0, Math.min(table.heights - 1, Math.round((heightMm - table.lowMm) / table.stepMm)));
  let sum = 0;
  for (let c = row * azimuths; c < (row + 1) * azimuths; c++) sum += bentMm[c]!;
  return sum / azimuths;
}

export type RingSpread = { readonly [K in keyof RingMeasures]: number };

/** SDs of the measures of the ring at a height, from one re-measurement per source of doubt. */
export function spreadOfRing(table: WallTable, base: RingMeasures, heightMm: number, doubt: RootUncertainty, bridgedShare = 0): RingSpread {
  const variance = { areaMm2: 0, perimeterMm: 0, minDiameterMm: 0, maxDiameterMm: 0 };
  const gather = (moved: RingMeasures): void => {
    for (const k of ['areaMm2', 'perimeterMm', 'minDiameterMm', 'maxDiameterMm'] as const) variance[k] += (moved[k] - base[k]) ** 2;
  };
  for (const plane of doubt.planes) gather(measureCut(table, plane, heightMm));
  gather(measureCut(table, BASAL, heightMm, doubt.edgeSdMm));
  // Local wall error: a wave of two and three lobes each with half the common edge's SD acts on widths, hardly on area.
  const wave = Math.hypot(0.5 * doubt.edgeSdMm, 0.085, BRIDGE_SD_MM * bridgedShare);
  // A bridged stretch is a guess of half a millimetre; just above the plane pockets are narrower than the blur.
  const hidden = BRIDGE_SD_MM * bridgedShare * base.perimeterMm;
  const pocket = Math.hypot(OPENED_SD_RATIO * openedAreaMm2(table, heightMm), heightMm > 0 && heightMm < POCKET_TOP_MM ? POCKET_SD_RATIO * base.areaMm2 : 0);
  const bent = BENT_SD_RATIO * meanBentMm(table, heightMm);
  const excess = Math.max(0, base.perimeterMm / Math.sqrt(4 * Math.PI * base.areaMm2) - 1);
  return {
    areaMm2: Math.hypot(Math.sqrt(variance.areaMm2), hidden, pocket, bent * base.perimeterMm, LOBE_AREA_SD_RATIO * excess * base.areaMm2),
    perimeterMm: Math.hypot(Math.sqrt(variance.perimeterMm), 0.003 * base.perimeterMm, Math.PI * BRIDGE_SD_MM * bridgedShare, 2 * Math.PI * bent, (0.5 * pocket * base.perimeterMm) / base.areaMm2, (heightMm > 0 ? CORNER_SD_RATIO : BUMP_SD_RATIO) * estimateLostPerimeter(cutRing(table, BASAL, heightMm))),
    minDiameterMm: Math.hypot(Math.sqrt(variance.minDiameterMm), 2 * wave, 2 * bent),
    maxDiameterMm: Math.hypot(Math.sqrt(variance.maxDiameterMm), 2 * wave, 2 * bent),
  };
}
