import { normalAt, uniformAt } from '../math/random.ts';
import { CUSPS, type ByCusp, type Cusp } from '../root/root-types.ts';
import { sheetRadius, tabulateLeaflets } from './leaflet-sheets.ts';
import type { ByCommissure, CalciumShape, CoronaryShape, PhantomScan, PhantomShape, PolarContour, TissueHu } from './phantom-types.ts';
import { contourRadius, RAD, readAxis, readWall, tabulateRootWall } from './root-wall.ts';

export const PLAIN_TISSUE: TissueHu = {
  wall: 55, leaflet: 85, myocardium: 110, fat: -95, lung: -850, muscle: 55, liver: 110, cortical: 700, trabecular: 200,
};

/** Draws by name: each quantity has its own variable number, so adding one does not move the others. */
interface Dice {
  between(variable: number, low: number, high: number): number;
  normal(variable: number, mean: number, sd: number, low: number, high: number): number;
}
function makeDice(seed: number): Dice {
  return {
    between: (v, low, high) => low + (high - low) * uniformAt(seed, 1, v),
    normal: (v, mean, sd, low, high) => Math.min(high, Math.max(low, mean + sd * normalAt(seed, 1, v))),
  };
}

function drawContour(d: Dice, v: number, meanRadiusMm: number, ellipticity: number, waveMm: number): PolarContour {
  return {
    meanRadiusMm, ellipticity, longAxisDeg: d.between(v, 0, 180),
    waves: [
      { order: 3, amplitudeMm: d.between(v + 1, 0, waveMm), phaseDeg: d.between(v + 2, 0, 360) },
      { order: 4, amplitudeMm: d.between(v + 3, 0, 0.5 * waveMm), phaseDeg: d.between(v + 4, 0, 360) },
    ],
  };
}

function drawCalcium(seed: number, d: Dice, bare: PhantomShape): readonly CalciumShape[] {
  const wall = tabulateRootWall(bare);
  const sheets = tabulateLeaflets(bare, wall);
  const out: CalciumShape[] = [];
  const burden = uniformAt(seed, 1, 300);
  const place = (c: CalciumShape): void => {
    // deposits keep apart, so that their volumes add up
    const at = (e: CalciumShape): readonly [number, number, number] => {
      const [x, y] = readAxis(wall, e.heightMm);
      return [x + e.radiusMm * Math.cos(e.azimuthDeg * RAD), y + e.radiusMm * Math.sin(e.azimuthDeg * RAD), e.heightMm];
    };
    const p = at(c);
    const isFree = out.every((e) => {
      const q = at(e);
      return Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]) > Math.max(...e.semiAxesMm) + Math.max(...c.semiAxesMm) + 0.4;
    });
    if (isFree) out.push(c);
  };
  CUSPS.forEach((cusp, k) => {
    const count = Math.floor(burden * 4 + d.between(301 + k, 0, 1.6));
    const size = 0.85 + 0.6 * burden;
    for (let i = 0; i < count; i++) {
      const v = 310 + 40 * k + 8 * i;
      const azimuthDeg = bare.nadirAzimuthDeg[cusp] + d.between(v, -38, 38);
      const column = Math.round((((azimuthDeg % 360) + 360) % 360) * (wall.azimuths / 360)) % wall.azimuths;
      const s = d.between(v + 1, 0.15, 0.9);
      const heightMm = sheets.attachMm[column]! + s * (sheets.edgeMm[column]! - sheets.attachMm[column]!);
      const radiusMm = sheetRadius(sheets.attachRadiusMm[column]!, sheets.edgeRadiusMm[column]!, sheets.belly, s) + 0.3;
      place({
        place: 'leaflet', azimuthDeg, heightMm, radiusMm: Math.max(1.5, radiusMm),
        semiAxesMm: [size * d.between(v + 2, 0.8, 1.7), size * d.between(v + 3, 1.2, 3.4), size * d.between(v + 4, 1.2, 3)],
        leanDeg: d.between(v + 5, 20, 45), attenuationHu: Math.round(d.between(v + 6, 650, 1300)),
      });
    }
  });
  for (let i = 0; i < 3; i++) {
    const v = 500 + 10 * i;
    if (uniformAt(seed, 1, v) > 0.2 + 0.5 * burden) continue;
    const isAnnulus = i === 0;
    const azimuthDeg = d.between(v + 1, 60, 300); // below L and N, and the curtain between them
    const heightMm = isAnnulus ? d.between(v + 2, 0.5, 2.5) : d.between(v + 2, -8, -2.5);
    const semi = [d.between(v + 3, 0.9, 2.2), d.between(v + 4, 1.2, 3), d.between(v + 5, 1.2, 2.4)] as const;
    place({
      place: isAnnulus ? 'annulus' : 'outflow', azimuthDeg, heightMm, radiusMm: readWall(wall, wall.radiusMm, azimuthDeg * RAD, heightMm) + d.between(v + 6, -0.5, 0.5),
      semiAxesMm: semi, leanDeg: 0, attenuationHu: Math.round(d.between(v + 7, 700, 1300)),
    });
  }
  return out;
}

function drawCoronary(d: Dice, v: number, centreDeg: number, heightMm: number): CoronaryShape {
  return {
    azimuthDeg: centreDeg + d.between(v, -18, 18), heightMm, radiusMm: d.between(v + 1, 1.3, 2.1),
    sidewaysDeg: d.between(v + 2, -25, 25), riseDeg: d.between(v + 3, -10, 20),
  };
}

/**
 * A plausible root and scan for any seed, drawn from published ranges (docs/methods/phantom.md lists each with its
 * source or [M]). The same seed always gives the same phantom.
 */
export function makeSeededShape(seed: number): { readonly shape: PhantomShape; readonly scan: PhantomScan } {
  const d = makeDice(seed);
  const ringRadius = d.normal(1, 24.3, 2.2, 20, 29) / 2;
  const ring = drawContour(d, 10, ringRadius, d.normal(2, 1.22, 0.09, 1.05, 1.4), 0.35);
  const outflowKind = uniformAt(seed, 1, 3); // about a third each: tapered, straight, flared
  const outflowShare = outflowKind < 0.35 ? d.between(4, 0.84, 0.95) : outflowKind < 0.7 ? d.between(4, 0.96, 1.03) : d.between(4, 1.03, 1.12);
  const junctionRadius = Math.max(ringRadius + 1, d.normal(5, 28.5, 2.4, 24, 34) / 2);
  const junctionHeight = d.normal(6, 20.5, 2, 16.5, 25);
  const ascendingRadius = Math.max(junctionRadius + 1.2, d.normal(7, 34, 2.8, 28, 40) / 2);
  const nadirAzimuthDeg: ByCusp<number> = { R: 0, L: 120 + d.normal(20, 0, 5, -11, 11), N: 240 + d.normal(21, 0, 5, -11, 11) };
  const mid = (a: number, b: number, v: number): number => (a + b) / 2 + d.normal(v, 0, 3, -6, 6);
  const commissureAzimuthDeg: ByCommissure<number> = {
    RL: mid(0, nadirAzimuthDeg.L, 22), LN: mid(nadirAzimuthDeg.L, nadirAzimuthDeg.N, 23), NR: mid(nadirAzimuthDeg.N, 360, 24),
  };
  const junctionContour = drawContour(d, 30, junctionRadius, d.between(36, 1, 1.09), 0.2);
  // target widths (cusp to opposite wall) give the depth; the opposite wall lies near a commissure, 1 mm inside the straight wall's mean
  const straight = 0.45 * ringRadius + 0.55 * junctionRadius;
  const depth = (v: number, mean: number): number => Math.min(8.5, Math.max(2.5, d.normal(v, mean, 2.3, 27, 40) - 2 * straight - 2));
  const sinusDepthMm: ByCusp<number> = { R: depth(40, 32), L: depth(41, 32.6), N: depth(42, 33.2) };
  const heightWaves = [
    { order: 1, amplitudeMm: d.between(50, 0, 1.2), phaseDeg: d.between(51, 0, 360) },
    { order: 2, amplitudeMm: d.between(52, 0, 0.4), phaseDeg: d.between(53, 0, 360) },
  ];
  const edgeRadius = (v: number): number => d.between(v, 2.6, 4.8);
  const bare: PhantomShape = {
    valve: 'three-leaflet',
    pose: {
      positionLps: [d.between(60, -15, 25), d.between(61, -170, -110), d.between(62, -300, 250)],
      angulationDeg: d.normal(63, 48, 8, 30, 65), leanTowardDeg: d.between(64, 12, 42), rightNadirTurnDeg: d.normal(65, 5, 9, -20, 25),
      isMirrored: false, turn: { axisLps: [0, 0, 1], angleDeg: d.between(66, -6, 6) },
    },
    ring,
    outflow: {
      contour: drawContour(d, 70, ringRadius * outflowShare, d.normal(76, 1.3, 0.1, 1.08, 1.5), 0.3),
      shiftMm: [d.between(77, -1, 1), d.between(78, -1, 1)],
    },
    septalBulge: {
      inwardMm: uniformAt(seed, 1, 80) < 0.45 ? d.between(81, 1, 3.2) : 0, heightMm: d.between(82, -10, -6), azimuthDeg: d.between(83, -25, 25),
      sigmaHeightMm: d.between(84, 2.2, 3.2), sigmaAzimuthDeg: d.between(85, 22, 36),
    },
    nadirAzimuthDeg, commissureAzimuthDeg,
    commissureHeightShare: { RL: d.between(90, 0.86, 0.96), LN: d.between(91, 0.86, 0.96), NR: d.between(92, 0.86, 0.96) },
    sinusDepthMm,
    junction: { contour: junctionContour, heightMm: junctionHeight, heightWaves, shiftMm: [d.between(54, -1.5, 1.5), d.between(55, -1.5, 1.5)] },
    ascending: { radiusMm: ascendingRadius, widenOverMm: d.between(8, 12, 18) },
    leaflets: {
      state: 'stenotic', thicknessMm: d.between(100, 0.7, 1.4), belly: d.between(101, -0.2, 0.5),
      edgeHeightShare: { R: d.between(102, 0.58, 0.76), L: d.between(103, 0.58, 0.76), N: d.between(104, 0.58, 0.76) },
      edgeRadiusMm: { R: edgeRadius(105), L: edgeRadius(106), N: edgeRadius(107) },
    },
    calcium: [], coronaries: { left: null, right: null },
    wallMm: d.between(110, 1.2, 2), septumToAtriumMm: d.between(111, 1.5, 3),
    ventricle: { lengthMm: d.between(112, 74, 92), widthMm: d.between(113, 36, 46), wallMm: d.between(114, 10, 14) },
    tissueHu: { ...PLAIN_TISSUE, wall: Math.round(d.between(115, 40, 75)), myocardium: Math.round(d.between(116, 90, 130)), leaflet: Math.round(d.between(117, 60, 115)) },
    hasLead: false,
  };
  const topAt = (azimuthDeg: number): number => junctionHeight + heightWaves.reduce((t, w) => t + w.amplitudeMm * Math.cos(w.order * (azimuthDeg - w.phaseDeg) * RAD), 0);
  const coronary = (v: number, cusp: Cusp, mean: number): CoronaryShape => {
    const c = drawCoronary(d, v, nadirAzimuthDeg[cusp], d.normal(v + 5, mean, 2.3, 9, 18));
    return { ...c, heightMm: Math.min(c.heightMm, topAt(c.azimuthDeg) - c.radiusMm - 0.8) };
  };
  const shape: PhantomShape = {
    ...bare, calcium: drawCalcium(seed, d, bare),
    coronaries: { left: coronary(200, 'L', 13.2), right: coronary(210, 'R', 14.4) },
  };
  return { shape, scan: drawScan(seed, d, shape) };
}

function drawScan(seed: number, d: Dice, shape: PhantomShape): PhantomScan {
  const pixel = d.between(400, 0.35, 0.5);
  const slice = d.between(401, 0.5, 0.75);
  const contrastHu = Math.round(d.between(402, 280, 520));
  const p = shape.pose.positionLps;
  // a field of about 115 x 115 x 110 mm about the root: outflow tract, root, ascending aorta, part of the ventricle
  return {
    dims: [Math.round(115 / pixel), Math.round(115 / pixel), Math.round(112 / slice)], spacingMm: [pixel, pixel, slice], sliceThicknessMm: slice,
    centreLps: [p[0] + d.between(403, -6, 6), p[1] + d.between(404, -6, 6), p[2] + d.between(405, 2, 10)],
    gantryTiltDeg: 0, inPlaneTurnDeg: 0, sliceOrder: uniformAt(seed, 1, 406) < 0.5 ? 'feet-to-head' : 'head-to-feet',
    blurMm: { inPlane: d.between(407, 0.45, 0.7), z: d.between(408, 0.45, 0.7) },
    noise: { sdHu: d.between(409, 20, 40), correlationMm: d.between(410, 0.35, 0.6) },
    contrastHu, contrastGradientHuPerCm: d.between(411, -6, 6),
    leftAtriumHu: Math.round(contrastHu * d.between(412, 0.85, 1.05)), rightHeartHu: Math.round(d.between(413, 80, 250)),
    seed, phasePercent: 30, artefacts: {},
  };
}

/** Mean straight-wall radius of the ring at a height; used by scenario makers to size devices and fields. */
export function meanRingDiameterMm(shape: PhantomShape): number {
  let squares = 0;
  for (let i = 0; i < 360; i++) squares += contourRadius(shape.ring, i * RAD) ** 2 / 360;
  return 2 * Math.sqrt(squares);
}
