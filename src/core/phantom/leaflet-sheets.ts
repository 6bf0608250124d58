import type { Cusp } from '../root/root-types.ts';
import type { Commissure, PhantomShape, ValveKind } from './phantom-types.ts';
import { attachmentHeight, commissureHeight, readWall, type CuspPlace, type RootWall } from './root-wall.ts';

/** Leaflets as thin sheets, radius over (azimuth, height) between the attachment and the free edge. */
export interface LeafletSheets {
  /** Per azimuth (azimuths + 1). */
  readonly attachMm: Float64Array;
  readonly edgeMm: Float64Array;
  readonly attachRadiusMm: Float64Array;
  readonly edgeRadiusMm: Float64Array;
  readonly belly: number;
  readonly halfThicknessMm: number;
}

/** Where a fused valve has its raphe instead of a commissure, and a whole commissure that sets the height of the edge there. */
const RAPHE: Readonly<Partial<Record<ValveKind, { readonly at: Commissure; readonly whole: Commissure }>>> = {
  'fused-R-L': { at: 'RL', whole: 'LN' },
  'fused-R-N': { at: 'NR', whole: 'LN' },
  'fused-L-N': { at: 'LN', whole: 'RL' },
};

/** Height of the free edge; where cusps are fused it stays up across the raphe. */
function edgeHeight(shape: PhantomShape, place: CuspPlace): number {
  const top = commissureHeight(shape, place.commissure);
  const raphe = RAPHE[shape.valve];
  const isFused = raphe?.at === place.commissure;
  const full = isFused ? commissureHeight(shape, raphe.whole) : top;
  const middle = shape.leaflets.edgeHeightShare[place.cusp] * (isFused ? full : top);
  return isFused ? middle : middle + (top - middle) * place.share * place.share;
}

function edgeRadius(shape: PhantomShape, place: CuspPlace, wallMm: number): number {
  const middle = shape.leaflets.edgeRadiusMm[place.cusp];
  if (RAPHE[shape.valve]?.at === place.commissure) return middle;
  // in the narrowed valve the edges stay near the axis until close to the commissure
  const power = shape.leaflets.state === 'open' ? 2 : 4;
  return middle + (wallMm - middle) * place.share ** power;
}

export function tabulateLeaflets(shape: PhantomShape, wall: RootWall): LeafletSheets {
  const n = wall.azimuths + 1;
  const sheets: LeafletSheets = {
    attachMm: new Float64Array(n), edgeMm: new Float64Array(n), attachRadiusMm: new Float64Array(n), edgeRadiusMm: new Float64Array(n),
    belly: shape.leaflets.belly, halfThicknessMm: shape.leaflets.thicknessMm / 2,
  };
  for (let i = 0; i < n; i++) {
    const azimuth = ((i % wall.azimuths) * 2 * Math.PI) / wall.azimuths;
    const place = wall.findCusp(azimuth);
    sheets.attachMm[i] = attachmentHeight(shape, place);
    sheets.edgeMm[i] = edgeHeight(shape, place);
    sheets.attachRadiusMm[i] = readWall(wall, wall.radiusMm, azimuth, sheets.attachMm[i]!);
    sheets.edgeRadiusMm[i] = edgeRadius(shape, place, readWall(wall, wall.radiusMm, azimuth, sheets.edgeMm[i]!));
  }
  return sheets;
}

/** Radius of the sheet at share s of its height (0 attachment, 1 edge). */
export function sheetRadius(attachRadiusMm: number, edgeRadiusMm: number, belly: number, s: number): number {
  return attachRadiusMm + (edgeRadiusMm - attachRadiusMm) * s * (1 - belly * (1 - s));
}

/** Length along the leaflet at the azimuth of its nadir, from the nadir to the free edge (Simpson's rule, 200 steps). */
export function measureLeafletLength(shape: PhantomShape, wall: RootWall, cusp: Cusp): number {
  const azimuth = (shape.nadirAzimuthDeg[cusp] * Math.PI) / 180;
  const place = wall.findCusp(azimuth);
  const edge = edgeHeight(shape, place);
  const from = readWall(wall, wall.radiusMm, azimuth, 0);
  const to = edgeRadius(shape, place, readWall(wall, wall.radiusMm, azimuth, edge));
  const b = shape.leaflets.belly;
  const speed = (s: number): number => Math.hypot(edge, (to - from) * (1 - b + 2 * b * s));
  const steps = 200;
  let sum = speed(0) + speed(1);
  for (let i = 1; i < steps; i++) sum += speed(i / steps) * (i % 2 === 1 ? 4 : 2);
  return sum / (3 * steps);
}
