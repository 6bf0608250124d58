import type { Reason } from '../units/fact.ts';
import { labelComponents } from '../volume/label-components.ts';
import { heightOf, placeOf, ZONE_LOW_MM, ZONE_OUTSIDE_MM, type CalciumGrid, type WallProbe } from './calcium-zone.ts';

/** Above the local blood level (checks CT-39: luminal attenuation + 100 HU). */
export const ABOVE_BLOOD_HU = 100;
/** Never below this many standard deviations of the smoothed image. */
const NOISE_FACTOR = 3.5;
/** One that peaks above this many counts when it has this volume; a fainter one must be larger: noise makes specks. */
const SURE_NOISE_FACTOR = 5;
const LEAST_MM3 = 0.4;
const LEAST_FAINT_MM3 = 4;
/** Calcium stays below this in CT; leads, clips and stents do not [M]. */
const METAL_HU = 2200;
/** Threshold from which faint calcium hides: dense calcium starts near 600 HU in contrast CT [M]. */
const BRIGHT_BLOOD_HU = 600;
/** More than this outside the zone beside the wall is a chamber, a vessel or bone. */
const CHAMBER_MM3 = 150;
/** Two peaks are two deposits when the valley between lies this share of the lower one's height (above blood) below it ... */
const VALLEY_SHARE = 0.22;
/** ... and this many standard deviations of the smoothed image. */
const VALLEY_NOISE = 4;

export interface BloodLevel {
  readonly bloodHu: number;
  readonly bloodPerMmHu: number;
}

export interface FoundDeposit {
  /** Box indices of its voxels above the threshold (smoothed image), within the zone. */
  readonly voxels: Int32Array;
  readonly peakHu: number;
}

export interface DepositSearch {
  /** At the basal plane; it follows the blood along the axis. */
  readonly thresholdHu: number;
  /** Standard deviation of the smoothed image in the lumen. */
  readonly smoothNoiseHu: number;
  readonly deposits: readonly FoundDeposit[];
  readonly doubts: readonly Reason[];
}

/** Median absolute deviation of the smoothed image from the blood level well inside the lumen, as a standard deviation. */
function measureLumenNoise(g: CalciumGrid, wall: WallProbe, blood: BloodLevel, topMm: number, noiseHu: number): number {
  const [nx, ny, nz] = g.dims;
  const off: number[] = [];
  for (let k = 0; k < nz; k += 2) {
    for (let j = 0; j < ny; j += 4) {
      for (let i = 0; i < nx; i += 4) {
        const [x, y, h] = placeOf(g, i, j, k);
        if (h < ZONE_LOW_MM || h > topMm || x * x + y * y > wall.widestMm * wall.widestMm) continue;
        if (!(wall.depthMm(x, y, h) > 2.5)) continue;
        const d = Math.abs(g.smoothHu[(k * ny + j) * nx + i]! - blood.bloodHu - blood.bloodPerMmHu * h);
        // Leaflets and calcium are no noise of the blood.
        if (d < 6 * Math.max(20, noiseHu)) off.push(d);
      }
    }
  }
  if (off.length < 50) return noiseHu;
  off.sort((a, b) => a - b);
  return 1.4826 * off[off.length >> 1]!;
}

/**
 * Deposits of calcium in the landing zone of a contrast CT.
 *
 * Frame     root frame of `g` (u, v, height); answers are voxels of the box
 * Equation  smoothed HU > blood(h) + max(100, 3.5 noise), 6-connected; >= 0.4 mm3 when the peak exceeds 5 noise, else
 *           >= 4 mm3; parted by a watershed at valleys deeper than 22 % of the lower peak and than 4 noise
 * Fails     never: nothing found is an answer; what was left out is named in `doubts`
 * Source    docs/methods/calcium.md
 */
export function findDeposits(g: CalciumGrid, wall: WallProbe, blood: BloodLevel, noiseHu: number, topMm: number): DepositSearch {
  const smoothNoiseHu = measureLumenNoise(g, wall, blood, topMm, noiseHu);
  const above = Math.max(ABOVE_BLOOD_HU, NOISE_FACTOR * smoothNoiseHu);
  const sure = Math.max(ABOVE_BLOOD_HU, SURE_NOISE_FACTOR * smoothNoiseHu);
  const [nx, ny, nz] = g.dims;
  const mask = new Uint8Array(nx * ny * nz);
  const m = g.rootFromBox;
  let o = 0;
  for (let k = 0; k < nz; k++) {
    for (let j = 0; j < ny; j++) {
      let level = blood.bloodHu + above + blood.bloodPerMmHu * heightOf(g, 0, j, k);
      const perI = blood.bloodPerMmHu * m[8]!;
      for (let i = 0; i < nx; i++, o++, level += perI) if (g.smoothHu[o]! > level) mask[o] = 1;
    }
  }
  const doubts: Reason[] = [];
  const deposits: FoundDeposit[] = [];
  const zone = (v: number): { readonly depth: number; readonly heightMm: number } => {
    const [x, y, h] = placeOf(g, v % nx, Math.floor(v / nx) % ny, Math.floor(v / (nx * ny)));
    return { depth: wall.depthMm(x, y, h), heightMm: h };
  };
  let isChamber = false;
  for (const voxels of listComponents(mask, g.dims, LEAST_MM3 / g.voxelMm3)) {
    let inside = 0;
    let beside = 0;
    let peak = -Infinity;
    let peakAbove = -Infinity;
    const depths = new Float32Array(voxels.length);
    for (let n = 0; n < voxels.length; n++) {
      const { depth, heightMm } = zone(voxels[n]!);
      const isAlong = heightMm >= ZONE_LOW_MM && heightMm <= topMm;
      if (!isAlong) {
        depths[n] = -99;
        continue;
      }
      depths[n] = depth;
      if (depth >= -ZONE_OUTSIDE_MM) {
        inside++;
        const hu = g.smoothHu[voxels[n]!]!;
        peak = Math.max(peak, hu);
        peakAbove = Math.max(peakAbove, hu - blood.bloodHu - blood.bloodPerMmHu * heightMm);
      } else beside++;
    }
    if (inside * g.voxelMm3 < (peakAbove >= sure ? LEAST_MM3 : LEAST_FAINT_MM3)) continue;
    if (peak > METAL_HU) {
      doubts.push({
        code: 'calcium-metal-left-out', text: `Something of ${Math.round(peak)} HU in the landing zone is too bright for calcium and was left out.`,
        next: 'Look at the pictures: a lead, clip or stent hides calcium beside it.',
      });
      continue;
    }
    let kept = voxels.filter((_, n) => depths[n]! >= -ZONE_OUTSIDE_MM);
    if (beside * g.voxelMm3 > CHAMBER_MM3 && beside > inside) {
      // Only what lies inside the lumen can be told from the bright neighbour.
      isChamber = true;
      kept = voxels.filter((_, n) => depths[n]! > 0.3);
      const part = new Uint8Array(mask.length);
      for (const v of kept) part[v] = 1;
      for (const each of listComponents(part, g.dims, LEAST_MM3 / g.voxelMm3)) {
        let deepest = 0;
        for (const v of each) deepest = Math.max(deepest, zone(v).depth);
        // A neighbour's blurred edge over an inexact wall reaches a little inward; a deposit reaches farther.
        if (deepest > 1.8) deposits.push(...splitDeposit(g, each, above, smoothNoiseHu));
      }
      continue;
    }
    deposits.push(...splitDeposit(g, kept, above, smoothNoiseHu));
  }
  if (isChamber) {
    doubts.push({
      code: 'calcium-bright-neighbour', text: 'A bright chamber, vessel or bone touches the landing zone; calcium on that side counts only where it lies inside the wall.',
      next: 'Look at the pictures of the ring on that side, or use a scan with less contrast in the right heart.',
    });
  }
  if (blood.bloodHu + above > BRIGHT_BLOOD_HU) {
    doubts.push({
      code: 'calcium-faint-hidden', text: `Calcium is told from blood above ${Math.round(blood.bloodHu + above)} HU only; fainter deposits are hidden by the bright blood.`,
      next: 'Compare with a non-contrast series where there is one.',
    });
  }
  return { thresholdHu: blood.bloodHu + above, smoothNoiseHu, deposits, doubts };
}

function listComponents(mask: Uint8Array, dims: readonly [number, number, number], leastVoxels: number): readonly Int32Array[] {
  const found = labelComponents(mask, dims, { connectivity: 6, order: 'first' });
  if (!found.ok) return [];
  const { labels, sizes, count } = found.value;
  const lists: (Int32Array | null)[] = [null];
  const filled = new Int32Array(count + 1);
  for (let l = 1; l <= count; l++) lists.push(sizes[l]! >= leastVoxels ? new Int32Array(sizes[l]!) : null);
  for (let v = 0; v < labels.length; v++) {
    const l = labels[v]!;
    if (l === 0) continue;
    const list = lists[l];
    if (list) list[filled[l]!++] = v;
  }
  return lists.filter((l): l is Int32Array => l !== null && l !== undefined);
}

/** Watershed by descending brightness: a basin whose peak stands out from the valley toward its neighbour stays apart. */
function splitDeposit(g: CalciumGrid, voxels: Int32Array, aboveHu: number, noiseHu: number): readonly FoundDeposit[] {
  const [nx, ny] = g.dims;
  const order = Array.from(voxels).sort((a, b) => g.smoothHu[b]! - g.smoothHu[a]! || a - b);
  const label = new Map<number, number>();
  const parent: number[] = [];
  const peaks: number[] = [];
  const rootOf = (l: number): number => {
    let at = l;
    while (parent[at] !== at) at = parent[at]!;
    return at;
  };
  const base = order.length > 0 ? g.smoothHu[order[order.length - 1]!]! - aboveHu : 0;
  const offsets: number[] = [];
  for (let c = -1; c <= 1; c++) for (let b = -1; b <= 1; b++) for (let a = -1; a <= 1; a++) if (a || b || c) offsets.push((c * ny + b) * nx + a);
  for (const v of order) {
    const hu = g.smoothHu[v]!;
    const near = new Set<number>();
    for (const d of offsets) {
      const l = label.get(v + d);
      if (l !== undefined) near.add(rootOf(l));
    }
    const roots = [...near].sort((a, b) => peaks[b]! - peaks[a]! || a - b);
    if (roots.length === 0) {
      label.set(v, parent.length);
      parent.push(parent.length);
      peaks.push(hu);
      continue;
    }
    const main = roots[0]!;
    label.set(v, main);
    for (const other of roots.slice(1)) {
      if (peaks[other]! - hu < Math.max(VALLEY_NOISE * noiseHu, VALLEY_SHARE * (peaks[other]! - base))) parent[other] = main;
    }
  }
  const parts = new Map<number, number[]>();
  for (const v of voxels) {
    const l = rootOf(label.get(v)!);
    const list = parts.get(l);
    if (list) list.push(v);
    else parts.set(l, [v]);
  }
  return [...parts.entries()].map(([l, list]) => ({ voxels: Int32Array.from(list), peakHu: peaks[l]! }));
}
