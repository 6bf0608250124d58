import { fail, succeed, type Result } from '../result.ts';
import { makeFact, type Fact, type FactStamp, type Reason } from '../units/fact.ts';
import type { Sourced } from '../units/sourced.ts';
import { voxelRowsFromLps } from '../volume/sample-volume.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { assessAgatstonSeverity, type AgatstonSeverity, type AgatstonSeverityFailureCode } from './agatston-severity.ts';
import { makeWallProbe } from './calcium-zone.ts';
import type { WallTable } from './find-junction.ts';
import { cylinderFromLps, lpsFromCylinder, type RootFrame } from './root-frame.ts';
import type { Xyz } from './root-types.ts';

export type AgatstonFailureCode =
  | 'agatston-zone-missing' | 'agatston-zone-invalid' | 'agatston-zone-outside-scan' | 'agatston-contrast' | 'agatston-thickness-missing'
  | 'agatston-slices-thick';

/** A cylinder that a person marked about the valve: without contrast the valve is not found automatically. */
export interface AgatstonZone {
  readonly centreLps: Xyz;
  readonly radiusMm: number;
  readonly heightMm: number;
  /** Along the cylinder. */
  readonly normalLps: Xyz;
}

/** The valve's place by a root measured in another series: the inside of its wall and `marginMm` beyond, between two heights. */
export interface AgatstonRootZone {
  readonly frame: RootFrame;
  readonly wall: WallTable;
  readonly lowMm: number;
  readonly highMm: number;
  readonly marginMm: number;
}

export interface AgatstonOptions {
  readonly sliceThicknessMm: number | null;
  readonly isContrastDeclared: boolean | null;
  readonly isGated: boolean | null;
  readonly kvp: number | null;
  readonly sex: 'F' | 'M' | 'O' | null;
  readonly stamp: FactStamp;
}

export interface AgatstonLesion {
  readonly slice: number;
  readonly areaMm2: number;
  readonly peakHu: number;
  readonly weight: number;
}

export interface AgatstonScore {
  readonly scoreAu: Fact;
  /** Voxels at 130 HU and above times their volume: for comparison; not the contrast volume of the plan. */
  readonly volumeMm3: Fact;
  readonly lesions: readonly AgatstonLesion[];
  /** Median of the place of the valve. */
  readonly bloodHu: number;
  readonly severity: Result<AgatstonSeverity, AgatstonSeverityFailureCode>;
  readonly scoreUnit: 'Agatston units, non-contrast';
}

const METHOD = 'root.agatston/1';
const SOURCE = 'Agatston method in scanner operating instructions and a public calculator page; checks CT-33';
export const AGATSTON_FLOOR_HU: Sourced = { value: 130, unit: '[hnsf\'U]', edition: '-', status: 'C', source: SOURCE };
export const AGATSTON_STEPS_HU: readonly Sourced[] = [130, 200, 300, 400].map((value) => ({ ...AGATSTON_FLOOR_HU, value }));
export const AGATSTON_LEAST_AREA_MM2: Sourced = { value: 1, unit: 'mm2', edition: '-', status: 'M', source: 'checks CT-34: 1 mm2 (3 adjacent pixels in the original)' };
export const AGATSTON_SLICE_MM: Sourced = { value: 3, unit: 'mm', edition: '-', status: 'C', source: SOURCE };
/** Calibration of the scanner's HU, one standard deviation [M]. */
const CALIBRATION_SD_HU = 5;
/** Blood without contrast has some 40 HU; above this it is doubtful. */
const BRIGHT_BLOOD_HU = 80;

/** Weight by the peak of a lesion in one slice: 1 from 130, 2 from 200, 3 from 300, 4 from 400 HU; 0 below 130. */
export function weighAgatston(peakHu: number): number {
  let weight = 0;
  for (const step of AGATSTON_STEPS_HU) if (peakHu >= step.value) weight++;
  return weight;
}

/** Sum of area times weight over lesions of at least 1 mm2, for the slices' increment (checks CT-33 to CT-35). */
export function computeAgatston(lesions: readonly { readonly areaMm2: number; readonly peakHu: number }[], incrementMm: number): number {
  let sum = 0;
  for (const l of lesions) if (l.areaMm2 >= AGATSTON_LEAST_AREA_MM2.value - 1e-9) sum += l.areaMm2 * weighAgatston(l.peakHu);
  return (sum * incrementMm) / AGATSTON_SLICE_MM.value;
}

/** Voxels times dx dy dz, dz the increment and not the thickness (checks CT-41). */
export function computeVoxelVolume(voxels: number, voxelMm: readonly [number, number, number]): number {
  return voxels * voxelMm[0] * voxelMm[1] * voxelMm[2];
}

interface ZoneMask {
  readonly from: readonly [number, number, number];
  readonly dims: readonly [number, number, number];
  /** 1 in the cylinder. */
  readonly isIn: Uint8Array;
  readonly count: number;
}

/** A place in space: a ball that holds all of it, and whether a point (offset from the ball's centre, LPS mm) belongs to it. */
interface Place {
  readonly centreLps: Xyz;
  readonly reachMm: number;
  isIn(x: number, y: number, z: number): boolean;
}

function placeCylinder(zone: AgatstonZone): Place {
  const length = Math.hypot(...zone.normalLps);
  const n = zone.normalLps.map((v) => v / length);
  return {
    centreLps: zone.centreLps, reachMm: Math.hypot(zone.radiusMm, zone.heightMm / 2),
    isIn(x, y, z) {
      const h = x * n[0]! + y * n[1]! + z * n[2]!;
      return Math.abs(h) <= zone.heightMm / 2 && x * x + y * y + z * z - h * h <= zone.radiusMm * zone.radiusMm;
    },
  };
}

function placeRoot(zone: AgatstonRootZone): Place {
  const { frame, wall, marginMm } = zone;
  const [low, high] = [zone.lowMm - marginMm, zone.highMm + marginMm];
  const probe = makeWallProbe(wall);
  const centreLps = lpsFromCylinder(frame, { azimuthRad: 0, heightMm: (low + high) / 2, radiusMm: 0 });
  return {
    centreLps, reachMm: Math.hypot(probe.widestMm + marginMm, (high - low) / 2),
    isIn(x, y, z) {
      const p = cylinderFromLps(frame, [centreLps[0] + x, centreLps[1] + y, centreLps[2] + z]);
      return p.heightMm >= low && p.heightMm <= high && p.radiusMm <= probe.radiusMm(p.azimuthRad, Math.max(zone.lowMm, Math.min(zone.highMm, p.heightMm))) + marginMm;
    },
  };
}

/** The box holds the whole place, one pixel more in the slice, as far as the scan goes. */
function maskZone(volume: CtVolume, place: Place): ZoneMask {
  const m = volume.lpsFromVoxel.rows;
  const voxel = voxelRowsFromLps(volume);
  const { centreLps } = place;
  const from: number[] = [];
  const dims: number[] = [];
  for (let r = 0; r < 3; r++) {
    const row = [voxel[r * 4]!, voxel[r * 4 + 1]!, voxel[r * 4 + 2]!] as const;
    const middle = row[0] * centreLps[0] + row[1] * centreLps[1] + row[2] * centreLps[2] + voxel[r * 4 + 3]!;
    const reach = place.reachMm * Math.hypot(...row) + 1;
    from.push(Math.max(0, Math.floor(middle - reach)));
    dims.push(Math.max(0, Math.min(volume.dims[r]! - 1, Math.ceil(middle + reach)) - from[r]! + 1));
  }
  const [bx, by, bz] = dims as [number, number, number];
  const isIn = new Uint8Array(bx * by * bz);
  let count = 0;
  for (let k = 0, o = 0; k < bz; k++) {
    for (let j = 0; j < by; j++) {
      for (let i = 0; i < bx; i++, o++) {
        const [a, b, c] = [i + from[0]!, j + from[1]!, k + from[2]!];
        const x = m[0]! * a + m[1]! * b + m[2]! * c + m[3]! - centreLps[0];
        const y = m[4]! * a + m[5]! * b + m[6]! * c + m[7]! - centreLps[1];
        const z = m[8]! * a + m[9]! * b + m[10]! * c + m[11]! - centreLps[2];
        if (!place.isIn(x, y, z)) continue;
        isIn[o] = 1;
        count++;
      }
    }
  }
  return { from: [from[0]!, from[1]!, from[2]!], dims: [bx, by, bz], isIn, count };
}

interface SliceLesions {
  readonly lesions: readonly AgatstonLesion[];
  readonly voxels: number;
  readonly edgePixels: number;
  /** Lesion pixels with a bright neighbour in the slice outside the zone. */
  readonly cutPixels: number;
}

/** 8-connected lesions of each slice within the zone, at a shift of all HU. */
function findLesions(volume: CtVolume, mask: ZoneMask, pixelMm2: number, shiftHu: number): SliceLesions {
  const [nx, ny] = volume.dims;
  const [bx, by, bz] = mask.dims;
  const lesions: AgatstonLesion[] = [];
  let [voxels, edgePixels, cutPixels] = [0, 0, 0];
  const huAt = (i: number, j: number, k: number): number => volume.samplesHu[((k + mask.from[2]) * ny + j + mask.from[1]) * nx + i + mask.from[0]]! + shiftHu;
  const isBright = (i: number, j: number, k: number): boolean => i >= 0 && j >= 0 && i < bx && j < by && huAt(i, j, k) >= AGATSTON_FLOOR_HU.value;
  for (let k = 0; k < bz; k++) {
    const isDone = new Uint8Array(bx * by);
    const isIn = (i: number, j: number): boolean => i >= 0 && j >= 0 && i < bx && j < by && mask.isIn[(k * by + j) * bx + i] === 1;
    for (let start = 0; start < bx * by; start++) {
      const [i0, j0] = [start % bx, Math.floor(start / bx)];
      if (isDone[start] === 1 || !isIn(i0, j0) || !isBright(i0, j0, k)) continue;
      const queue = [start];
      isDone[start] = 1;
      let [peakHu, edge, cut] = [-Infinity, 0, 0];
      for (let q = 0; q < queue.length; q++) {
        const [i, j] = [queue[q]! % bx, Math.floor(queue[q]! / bx)];
        peakHu = Math.max(peakHu, huAt(i, j, k));
        let isEdge = false;
        for (let b = -1; b <= 1; b++) {
          for (let a = -1; a <= 1; a++) {
            if (!isBright(i + a, j + b, k)) {
              isEdge = true;
              continue;
            }
            if (!isIn(i + a, j + b)) {
              cut++;
              continue;
            }
            const next = (j + b) * bx + i + a;
            if (isDone[next] === 1) continue;
            isDone[next] = 1;
            queue.push(next);
          }
        }
        if (isEdge) edge++;
      }
      const areaMm2 = queue.length * pixelMm2;
      if (!(areaMm2 >= AGATSTON_LEAST_AREA_MM2.value - 1e-9)) continue;
      voxels += queue.length;
      edgePixels += edge;
      cutPixels += cut;
      lesions.push({ slice: k + mask.from[2], areaMm2, peakHu, weight: weighAgatston(peakHu) });
    }
  }
  return { lesions, voxels, edgePixels, cutPixels };
}

function medianZone(volume: CtVolume, mask: ZoneMask): number {
  const values: number[] = [];
  const [bx, by, bz] = mask.dims;
  const [nx, ny] = volume.dims;
  for (let o = 0; o < bx * by * bz; o++) {
    if (mask.isIn[o] !== 1) continue;
    const [i, j, k] = [o % bx, Math.floor(o / bx) % by, Math.floor(o / (bx * by))];
    values.push(volume.samplesHu[((k + mask.from[2]) * ny + j + mask.from[1]) * nx + i + mask.from[0]]!);
  }
  values.sort((a, b) => a - b);
  return values[values.length >> 1]!;
}

function findPlace(zone: AgatstonZone | AgatstonRootZone | null): Result<Place, AgatstonFailureCode> {
  if (!zone) {
    return fail('agatston-zone-missing', 'Without contrast the aortic valve is not found automatically, and no place is marked.',
      'Mark the valve: centre, radius, height and direction of a cylinder about it.');
  }
  if ('wall' in zone) return succeed(placeRoot(zone));
  const numbers = [...zone.centreLps, ...zone.normalLps, zone.radiusMm, zone.heightMm];
  if (!(numbers.every((v) => Number.isFinite(v)) && zone.radiusMm > 0 && zone.heightMm > 0 && Math.hypot(...zone.normalLps) > 1e-6)) {
    return fail('agatston-zone-invalid', `A cylinder of radius ${zone.radiusMm} mm and height ${zone.heightMm} mm with that direction cannot be used.`,
      'Mark the valve again.', { radiusMm: zone.radiusMm, heightMm: zone.heightMm });
  }
  return succeed(placeCylinder(zone));
}

function checkInput(options: AgatstonOptions, incrementMm: number): Result<null, AgatstonFailureCode> {
  if (options.isContrastDeclared === true) {
    return fail('agatston-contrast', 'The header declares contrast; an Agatston score holds for non-contrast series only.',
      'Use the non-contrast gated series, or read the calcium volume of the plan instead.');
  }
  if (options.sliceThicknessMm === null || !(options.sliceThicknessMm > 0)) {
    return fail('agatston-thickness-missing', 'The slice thickness is not recorded; the score depends on it.', 'Use the original series with its slice thickness.');
  }
  const thickest = Math.max(options.sliceThicknessMm, incrementMm);
  if (thickest > AGATSTON_SLICE_MM.value * 1.01) {
    return fail('agatston-slices-thick', `Slices of ${options.sliceThicknessMm} mm every ${incrementMm.toFixed(2)} mm are thicker than the 3 mm of the method.`,
      'Use the 3 mm reconstruction.', { sliceThicknessMm: options.sliceThicknessMm, incrementMm });
  }
  return succeed(null);
}

function listDoubts(options: AgatstonOptions, incrementMm: number, bloodHu: number, found: SliceLesions): Reason[] {
  const doubts: Reason[] = [];
  const add = (code: string, text: string, next: string): void => void doubts.push({ code, text, next });
  if (options.isGated !== true) add('agatston-not-gated', 'The series is not known to be ECG-gated; motion smears calcium.', 'Use the gated series.');
  if (options.kvp !== null && Math.abs(options.kvp - 120) > 1) {
    add('agatston-tube-voltage', `The thresholds belong to 120 kV [unverified]; this series has ${options.kvp} kV.`, 'Use the 120 kV series.');
  }
  if (Math.min(options.sliceThicknessMm ?? 3, incrementMm) < 2.9) {
    add('agatston-slices-thin', `Slices of ${options.sliceThicknessMm} mm every ${incrementMm.toFixed(2)} mm are noisier than 3 mm slices and score higher; the increment alone is corrected.`, 'Use the 3 mm reconstruction.');
  }
  if ((options.sliceThicknessMm ?? incrementMm) < incrementMm * 0.99) add('agatston-slice-gap', 'There are gaps between the slices; calcium within them is only extrapolated.', 'Use a series without gaps.');
  if (bloodHu > BRIGHT_BLOOD_HU) add('agatston-blood-bright', `The place of the valve has a median of ${Math.round(bloodHu)} HU, more than blood without contrast.`, 'Check that the series is without contrast and the mark is on the valve.');
  if (found.cutPixels > 0) add('agatston-zone-cuts-lesion', 'The border of the place of the valve cuts through a lesion; only the part inside counts.', 'Look whether the lesion belongs to the valve or to a coronary artery, the mitral ring or the aorta.');
  return doubts;
}

/**
 * Agatston score of the aortic valve in a non-contrast gated series of 3 mm slices.
 *
 * Units     HU, mm in; AU out. Never to be mixed with the calcium volume of a contrast CT
 * Frame     zone in LPS: a marked cylinder, or a root measured in a series of the same frame of reference
 * Equation  sum over slices and 8-connected lesions >= 130 HU and >= 1 mm2 of area x weight(peak), x increment / 3 mm
 * Fails     agatston-zone-missing, agatston-zone-invalid, agatston-zone-outside-scan, agatston-contrast,
 *           agatston-thickness-missing, agatston-slices-thick; severity alone: agatston-sex-missing
 * Source    docs/methods/agatston.md; checks CT-33 to CT-37
 * Accuracy  exact for the pixels given; interval from +-5 HU calibration and half a pixel at every edge
 */
export function scoreAgatston(volume: CtVolume, zone: AgatstonZone | AgatstonRootZone | null, options: AgatstonOptions): Result<AgatstonScore, AgatstonFailureCode> {
  const r = volume.lpsFromVoxel.rows;
  const cross = [r[4]! * r[9]! - r[8]! * r[5]!, r[8]! * r[1]! - r[0]! * r[9]!, r[0]! * r[5]! - r[4]! * r[1]!] as const;
  const pixelMm2 = Math.hypot(...cross);
  // A leaning gantry shears the grid: slices lie as far apart as their planes do.
  const incrementMm = Math.abs(cross[0] * r[2]! + cross[1] * r[6]! + cross[2] * r[10]!) / pixelMm2;
  const place = findPlace(zone);
  if (!place.ok) return place;
  const checked = checkInput(options, incrementMm);
  if (!checked.ok) return checked;
  const mask = maskZone(volume, place.value);
  if (mask.count === 0) {
    return fail('agatston-zone-outside-scan', 'The place of the valve holds no voxel of this series.', 'Mark the valve on this series.');
  }
  const bloodHu = medianZone(volume, mask);
  if (bloodHu >= AGATSTON_FLOOR_HU.value) {
    return fail('agatston-contrast', `The place of the valve has a median of ${Math.round(bloodHu)} HU: the blood is opacified.`,
      'Use the non-contrast gated series, or read the calcium volume of the plan instead.', { medianHu: bloodHu });
  }
  const found = findLesions(volume, mask, pixelMm2, 0);
  const scoreAt = (f: SliceLesions): number => computeAgatston(f.lesions, incrementMm);
  const volumeAt = (f: SliceLesions): number => computeVoxelVolume(f.voxels, [pixelMm2, 1, incrementMm]);
  const brighter = findLesions(volume, mask, pixelMm2, CALIBRATION_SD_HU);
  const darker = findLesions(volume, mask, pixelMm2, -CALIBRATION_SD_HU);
  const value = scoreAt(found);
  const meanWeight = found.voxels > 0 ? value / (found.voxels * pixelMm2 * (incrementMm / AGATSTON_SLICE_MM.value)) : 0;
  const edge = 0.5 * Math.sqrt(found.edgePixels) * pixelMm2 * incrementMm;
  const reasons = listDoubts(options, incrementMm, bloodHu, found);
  const makeOne = (of: (f: SliceLesions) => number, edgeSd: number, unit: "{Agatston'U}" | 'mm3'): Fact => {
    const at = of(found);
    const up = Math.hypot(of(brighter) - at, edgeSd);
    const down = Math.hypot(at - of(darker), edgeSd);
    return makeFact(at, Math.max(0, at - 1.96 * down), at + 1.96 * up, unit, METHOD, zone && 'wall' in zone ? ['series.calcium', 'root.basalPlane', 'root.levels'] : ['marked zone'], options.stamp, reasons);
  };
  const scoreAu = makeOne(scoreAt, (edge * meanWeight) / AGATSTON_SLICE_MM.value, "{Agatston'U}");
  return succeed({
    scoreAu, volumeMm3: makeOne(volumeAt, edge, 'mm3'), lesions: found.lesions, bloodHu,
    severity: assessAgatstonSeverity({ value, low: scoreAu.low ?? value, high: scoreAu.high ?? value }, options.sex),
    scoreUnit: 'Agatston units, non-contrast',
  });
}
