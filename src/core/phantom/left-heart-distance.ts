import { blendUnion, tubeDistance } from './distance-shapes.ts';
import type { HeartAnatomy } from './heart-anatomy.ts';
import { findSteepestSlopes, readSteepest } from './root-wall.ts';

/**
 * Distances of the left heart's blood (without coronaries) and of the leaflets at one point.
 * Holds a small typed array as scratch, so that the inner loop allocates nothing: one instance per drawing.
 */
export interface LeftHeartProbe {
  /** Moves the probe: scene and root coordinates of one and the same point. */
  moveTo(sx: number, sy: number, sz: number, qx: number, qy: number, qz: number): void;
  /** Root and aorta and ventricle together; negative in blood. */
  bloodMm(): number;
  /** The root's own wall alone (outflow tract to ascending aorta). */
  rootMm(): number;
  /** The root's wall at a distance that is never too long within a block about the point; negative inside. */
  cautiousRootMm(): number;
  ventricleMm(): number;
  leafletMm(): number;
}

const TWO_PI = 2 * Math.PI;
/** Fillet between outflow tract and ventricle; it ends above z = -12 because the ventricle's top is at -15.5 mm. */
const FILLET_MM = 2.5;

export function makeLeftHeartProbe(heart: HeartAnatomy, blockMm = 4): LeftHeartProbe {
  const { wall, sheets, ventricle, aorta } = heart;
  const { radiusMm, perGradient, axisXMm, axisYMm, rows, azimuths, bottomMm, topMm, stepMm } = wall;
  const width = azimuths + 1;
  const steepest = findSteepestSlopes(wall, blockMm);
  // 0-2 scene, 3-5 root, 6 r, 7 azimuth index (fractional), 8 root, 9 ventricle, 10 blood, 11 R
  const s = new Float64Array(12);
  let isPolar = false;
  let isRoot = false;
  let isVentricle = false;
  let isBlood = false;

  function findPolar(): void {
    if (isPolar) return;
    isPolar = true;
    const qz = s[5]!;
    let h = (qz - bottomMm) / stepMm;
    h = h < 0 ? 0 : h > rows - 1.000001 ? rows - 1.000001 : h;
    const k = Math.floor(h);
    const f = h - k;
    const x = s[3]! - (axisXMm[k]! * (1 - f) + axisXMm[k + 1]! * f);
    const y = s[4]! - (axisYMm[k]! * (1 - f) + axisYMm[k + 1]! * f);
    s[6] = Math.sqrt(x * x + y * y);
    const a = Math.atan2(y, x);
    s[7] = ((a < 0 ? a + TWO_PI : a) * azimuths) / TWO_PI;
  }

  function rootMm(): number {
    if (isRoot) return s[8]!;
    isRoot = true;
    const qz = s[5]!;
    const cap = qz > topMm ? qz - topMm : qz < bottomMm ? bottomMm - qz : 0;
    if (cap > 60) return (s[8] = cap);
    findPolar();
    let h = (qz - bottomMm) / stepMm;
    h = h < 0 ? 0 : h > rows - 1.000001 ? rows - 1.000001 : h;
    const k = Math.floor(h);
    const fz = h - k;
    const a = s[7]!;
    const i = a >= azimuths ? azimuths - 1 : Math.floor(a);
    const fa = a - i;
    const o = k * width + i;
    const low = radiusMm[o]! * (1 - fa) + radiusMm[o + 1]! * fa;
    const high = radiusMm[o + width]! * (1 - fa) + radiusMm[o + width + 1]! * fa;
    const lowG = perGradient[o]! * (1 - fa) + perGradient[o + 1]! * fa;
    const highG = perGradient[o + width]! * (1 - fa) + perGradient[o + width + 1]! * fa;
    const r = low + (high - low) * fz;
    s[11] = r;
    const d = (s[6]! - r) * (lowG + (highG - lowG) * fz);
    const end = Math.max(qz - topMm, bottomMm - qz);
    return (s[8] = end > d ? end : d);
  }

  function cautiousRootMm(): number {
    const end = Math.max(s[5]! - topMm, bottomMm - s[5]!);
    if (end > 60) return end;
    rootMm();
    const row = Math.min(rows - 1, Math.max(0, Math.floor((s[5]! - bottomMm) / stepMm)));
    const d = (s[6]! - s[11]!) * readSteepest(steepest, row, Math.min(azimuths - 1, Math.floor(s[7]!)), s[6]!);
    return end > d ? end : d;
  }

  function ventricleMm(): number {
    if (isVentricle) return s[9]!;
    isVentricle = true;
    const c = ventricle.centre;
    const e = ventricle.axis;
    const x = s[0]! - c[0];
    const y = s[1]! - c[1];
    const z = s[2]! - c[2];
    const t = x * e[0] + y * e[1] + z * e[2];
    const a2 = ventricle.half * ventricle.half;
    const b2 = ventricle.width * ventricle.width;
    const across = Math.max(0, x * x + y * y + z * z - t * t);
    const k0 = Math.sqrt((t * t) / a2 + across / b2);
    if (k0 < 0.05) return (s[9] = -0.95 * ventricle.width);
    return (s[9] = (k0 * (k0 - 1)) / Math.sqrt((t * t) / (a2 * a2) + across / (b2 * b2)));
  }

  function bloodMm(): number {
    if (isBlood) return s[10]!;
    isBlood = true;
    let d = blendUnion(rootMm(), ventricleMm(), FILLET_MM);
    for (let i = 0; i < aorta.length; i++) {
      const t = tubeDistance(aorta[i]!, s[0]!, s[1]!, s[2]!, Math.max(d, 0));
      if (t < d) d = t;
    }
    return (s[10] = d);
  }

  function sheetAt(i: number, qz: number): number {
    const from = sheets.attachMm[i]!;
    const raw = (qz - from) / (sheets.edgeMm[i]! - from);
    const share = raw < 0 ? 0 : raw > 1 ? 1 : raw;
    return sheets.attachRadiusMm[i]! + (sheets.edgeRadiusMm[i]! - sheets.attachRadiusMm[i]!) * share * (1 - sheets.belly * (1 - share));
  }

  function leafletMm(): number {
    const qz = s[5]!;
    findPolar();
    const a = s[7]!;
    const i = a >= azimuths ? azimuths - 1 : Math.floor(a);
    const f = a - i;
    const from = sheets.attachMm[i]! * (1 - f) + sheets.attachMm[i + 1]! * f;
    const edge = sheets.edgeMm[i]! * (1 - f) + sheets.edgeMm[i + 1]! * f;
    const span = edge - from;
    if (span < 0.3) return 5;
    const out = from - qz > qz - edge ? from - qz : qz - edge;
    if (out > 3) return out;
    const here = sheetAt(i, qz);
    const next = sheetAt(i + 1, qz);
    const r = here * (1 - f) + next * f;
    const rMm = Math.max(s[6]!, 0.5);
    const perArc = ((next - here) * azimuths) / (TWO_PI * rMm);
    const raw = (qz - from) / span;
    const share = raw < 0 ? 0 : raw > 1 ? 1 : raw;
    const fall = sheets.edgeRadiusMm[i]! - sheets.attachRadiusMm[i]!;
    const perHeight = (fall * (1 - sheets.belly + 2 * sheets.belly * share)) / span;
    const d = Math.abs(s[6]! - r) / Math.sqrt(1 + perHeight * perHeight + perArc * perArc) - sheets.halfThicknessMm;
    return d > out ? d : out;
  }

  return {
    moveTo(sx, sy, sz, qx, qy, qz) {
      s[0] = sx; s[1] = sy; s[2] = sz; s[3] = qx; s[4] = qy; s[5] = qz;
      isPolar = isRoot = isVentricle = isBlood = false;
    },
    bloodMm, rootMm, cautiousRootMm, ventricleMm, leafletMm,
  };
}
