import { computePressure, joinSprings } from './contact-law.ts';
import { measureRing, smoothRing } from '../root/measure-ring.ts';
import type { ContactGap, ExpectedFrame, FrameModel, FrameRing, WallGrid } from './release-types.ts';

/** Cusps by the azimuth of their middle, rad. */
export type CuspAzimuths = Readonly<Record<'R' | 'L' | 'N', number>>;
/** Two surfaces nearer than this touch, for a gap to be worth naming. */
const LEAST_GAP_MM = 0.1;
/** The sealing reach above the basal plane: the lower part of the pushed-aside leaflets. */
const SEAL_TOP_MM = 4;

/**
 * Shape of the released frame at a depth and where it stays off the wall, each sector by the balance of frame and wall.
 *
 * Units     mm; azimuth in degrees from the R nadir, counter-clockwise seen from the aorta
 * Equation  where they touch, the wall gives p / k_w and the frame takes r = R + p / k_w; elsewhere r = r_f
 * Limits    the frame stays centred and round-meshed: it neither moves to the side nor turns oval as a whole
 */
export function estimateInflatedFrame(
  frame: FrameModel,
  wall: WallGrid,
  depthMm: number,
  cusps: CuspAzimuths,
  frameFactor = 1,
): ExpectedFrame {
  return {
    depthMm,
    outlineMm: [...computeRestingRadii(frame, wall, depthMm, findRing(frame, depthMm), frameFactor)],
    inflow: measureFrameRing(frame, wall, depthMm, 0, frameFactor),
    waist: measureFrameRing(frame, wall, depthMm, findRing(frame, frame.waistHeightMm), frameFactor),
    gaps: findGaps(frame, wall, depthMm, cusps),
  };
}

function findRing(frame: FrameModel, heightMm: number): number {
  let best = 0;
  for (let i = 1; i < frame.ringMm.length; i++) {
    if (Math.abs(frame.ringMm[i]! - heightMm) < Math.abs(frame.ringMm[best]! - heightMm)) best = i;
  }
  return best;
}

/** Wall numbers at a height and sector, linear between the grid's rows. */
function readWall(wall: WallGrid, of: Float64Array, sMm: number, sector: number): number {
  const place = Math.max(0, Math.min(wall.rows - 1.000001, (sMm - wall.lowMm) / wall.stepMm));
  const row = Math.floor(place);
  const f = place - row;
  return of[row * wall.sectors + sector]! * (1 - f) + of[(row + 1) * wall.sectors + sector]! * f;
}

/** Radii of one ring of the released frame by sector. */
export function computeRestingRadii(frame: FrameModel, wall: WallGrid, depthMm: number, ring: number, frameFactor = 1): Float64Array {
  const free = frame.freeRadiusMm[ring]!;
  const sMm = frame.ringMm[ring]! - depthMm;
  return Float64Array.from({ length: wall.sectors }, (_, j) => {
    const wallMm = readWall(wall, wall.radiusMm, sMm, j);
    const kw = readWall(wall, wall.stiffnessNPerMm3, sMm, j);
    const overlap = free - wallMm;
    if (!(overlap > 0)) return free;
    const k = joinSprings(frame.stiffnessNPerMm3[ring]! * frameFactor, kw);
    return wallMm + Math.min(overlap, computePressure(k, overlap, frame.plateauNPerMm2) / kw);
  });
}

function measureFrameRing(frame: FrameModel, wall: WallGrid, depthMm: number, ring: number, frameFactor: number): FrameRing {
  const radii = computeRestingRadii(frame, wall, depthMm, ring, frameFactor);
  const m = measureRing(smoothRing(radii));
  return {
    heightMm: frame.ringMm[ring]! - depthMm,
    meanDiameterMm: m.perimeterMm / Math.PI,
    minDiameterMm: m.minDiameterMm,
    maxDiameterMm: m.maxDiameterMm,
    minOverMaxRatio: m.minDiameterMm / m.maxDiameterMm,
  };
}

/** Sectors where no ring of the sealing reach touches, joined to runs; each run belongs to the nearest cusp. */
function findGaps(frame: FrameModel, wall: WallGrid, depthMm: number, cusps: CuspAzimuths): readonly ContactGap[] {
  const n = wall.sectors;
  const least = Array.from({ length: n }, (_, j) => {
    let gapMm = Infinity;
    let heightMm = -depthMm;
    for (let i = 0; i < frame.ringMm.length && frame.ringMm[i]! - depthMm <= SEAL_TOP_MM; i++) {
      const sMm = frame.ringMm[i]! - depthMm;
      const gap = readWall(wall, wall.radiusMm, sMm, j) - frame.freeRadiusMm[i]!;
      if (gap < gapMm) {
        gapMm = gap;
        heightMm = sMm;
      }
    }
    return { gapMm, heightMm };
  });
  const isOpen = (j: number): boolean => least[((j % n) + n) % n]!.gapMm > LEAST_GAP_MM;
  const sectorDeg = 360 / n;
  const gaps: ContactGap[] = [];
  for (let j = 0; j < n; j++) {
    if (!isOpen(j) || (isOpen(j - 1) && !(j === 0 && least.every((_, k) => isOpen(k))))) continue;
    let length = 1;
    while (length < n && isOpen(j + length)) length++;
    const run = Array.from({ length }, (_, k) => least[(j + k) % n]!);
    const widest = run.reduce((a, b) => (b.gapMm > a.gapMm ? b : a));
    const fromDeg = (j - 0.5) * sectorDeg;
    const middleRad = ((fromDeg + (length * sectorDeg) / 2) * Math.PI) / 180;
    gaps.push({
      cusp: findCusp(cusps, middleRad),
      fromDeg: length === n ? 0 : (fromDeg + 360) % 360,
      toDeg: length === n ? 360 : (fromDeg + length * sectorDeg + 360) % 360,
      heightMm: widest.heightMm,
      gapMm: widest.gapMm,
    });
  }
  return gaps.sort((a, b) => b.gapMm - a.gapMm);
}

function findCusp(cusps: CuspAzimuths, rad: number): 'R' | 'L' | 'N' {
  const closeness = (c: 'R' | 'L' | 'N'): number => Math.cos(rad - cusps[c]);
  return closeness('R') >= closeness('L') && closeness('R') >= closeness('N') ? 'R' : closeness('L') >= closeness('N') ? 'L' : 'N';
}
