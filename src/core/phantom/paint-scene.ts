import { columnDistance, ellipsoidDistance, tubeDistance, type Ellipsoid } from './distance-shapes.ts';
import type { HeartAnatomy } from './heart-anatomy.ts';
import { makeLeftHeartProbe } from './left-heart-distance.ts';
import type { PhantomScan } from './phantom-types.ts';
import { RAD, readAxis } from './root-wall.ts';

/**
 * The scene as layers of paint: a later layer covers an earlier one where its distance is negative, and shares the
 * voxel at its border in proportion (a ramp of the voxel's width). Layer numbers follow the order of painting.
 */
const LAYER = {
  skin: 0, chest: 1, lungs: 2, mediastinum: 3, liver: 4, ribs: 5, sternum: 6, spine: 7, marrow: 8, rightWall: 9,
  myocardium: 10, atriumWall: 11, aorticWall: 12, rightBlood: 13, atriumBlood: 14, leftBlood: 15, coronaryBlood: 16,
  leaflets: 17, lead: 18, calcium: 19,
} as const;
export const AIR_HU = -1000;
const LEAD_HU = 3000;
/** Thickness of the septum beside the outflow tract. */
const SEPTUM_MM = 9;
/** Layers shaped by the root's wall, whose folds make first-order distances misleading for blocks. */
const FOLDED: ReadonlySet<number> = new Set([LAYER.myocardium, LAYER.aorticWall, LAYER.rightBlood, LAYER.atriumBlood, LAYER.leftBlood]);
const LUNGS: readonly [Ellipsoid, Ellipsoid] = [{ centre: [-78, 8, 20], axes: [66, 84, 150] }, { centre: [80, 18, 20], axes: [62, 78, 150] }];
const HEART_SAC: Ellipsoid = { centre: [12, -14, -26], axes: [72, 68, 74] };
const LIVER: Ellipsoid = { centre: [-55, 10, -175], axes: [105, 95, 85] };

export interface ScenePainter {
  readonly layers: number;
  /** Number of the layer whose paint changes with height (blood); it cannot be filled in one go. */
  readonly gradedLayer: number;
  moveTo(sx: number, sy: number, sz: number): void;
  /** Shift of the heart (scene mm) for all later points. */
  shiftHeart(dx: number, dy: number, dz: number): void;
  distanceMm(layer: number): number;
  /** Distance for ruling a whole block of this half diagonal in or out; 0 = cannot be told from its middle. */
  boundMm(layer: number, halfMm: number): number;
  paintHu(layer: number): number;
}

interface PlacedDeposit {
  readonly x: number; readonly y: number; readonly z: number;
  readonly frame: readonly number[];
  readonly axes: readonly [number, number, number];
  readonly largest: number;
  readonly hu: number;
}

/** Unit axes of a deposit in the root frame (radial, tangential, along the leaf), row by row, and its centre. */
export function placeDeposits(heart: HeartAnatomy): readonly PlacedDeposit[] {
  return heart.shape.calcium.map((c) => {
    const a = c.azimuthDeg * RAD;
    const [ax, ay] = readAxis(heart.wall, c.heightMm);
    const [ca, sa, cl, sl] = [Math.cos(a), Math.sin(a), Math.cos(c.leanDeg * RAD), Math.sin(c.leanDeg * RAD)];
    return {
      x: ax + c.radiusMm * ca, y: ay + c.radiusMm * sa, z: c.heightMm,
      frame: [ca * cl, sa * cl, sl, -sa, ca, 0, -ca * sl, -sa * sl, cl],
      axes: [c.semiAxesMm[0], c.semiAxesMm[1], c.semiAxesMm[2]],
      largest: Math.max(...c.semiAxesMm), hu: c.attenuationHu,
    };
  });
}

/** `blockMm`: half diagonal of the largest block that will be asked for. */
export function makeScenePainter(heart: HeartAnatomy, scan: PhantomScan, blockMm = 4): ScenePainter {
  const { shape, place, atrium, rightAtrium, rightVentricle, pulmonary, cava, coronaries, lead } = heart;
  const probe = makeLeftHeartProbe(heart, blockMm);
  const deposits = placeDeposits(heart);
  // muscle and leaflets take up contrast from the blood: without it they are as bright as blood
  const fed = scan.contrastHu + 10;
  const hu = { ...shape.tissueHu, myocardium: Math.min(shape.tissueHu.myocardium, fed), leaflet: Math.min(shape.tissueHu.leaflet, fed) };
  const paints = Int16Array.from([
    hu.fat, hu.muscle, hu.lung, hu.fat, hu.liver, hu.cortical, hu.cortical, hu.cortical, hu.trabecular, hu.myocardium - 10,
    hu.myocardium, hu.wall + 15, hu.wall, scan.rightHeartHu, scan.leftAtriumHu, 0, 0, hu.leaflet, LEAD_HU,
  ]);
  const septal = [Math.cos(shape.septalBulge.azimuthDeg * RAD), Math.sin(shape.septalBulge.azimuthDeg * RAD)] as const;
  const highestMm = shape.junction.heightMm + 4;
  const gapMm = shape.septumToAtriumMm;
  const s = new Float64Array(11); // 0-2 body, 3-5 heart, 6-8 root, 9 right chambers, 10 coronaries
  let isRight = false;
  let isCoronary = false;
  const shift = new Float64Array(3);

  /** Right heart's outer shape, before it gives way to the left. */
  const rightChambers = (): number => {
    if (isRight) return s[9]!;
    isRight = true;
    let d = Math.min(ellipsoidDistance(rightAtrium, s[3]!, s[4]!, s[5]!), ellipsoidDistance(rightVentricle, s[3]!, s[4]!, s[5]!));
    for (let i = 0; i < pulmonary.length; i++) d = Math.min(d, tubeDistance(pulmonary[i]!, s[3]!, s[4]!, s[5]!, Math.max(d, 0)));
    return (s[9] = Math.min(d, tubeDistance(cava, s[3]!, s[4]!, s[5]!, Math.max(d, 0))));
  };
  const coronaryMm = (): number => {
    if (isCoronary) return s[10]!;
    isCoronary = true;
    let d = Infinity;
    for (let i = 0; i < coronaries.length; i++) d = Math.min(d, tubeDistance(coronaries[i]!, s[3]!, s[4]!, s[5]!, 6));
    return (s[10] = d);
  };
  /** Ribs: rings of 9 mm about the chest, falling toward the front. */
  const ribsMm = (): number => {
    const around = columnDistance(0, 15, 152, 99, s[0]!, s[1]!);
    const level = s[2]! - 0.45 * s[1]!;
    const across = (level - 27 * Math.round(level / 27)) * 0.91;
    return Math.sqrt(around * around + across * across) - 4.5;
  };
  const spineMm = (): number => columnDistance(0, 84, 21, 18, s[0]!, s[1]!);

  function depositMm(i: number): number {
    const c = deposits[i]!;
    const x = s[6]! - c.x;
    const y = s[7]! - c.y;
    const z = s[8]! - c.z;
    const away = Math.sqrt(x * x + y * y + z * z) - c.largest;
    if (away > 1.5) return away;
    const f = c.frame;
    const a = (f[0]! * x + f[1]! * y + f[2]! * z) / c.axes[0];
    const b = (f[3]! * x + f[4]! * y + f[5]! * z) / c.axes[1];
    const d = (f[6]! * x + f[7]! * y + f[8]! * z) / c.axes[2];
    const k0 = Math.sqrt(a * a + b * b + d * d);
    if (k0 < 0.05) return -0.9 * Math.min(c.axes[0], c.axes[1], c.axes[2]);
    return (k0 * (k0 - 1)) / Math.sqrt((a / c.axes[0]) ** 2 + (b / c.axes[1]) ** 2 + (d / c.axes[2]) ** 2);
  }

  function distanceMm(layer: number): number {
    switch (layer) {
      case LAYER.skin: return columnDistance(0, 15, 178, 122, s[0]!, s[1]!);
      case LAYER.chest: return columnDistance(0, 15, 160, 107, s[0]!, s[1]!);
      case LAYER.lungs: return Math.min(
        ellipsoidDistance(LUNGS[0], s[0]!, s[1]!, s[2]!),
        ellipsoidDistance(LUNGS[1], s[0]!, s[1]!, s[2]!));
      case LAYER.mediastinum: return Math.min(
        ellipsoidDistance(HEART_SAC, s[0]!, s[1]!, s[2]!),
        columnDistance(0, 18, 42, 82, s[0]!, s[1]!));
      case LAYER.liver: return ellipsoidDistance(LIVER, s[0]!, s[1]!, s[2]!);
      case LAYER.ribs: return ribsMm();
      case LAYER.sternum: return columnDistance(0, -88, 20, 7, s[0]!, s[1]!);
      case LAYER.spine: return spineMm();
      case LAYER.marrow: return spineMm() + 1.8;
      case LAYER.rightWall: return rightChambers() - 3;
      case LAYER.myocardium: {
        const septum = Math.max(probe.rootMm() - SEPTUM_MM, s[8]! + 1, -3 - (s[6]! * septal[0] + s[7]! * septal[1]));
        return Math.min(probe.ventricleMm() - shape.ventricle.wallMm, septum);
      }
      case LAYER.atriumWall: return ellipsoidDistance(atrium, s[3]!, s[4]!, s[5]!) - 1.6;
      case LAYER.aorticWall: return Math.min(probe.bloodMm() - shape.wallMm, coronaryMm() - 0.7);
      case LAYER.rightBlood: return Math.max(rightChambers(), gapMm + 0.8 - probe.bloodMm(), shape.ventricle.wallMm - probe.ventricleMm());
      case LAYER.atriumBlood: return Math.max(ellipsoidDistance(atrium, s[3]!, s[4]!, s[5]!), gapMm - probe.bloodMm());
      case LAYER.leftBlood: return probe.bloodMm();
      case LAYER.coronaryBlood: return coronaryMm();
      case LAYER.leaflets: return probe.leafletMm();
      case LAYER.lead: return lead ? tubeDistance(lead, s[3]!, s[4]!, s[5]!, 10) : 1e3;
      default: return depositMm(layer - LAYER.calcium);
    }
  }

  return {
    layers: LAYER.calcium + deposits.length,
    gradedLayer: LAYER.leftBlood,
    shiftHeart(dx, dy, dz) { shift[0] = dx; shift[1] = dy; shift[2] = dz; },
    moveTo(sx, sy, sz) {
      s[0] = sx; s[1] = sy; s[2] = sz;
      const hx = sx - shift[0]!;
      const hy = sy - shift[1]!;
      const hz = sz - shift[2]!;
      s[3] = hx; s[4] = hy; s[5] = hz;
      isRight = isCoronary = false;
      const { u, v, n } = place;
      s[6] = u[0] * hx + u[1] * hy + u[2] * hz;
      s[7] = v[0] * hx + v[1] * hy + v[2] * hz;
      s[8] = n[0] * hx + n[1] * hy + n[2] * hz;
      probe.moveTo(hx, hy, hz, s[6], s[7], s[8]);
    },
    distanceMm,
    boundMm(layer, halfMm) {
      if (layer === LAYER.leaflets) {
        // the sheets turn sharply: every block within the root's cylinder counts as touched
        return Math.max(probe.cautiousRootMm() - 1.5, -1 - s[8]!, s[8]! - highestMm, 0);
      }
      const reachMm = layer === LAYER.myocardium ? SEPTUM_MM : gapMm + 2;
      if (FOLDED.has(layer) && Math.abs(probe.cautiousRootMm()) < halfMm + reachMm) return 0;
      return distanceMm(layer);
    },
    paintHu(layer) {
      if (layer === LAYER.leftBlood || layer === LAYER.coronaryBlood) {
        const cm = Math.max(-6, Math.min(8, s[8]! / 10));
        return scan.contrastHu + scan.contrastGradientHuPerCm * cm;
      }
      return layer >= LAYER.calcium ? deposits[layer - LAYER.calcium]!.hu : paints[layer]!;
    },
  };
}
