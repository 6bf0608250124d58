import { uniformAt } from '../math/random.ts';
import { CUSPS, type ByCusp, type Cusp } from '../root/root-types.ts';
import { makeSeededShape } from './draw-seeded-shape.ts';
import { sheetRadius, tabulateLeaflets } from './leaflet-sheets.ts';
import type { ByCommissure, CalciumShape, Commissure, PhantomScan, PhantomShape, ValveKind } from './phantom-types.ts';
import { tabulateRootWall, wrapAngle } from './root-wall.ts';

/** Which cusps have grown together. */
export type FusedKind = Extract<ValveKind, `fused-${string}`>;

export interface Fusion {
  readonly valve: FusedKind;
  /** Height of the raphe's attachment as a share of the junction's height; a whole commissure has 0.86 to 0.96. */
  readonly rapheHeightShare: number;
  /** Angle between the two commissures of the free cusp: 120 in a regular valve, up to 180. */
  readonly freeSpanDeg: number;
  /** Semi-axes of the calcium on the raphe (radial, tangential, along the leaf); null for a bare raphe. */
  readonly rapheCalciumMm: readonly [number, number, number] | null;
}

/** The free cusp, the raphe, and the commissures before and after the free cusp, counter-clockwise. */
const ANATOMY: Readonly<Record<FusedKind, { readonly free: Cusp; readonly raphe: Commissure; readonly before: Commissure; readonly after: Commissure }>> = {
  'fused-R-L': { free: 'N', raphe: 'RL', before: 'LN', after: 'NR' },
  'fused-R-N': { free: 'L', raphe: 'NR', before: 'RL', after: 'LN' },
  'fused-L-N': { free: 'R', raphe: 'LN', before: 'NR', after: 'RL' },
};
const CLEAR_OF_RAPHE_DEG = 25;
const off = (a: number, b: number): number => ((((a - b + 180) % 360) + 360) % 360) - 180;

/**
 * Two neighbouring cusps grown together in a root of three sinuses: low raphe, one edge across it, the free cusp wider.
 * What hung on a cusp (coronaries, calcium) moves with the nadir of that cusp.
 */
export function fuseCusps(shape: PhantomShape, fusion: Fusion): PhantomShape {
  const { free, raphe, before, after } = ANATOMY[fusion.valve];
  const half = fusion.freeSpanDeg / 2;
  const middle = shape.nadirAzimuthDeg[free];
  const rapheDeg = middle + 180 + off(shape.commissureAzimuthDeg[raphe], middle + 180);
  const commissures = { [before]: middle - half, [after]: middle + half, [raphe]: rapheDeg } as ByCommissure<number>;
  // Each fused cusp keeps its nadir halfway between raphe and commissure.
  const between = (from: number, to: number): number => from + ((((to - from) % 360) + 360) % 360) / 2;
  const [first, second] = CUSPS.map((c) => CUSPS[(CUSPS.indexOf(free) + 1 + CUSPS.indexOf(c)) % 3]!) as [Cusp, Cusp, Cusp];
  const nadirs = { [free]: middle, [first]: between(middle + half, rapheDeg), [second]: between(rapheDeg, middle - half) } as ByCusp<number>;
  // Azimuth 0 stays at the R nadir.
  const turn = nadirs.R;
  const full = (deg: number): number => (((deg - turn) % 360) + 360) % 360;
  const nadirAzimuthDeg: ByCusp<number> = { R: 0, L: full(nadirs.L), N: full(nadirs.N) };
  const commissureAzimuthDeg: ByCommissure<number> = { RL: full(commissures.RL), LN: full(commissures.LN), NR: full(commissures.NR) };
  const carry = (deg: number, cusp: Cusp): number => nadirAzimuthDeg[cusp] + off(deg, shape.nadirAzimuthDeg[cusp]);
  const nearest = (deg: number): Cusp => [...CUSPS].sort((a, b) => Math.abs(off(deg, shape.nadirAzimuthDeg[a])) - Math.abs(off(deg, shape.nadirAzimuthDeg[b])))[0]!;
  const { left, right } = shape.coronaries;
  const even = (of: ByCusp<number>): ByCusp<number> => ({ ...of, [second]: of[first] });
  const bare: PhantomShape = {
    ...shape,
    valve: fusion.valve, nadirAzimuthDeg, commissureAzimuthDeg,
    commissureHeightShare: { ...shape.commissureHeightShare, [raphe]: fusion.rapheHeightShare },
    // One leaflet has one edge: the two halves meet at the raphe.
    leaflets: { ...shape.leaflets, edgeHeightShare: even(shape.leaflets.edgeHeightShare), edgeRadiusMm: even(shape.leaflets.edgeRadiusMm) },
    coronaries: { left: left && { ...left, azimuthDeg: carry(left.azimuthDeg, 'L') }, right: right && { ...right, azimuthDeg: carry(right.azimuthDeg, 'R') } },
    calcium: [],
  };
  const calcium = shape.calcium
    .map((c) => ({ ...c, azimuthDeg: carry(c.azimuthDeg, nearest(c.azimuthDeg)) }))
    .filter((c) => Math.abs(off(c.azimuthDeg, commissureAzimuthDeg[raphe])) > CLEAR_OF_RAPHE_DEG);
  if (fusion.rapheCalciumMm) calcium.push(calcifyRaphe(bare, commissureAzimuthDeg[raphe], fusion.rapheCalciumMm));
  return { ...bare, calcium };
}

function calcifyRaphe(bare: PhantomShape, azimuthDeg: number, semiAxesMm: readonly [number, number, number]): CalciumShape {
  const wall = tabulateRootWall(bare);
  const sheets = tabulateLeaflets(bare, wall);
  const i = Math.floor((wrapAngle((azimuthDeg * Math.PI) / 180) / (2 * Math.PI)) * wall.azimuths) % wall.azimuths;
  return {
    place: 'leaflet', azimuthDeg, heightMm: (sheets.attachMm[i]! + sheets.edgeMm[i]!) / 2,
    radiusMm: sheetRadius(sheets.attachRadiusMm[i]!, sheets.edgeRadiusMm[i]!, sheets.belly, 0.5), semiAxesMm, leanDeg: 30, attenuationHu: 950,
  };
}

const KINDS: readonly FusedKind[] = ['fused-R-L', 'fused-R-N', 'fused-L-N'];

/** A fused valve for any seed: the root of `makeSeededShape` with one of the three pairs grown together. Ranges [M]: docs/methods/phantom.md. */
export function makeSeededFusion(seed: number): { readonly shape: PhantomShape; readonly scan: PhantomScan; readonly fusion: Fusion } {
  const between = (variable: number, low: number, high: number): number => low + (high - low) * uniformAt(seed, 1, variable);
  const { shape, scan } = makeSeededShape(seed);
  // The raphe ends below the free edge, by a tenth of the junction's height or more.
  const edgeShare = Math.min(...CUSPS.map((c) => shape.leaflets.edgeHeightShare[c])) * Math.min(...Object.values(shape.commissureHeightShare));
  const fusion: Fusion = {
    valve: KINDS[seed % 3]!,
    rapheHeightShare: Math.min(between(700, 0.3, 0.7), edgeShare - 0.1),
    freeSpanDeg: between(701, 120, 165),
    rapheCalciumMm: uniformAt(seed, 1, 702) < 0.5 ? [between(703, 1.8, 3.4), between(704, 0.9, 1.6), between(705, 1, 2)] : null,
  };
  return { shape: fuseCusps(shape, fusion), scan, fusion };
}
