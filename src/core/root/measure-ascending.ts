import { along, distance, dot, sub, unit, type Vec3 } from '../math/vec3.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import type { TubeSection } from './find-tubes.ts';
import { findRayExits, medianOf } from './find-wall.ts';
import { TISSUE_HU } from './locate-root.ts';
import { measureRing, smoothRing } from './measure-ring.ts';
import { samplePolarBlock, type PolarBlock } from './polar-block.ts';
import { makeRootFrame, type RootFrame } from './root-frame.ts';

export interface AscendingMeasure {
  readonly diameterMm: number;
  readonly heightMm: number;
  readonly sdMm: number;
}

const AT_MM = 40;
const AZIMUTHS = 72;
/** Rings this far before and behind the place show which way the vessel runs. */
const HALF_LENGTH_MM = 8;
const CORE_MM = 4;
const PASSES = 3;
const WALL_HU = TISSUE_HU + 10;

/**
 * Area-equivalent diameter of the ascending aorta across its own axis, 40 mm above the basal plane along the centreline
 * (common practice, no source), or at the last section of the scan when that is at least 10 mm above the junction.
 * Null when the tube does not reach so far.
 */
export function measureAscending(
  volume: CtVolume,
  sections: readonly TubeSection[],
  frame: RootFrame,
  junctionMm: number,
  bloodHu: number,
): AscendingMeasure | null {
  const heightOf = (s: TubeSection): number => dot(sub(s.centreLps, frame.originLps), frame.normalLps);
  // Sections from the root upward: the one nearest the axis a little above the junction starts the walk.
  let start = -1;
  let off = Infinity;
  sections.forEach((s, i) => {
    const h = heightOf(s);
    const axis = distance(s.centreLps, along(frame.originLps, frame.normalLps, h));
    const cost = Math.abs(h - junctionMm - 4) + axis;
    if (cost < off) {
      off = cost;
      start = i;
    }
  });
  if (start < 0 || off > 25) return null;
  const isUpward = start + 3 < sections.length && heightOf(sections[start + 3]!) > heightOf(sections[start]!);
  const walk = isUpward ? sections.slice(start) : sections.slice(0, start + 1).reverse();
  let way = Math.max(0, heightOf(walk[0]!));
  let chosen: TubeSection | null = null;
  let chosenAt = 0;
  let chosenWay = 0;
  for (let i = 0; i < walk.length; i++) {
    if (i > 0) way += distance(walk[i]!.centreLps, walk[i - 1]!.centreLps);
    if (way > AT_MM + 1) break;
    if (way >= junctionMm + 10 || way >= AT_MM - 3) {
      chosen = walk[i]!;
      chosenAt = i;
      chosenWay = way;
    }
  }
  if (!chosen) return null;
  // The tracker's own direction lags in a bend; the chord over 8 mm either side does not.
  const before = walk[Math.max(0, chosenAt - 4)]!;
  const after = walk[Math.min(walk.length - 1, chosenAt + 4)]!;
  let direction = unit(sub(after.centreLps, before.centreLps));
  let centre: Vec3 = chosen.centreLps;
  for (let pass = 0; pass < PASSES; pass++) {
    const local = makeRootFrame(centre, direction);
    const block = samplePolarBlock(volume, local, {
      lowMm: -HALF_LENGTH_MM, heightStepMm: 1, heights: 2 * HALF_LENGTH_MM + 1, azimuths: AZIMUTHS, radiusStepMm: 0.25, radii: 112,
    });
    // Contrast fades along the vessel: the half-level is that of the blood here, not of the root's.
    const here = medianOf(block.valuesHu.filter((_, i) => i % block.radii < CORE_MM / block.radiusStepMm));
    if (!(here > 0.5 * bloodHu)) return null;
    if (pass < PASSES - 1) {
      const line = followAxis(block, here);
      if (!line) return null;
      centre = along(along(centre, local.uLps, line.x), local.vLps, line.y);
      direction = unit(along(along(direction, local.uLps, line.dx), local.vLps, line.dy));
      continue;
    }
    const mean = averageRows(block, HALF_LENGTH_MM - 1, HALF_LENGTH_MM + 1);
    const ring = readRing(mean, block, here);
    if (!ring || ring.bad > 0.35 * AZIMUTHS) return null;
    const { areaMm2 } = measureRing(smoothRing(ring.radii));
    return { diameterMm: 2 * Math.sqrt(areaMm2 / Math.PI), heightMm: chosenWay, sdMm: 0.2 + (0.4 * ring.bad) / AZIMUTHS };
  }
  return null;
}

/** Mean of the rows `first` to `last` of a block. */
function averageRows(block: PolarBlock, first: number, last: number): Float32Array {
  const size = block.azimuths * block.radii;
  const mean = new Float32Array(size);
  for (let h = first; h <= last; h++) for (let i = 0; i < size; i++) mean[i]! += block.valuesHu[h * size + i]! / (last - first + 1);
  return mean;
}

interface VesselRing {
  readonly radii: Float64Array;
  readonly x: number;
  readonly y: number;
  /** Rays without an edge near the others'. */
  readonly bad: number;
}

function readRing(mean: Float32Array, block: PolarBlock, bloodHu: number): VesselRing | null {
  const exits = findRayExits({ ...block, heights: 1, valuesHu: mean }, bloodHu, WALL_HU, 1.2);
  const median = medianOf(exits);
  if (!(median > 6)) return null;
  let x = 0;
  let y = 0;
  let bad = 0;
  const radii = Float64Array.from(exits, (e, a) => {
    const isBad = !(e === e) || Math.abs(e - median) > 0.3 * median;
    if (isBad) bad++;
    const r = isBad ? median : interpolateExit(mean, a, block.radii, block.radiusStepMm, e, (bloodHu + WALL_HU) / 2);
    const t = (2 * Math.PI * a) / AZIMUTHS;
    x += (2 * r * Math.cos(t)) / AZIMUTHS;
    y += (2 * r * Math.sin(t)) / AZIMUTHS;
    return r;
  });
  return { radii, x, y, bad };
}

/** Straight line through the centres of the rings below, at and above the middle: where the vessel's own axis runs. */
function followAxis(block: PolarBlock, bloodHu: number): { readonly x: number; readonly y: number; readonly dx: number; readonly dy: number } | null {
  const rings: { readonly mm: number; readonly ring: VesselRing }[] = [];
  for (let h = 1; h < block.heights - 1; h += 2) {
    const ring = readRing(averageRows(block, h - 1, h + 1), block, bloodHu);
    if (ring && ring.bad < 0.35 * AZIMUTHS) rings.push({ mm: block.lowMm + h * block.heightStepMm, ring });
  }
  if (rings.length < 3) return null;
  const n = rings.length;
  const mm = rings.reduce((s, r) => s + r.mm, 0) / n;
  const x = rings.reduce((s, r) => s + r.ring.x, 0) / n;
  const y = rings.reduce((s, r) => s + r.ring.y, 0) / n;
  const spread = rings.reduce((s, r) => s + (r.mm - mm) ** 2, 0);
  const dx = rings.reduce((s, r) => s + (r.mm - mm) * (r.ring.x - x), 0) / spread;
  const dy = rings.reduce((s, r) => s + (r.mm - mm) * (r.ring.y - y), 0) / spread;
  return { x: x - dx * mm, y: y - dy * mm, dx, dy };
}

/** Place of the level between the last sample above it and the first below. */
function interpolateExit(mean: Float32Array, a: number, radii: number, dr: number, exitMm: number, level: number): number {
  const k = Math.round(exitMm / dr - 0.5);
  const p = mean[a * radii + k]!;
  const q = mean[a * radii + Math.min(radii - 1, k + 1)]!;
  return p >= level && q < level ? (k + (p - level) / (p - q)) * dr : exitMm;
}
