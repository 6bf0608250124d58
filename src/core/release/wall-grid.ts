import type { ContactSurface, ShiftName, WallBasis, WallGrid, WallPart, WallPoint, ZoneName } from './release-types.ts';
import { SHIFTS, ZONES } from './release-types.ts';
import { PART, PART_SLOTS, ZONE_AT, type WallParts } from './wall-stiffness.ts';

/** Modelled positions of the inflow edge, mm above the basal plane, and the wall they can meet. */
export const ZONE = { lowMm: -18, highMm: 10, stepMm: 0.5, sectors: 24 } as const;

interface GridSize {
  readonly lowMm: number;
  readonly stepMm: number;
  readonly rows: number;
  readonly sectors: number;
}
/** Grid that every ring of a frame of this height meets at every modelled position. */
export function sizeWallGrid(frameHeightMm: number, stepMm: number = ZONE.stepMm, sectors: number = ZONE.sectors): GridSize {
  const span = ZONE.highMm - ZONE.lowMm + frameHeightMm;
  return { lowMm: ZONE.lowMm, stepMm, rows: Math.round(span / stepMm) + 1, sectors };
}

function makeEmptyGrid(size: GridSize): WallGrid {
  const n = size.rows * size.sectors;
  return {
    ...size,
    radiusMm: new Float64Array(n),
    radiusSlope: new Float64Array(n),
    stiffnessNPerMm3: new Float64Array(n),
    stiffnessSlope: new Float64Array(n),
  };
}

/** Samples a wall function on a grid. */
export function tabulateWall(surface: ContactSurface, size: GridSize): WallGrid {
  const grid = makeEmptyGrid(size);
  const point: WallPoint = { radiusMm: 0, radiusSlope: 0, stiffnessNPerMm3: 0, stiffnessSlope: 0 };
  for (let r = 0, at = 0; r < size.rows; r++) {
    for (let j = 0; j < size.sectors; j++, at++) {
      surface(size.lowMm + r * size.stepMm, (2 * Math.PI * j) / size.sectors, point);
      grid.radiusMm[at] = point.radiusMm;
      grid.radiusSlope[at] = point.radiusSlope;
      grid.stiffnessNPerMm3[at] = point.stiffnessNPerMm3;
      grid.stiffnessSlope[at] = point.stiffnessSlope;
    }
  }
  return grid;
}

const SHIFT_AT: Readonly<Record<ShiftName, number>> = {
  annulus: PART.shiftAnnulus,
  outflow5: PART.shiftOutflow5,
  outflow10: PART.shiftOutflow10,
  leaflets: PART.shiftLeaflets,
};

/** Samples the parts of a wall on a grid, so that one sample's wall is a weighted sum. */
export function makeWallBasis(parts: WallParts, narrowing: number, size: GridSize): WallBasis {
  const n = size.rows * size.sectors;
  const makePart = (): WallPart => ({ value: new Float64Array(n), slope: new Float64Array(n) });
  const radius = makePart();
  const shifts = { annulus: makePart(), outflow5: makePart(), outflow10: makePart(), leaflets: makePart() };
  const stiffness = {
    outflow: makePart(), annulus: makePart(), leaflet: makePart(), aorta: makePart(), calcium: makePart(),
  };
  const work = new Float64Array(PART_SLOTS);
  const keep = (part: WallPart, at: number, slot: number): void => {
    part.value[at] = work[slot]!;
    part.slope[at] = work[slot + 1]!;
  };
  for (let r = 0, at = 0; r < size.rows; r++) {
    for (let j = 0; j < size.sectors; j++, at++) {
      parts(size.lowMm + r * size.stepMm, (2 * Math.PI * j) / size.sectors, work);
      keep(radius, at, PART.radius);
      for (const name of SHIFTS) keep(shifts[name], at, SHIFT_AT[name]);
      for (const name of ZONES) keep(stiffness[name], at, ZONE_AT[name]);
    }
  }
  return { ...size, radius, shifts, stiffness, narrowing };
}

export interface WallWeights {
  readonly shift: Readonly<Record<ShiftName, number>>;
  readonly zoneFactor: Readonly<Record<ZoneName, number>>;
}
export const NOMINAL_WALL: WallWeights = {
  shift: { annulus: 0, outflow5: 0, outflow10: 0, leaflets: 0 },
  zoneFactor: { outflow: 1, annulus: 1, leaflet: 1, aorta: 1, calcium: 1 },
};

/** One sample's wall: written into `into` (of the same size) or a new grid. */
export function combineWall(basis: WallBasis, weights: WallWeights, into?: WallGrid): WallGrid {
  const grid = into ?? makeEmptyGrid(basis);
  grid.radiusMm.set(basis.radius.value);
  grid.radiusSlope.set(basis.radius.slope);
  for (const name of SHIFTS) addPart(grid.radiusMm, grid.radiusSlope, basis.shifts[name], weights.shift[name]);
  grid.stiffnessNPerMm3.fill(0);
  grid.stiffnessSlope.fill(0);
  for (const name of ZONES) {
    addPart(grid.stiffnessNPerMm3, grid.stiffnessSlope, basis.stiffness[name], weights.zoneFactor[name]);
  }
  return grid;
}

function addPart(value: Float64Array, slope: Float64Array, part: WallPart, weight: number): void {
  if (weight === 0) return;
  const { value: v, slope: d } = part;
  for (let i = 0; i < value.length; i++) {
    value[i]! += weight * v[i]!;
    slope[i]! += weight * d[i]!;
  }
}
