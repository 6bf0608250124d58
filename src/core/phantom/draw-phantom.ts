import { composeAffine } from '../units/affine.ts';
import type { Affine } from '../units/frames.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { arrangeHeart, type HeartAnatomy } from './heart-anatomy.ts';
import { measureTruth } from './measure-truth.ts';
import { AIR_HU, makeScenePainter, type ScenePainter } from './paint-scene.ts';
import { addNoise, makeNoiseTiles } from './phantom-noise.ts';
import { addStreaks } from './phantom-streaks.ts';
import type { DrawnPhantom, PhantomScan, PhantomShape } from './phantom-types.ts';
import { RAD } from './root-wall.ts';

/** Thicker slices are drawn as several thin ones and averaged. */
const THIN_MM = 0.8;
/** First-order distances of ellipsoids may be too long by this factor before a block is ruled out. */
const SAFETY = 1.4;
const BLOCK = 8;
/** Blocks are halved down to this edge, then drawn voxel by voxel. */
const SMALLEST = 2;
const MOTION_STEPS = 5;
/** Pixels summed in one go: three pieces of floats fit a 48 kB cache. */
const PIECE = 4096;

/**
 * Grid of a scan. Rows run to the patient's left and columns to the back (turned by `inPlaneTurnDeg`); with a tilted
 * gantry the slices lean while the table still moves along z, so the grid is sheared (not turned).
 */
export function gridOfScan(scan: PhantomScan): Affine<'lps', 'voxel'> {
  const [sx, sy, sz] = scan.spacingMm;
  const turn = scan.inPlaneTurnDeg * RAD;
  const tilt = scan.gantryTiltDeg * RAD;
  const lean = (x: number, y: number): readonly [number, number, number] => [x, y * Math.cos(tilt), y * Math.sin(tilt)];
  const row = lean(Math.cos(turn), Math.sin(turn));
  const column = lean(-Math.sin(turn), Math.cos(turn));
  const step = scan.sliceOrder === 'feet-to-head' ? sz : -sz;
  const [cx, cy, cz] = [(scan.dims[0] - 1) / 2, (scan.dims[1] - 1) / 2, (scan.dims[2] - 1) / 2];
  const rows: number[] = [];
  for (let r = 0; r < 3; r++) {
    const third = r === 2 ? step : 0;
    const at = scan.centreLps[r]! - row[r]! * sx * cx - column[r]! * sy * cy - third * cz;
    rows.push(row[r]! * sx, column[r]! * sy, third, at);
  }
  return { to: 'lps', from: 'voxel', rows };
}

function gaussian(sigmaPixels: number): Float32Array {
  if (!(sigmaPixels > 0.15)) return Float32Array.of(1);
  const reach = Math.max(1, Math.ceil(2.8 * sigmaPixels));
  const half = Array.from({ length: reach + 1 }, (_, i) => Math.exp((-0.5 * i * i) / (sigmaPixels * sigmaPixels)));
  const sum = half.reduce((t, v, i) => t + (i === 0 ? v : 2 * v), 0);
  return Float32Array.from(half, (v) => v / sum);
}

/** Two passes over one slice, in place; `scratch` has its size. */
function blurSlice(slice: Float32Array, scratch: Float32Array, nx: number, ny: number, kx: Float32Array, ky: Float32Array): void {
  const rx = kx.length - 1;
  const ry = ky.length - 1;
  for (let y = 0; y < ny; y++) {
    const o = y * nx;
    const k0 = kx[0]!;
    for (let x = 0; x < nx; x++) scratch[o + x] = k0 * slice[o + x]!;
    for (let j = 1; j <= rx; j++) {
      const k = kx[j]!;
      for (let x = j; x < nx - j; x++) scratch[o + x] = scratch[o + x]! + k * (slice[o + x - j]! + slice[o + x + j]!);
      for (let x = 0; x < j && x < nx; x++) {
        const mirror = nx - 1 - x;
        scratch[o + x] = scratch[o + x]! + k * (slice[o]! + slice[o + Math.min(nx - 1, x + j)]!);
        if (mirror >= j) scratch[o + mirror] = scratch[o + mirror]! + k * (slice[o + mirror - j]! + slice[o + nx - 1]!);
      }
    }
  }
  for (let y = 0; y < ny; y++) {
    const o = y * nx;
    const k0 = ky[0]!;
    for (let x = 0; x < nx; x++) slice[o + x] = k0 * scratch[o + x]!;
    for (let j = 1; j <= ry; j++) {
      const k = ky[j]!;
      const a = Math.max(0, y - j) * nx;
      const b = Math.min(ny - 1, y + j) * nx;
      for (let x = 0; x < nx; x++) slice[o + x] = slice[o + x]! + k * (scratch[a + x]! + scratch[b + x]!);
    }
  }
}

/** Scene from (i, j, fine slice) as 12 numbers: LPS taken back through mirror, turn and position. */
function sceneFromGrid(heart: HeartAnatomy, lpsFromFine: Affine<'lps', 'voxel'>): readonly number[] {
  const m = heart.place.lpsFromScene; // orthogonal: its inverse is its transpose
  const p = heart.place.positionLps;
  const rows: number[] = [];
  for (let r = 0; r < 3; r++) {
    const [a, b, c] = [m[r]!, m[3 + r]!, m[6 + r]!];
    rows.push(a, b, c, -(a * p[0] + b * p[1] + c * p[2]));
  }
  return composeAffine({ to: 'root', from: 'lps', rows } as Affine<'root', 'lps'>, lpsFromFine).rows;
}

interface Brush {
  readonly painter: ScenePainter;
  readonly m: readonly number[];
  readonly nx: number;
  readonly ny: number;
  readonly rampMm: number;
}

/** Fills [i0, i1) x [j0, j1) x [k0, k1) of a slab whose first slice is `slabK`, adding `weight` of the paint. */
function fillBox(b: Brush, slab: Float32Array, slabK: number, box: readonly number[], base: number, active: readonly number[], weight: number): void {
  const { painter, m, nx, ny, rampMm } = b;
  const [i0, i1, j0, j1, k0, k1] = box as [number, number, number, number, number, number];
  const [mi, mj, mk] = [(i0 + i1 - 1) / 2, (j0 + j1 - 1) / 2, (k0 + k1 - 1) / 2];
  painter.moveTo(m[0]! * mi + m[1]! * mj + m[2]! * mk + m[3]!, m[4]! * mi + m[5]! * mj + m[6]! * mk + m[7]!, m[8]! * mi + m[9]! * mj + m[10]! * mk + m[11]!);
  const [hi, hj, hk] = [(i1 - i0 - 1) / 2, (j1 - j0 - 1) / 2, (k1 - k0 - 1) / 2];
  const halfMm = Math.sqrt(diagonal2(m, hi, hj, hk));
  const reach = halfMm * SAFETY + rampMm;
  let newBase = base;
  const touched: number[] = [];
  for (let a = 0; a < active.length; a++) {
    const layer = active[a]!;
    const d = painter.boundMm(layer, halfMm + rampMm);
    if (d > reach) continue;
    if (d < -reach) {
      newBase = layer;
      touched.length = 0;
    } else touched.push(layer);
  }
  const isGraded = newBase === painter.gradedLayer;
  if (touched.length === 0 && !isGraded) {
    const hu = (newBase < 0 ? AIR_HU : painter.paintHu(newBase)) * weight;
    for (let k = k0; k < k1; k++) {
      for (let j = j0; j < j1; j++) {
        const o = ((k - slabK) * ny + j) * nx;
        for (let i = i0; i < i1; i++) slab[o + i] = slab[o + i]! + hu;
      }
    }
    return;
  }
  if (touched.length > 0 && i1 - i0 > SMALLEST) {
    const h = (i1 - i0 + 1) >> 1;
    for (let k = k0; k < k1; k += h) {
      for (let j = j0; j < j1; j += h) {
        for (let i = i0; i < i1; i += h) {
          fillBox(b, slab, slabK, [i, Math.min(i + h, i1), j, Math.min(j + h, j1), k, Math.min(k + h, k1)], newBase, touched, weight);
        }
      }
    }
    return;
  }
  const plain = newBase < 0 ? AIR_HU : isGraded ? 0 : painter.paintHu(newBase);
  const half = rampMm / 2;
  for (let k = k0; k < k1; k++) {
    for (let j = j0; j < j1; j++) {
      const o = ((k - slabK) * ny + j) * nx;
      const x0 = m[1]! * j + m[2]! * k + m[3]!;
      const y0 = m[5]! * j + m[6]! * k + m[7]!;
      const z0 = m[9]! * j + m[10]! * k + m[11]!;
      for (let i = i0; i < i1; i++) {
        painter.moveTo(x0 + m[0]! * i, y0 + m[4]! * i, z0 + m[8]! * i);
        // from the uppermost layer down, until nothing shows through
        let hu = 0;
        let open = 1;
        for (let a = touched.length - 1; a >= 0; a--) {
          const layer = touched[a]!;
          const d = painter.distanceMm(layer);
          if (d >= half) continue;
          const cover = d <= -half ? 1 : 0.5 - d / rampMm;
          hu += open * cover * painter.paintHu(layer);
          open *= 1 - cover;
          if (open === 0) break;
        }
        if (open > 0) hu += open * (isGraded ? painter.paintHu(newBase) : plain);
        slab[o + i] = slab[o + i]! + hu * weight;
      }
    }
  }
}

/** Squared length of the longest half diagonal of a box in the (possibly sheared) grid. */
function diagonal2(m: readonly number[], hi: number, hj: number, hk: number): number {
  let best = 0;
  for (let c = 0; c < 4; c++) {
    const j = (c & 1) === 0 ? hj : -hj;
    const k = (c & 2) === 0 ? hk : -hk;
    const x = m[0]! * hi + m[1]! * j + m[2]! * k;
    const y = m[4]! * hi + m[5]! * j + m[6]! * k;
    const z = m[8]! * hi + m[9]! * j + m[10]! * k;
    const sum = x * x + y * y + z * z;
    if (sum > best) best = sum;
  }
  return best;
}

/** Weighted sum of neighbouring fine slices; the profile is symmetric, and pieces stay in the fast memory. */
function sumSlices(out: Float32Array, profile: Float32Array, slot: (k: number) => Float32Array, middle: number): void {
  const reach = (profile.length - 1) / 2;
  for (let from = 0; from < out.length; from += PIECE) {
    const to = Math.min(out.length, from + PIECE);
    const centre = slot(middle);
    const w0 = profile[reach]!;
    for (let i = from; i < to; i++) out[i] = w0 * centre[i]!;
    for (let t = 1; t <= reach; t++) {
      const w = profile[reach + t]!;
      const a = slot(middle - t);
      const b = slot(middle + t);
      for (let i = from; i < to; i++) out[i] = out[i]! + w * (a[i]! + b[i]!);
    }
  }
}

/** Whole HU within what 12 bits hold. */
function roundInto(samplesHu: Int16Array, offset: number, out: Float32Array): void {
  for (let i = 0; i < out.length; i++) {
    const v = out[i]!;
    // v + 1024 is not negative, so cutting off rounds down: several times faster than Math.round
    samplesHu[offset + i] = v < -1024 ? -1024 : v > 3071 ? 3071 : ((v + 1024.5) | 0) - 1024;
  }
}

/**
 * Draws a phantom as the scanner would show it.
 * Frame     volume and truth in LPS mm
 * Equation  HU = (painted scene, each border a ramp of one voxel) * Gaussian point spread * slice profile + noise
 * Accuracy  the ramp's variance is taken off the Gaussian's, so a flat edge has exactly the stated spread
 * Source    docs/methods/phantom.md
 */
export function drawPhantom(shape: PhantomShape, scan: PhantomScan, report: (doneRatio: number) => void = () => {}): DrawnPhantom {
  const heart = arrangeHeart(shape);
  return { volume: drawVolume(heart, scan, report), truth: measureTruth(heart) };
}

/** The CT alone, of a heart already arranged: several scans of one patient share it. */
export function drawVolume(heart: HeartAnatomy, scan: PhantomScan, report: (doneRatio: number) => void = () => {}): CtVolume {
  const [nx, ny, nz] = scan.dims;
  const [sx, sy, sz] = scan.spacingMm;
  const pieces = Math.max(1, Math.ceil(Math.max(sz, scan.sliceThicknessMm) / THIN_MM - 1e-9));
  const perSlice = sz > THIN_MM ? Math.ceil(sz / THIN_MM - 1e-9) : 1;
  const fineZ = sz / perSlice;
  const lpsFromVoxel = gridOfScan(scan);
  const r = lpsFromVoxel.rows;
  // fine slices have the same origin: slice k of the scan is fine slice k * perSlice
  const fineRows = r.map((v, i) => (i % 4 === 2 ? v / perSlice : v));
  const m = sceneFromGrid(heart, { to: 'lps', from: 'voxel', rows: fineRows });
  const rampMm = Math.sqrt((sx * sx + sy * sy + fineZ * fineZ) / 3);
  const left = (sigma: number): number => Math.sqrt(Math.max(0, sigma * sigma - (rampMm * rampMm) / 12));
  const kx = gaussian(left(scan.blurMm.inPlane) / sx);
  const ky = gaussian(left(scan.blurMm.inPlane) / sy);
  const profile = sliceProfile(gaussian(left(scan.blurMm.z) / fineZ), pieces > 1 ? scan.sliceThicknessMm / fineZ : 1);
  const reachZ = (profile.length - 1) / 2;
  const painter = makeScenePainter(heart, scan, Math.sqrt(diagonal2(m, BLOCK / 2, BLOCK / 2, BLOCK / 2)));
  const brush: Brush = { painter, m, nx, ny, rampMm };
  const all = Array.from({ length: painter.layers }, (_, i) => i);
  const noise = scan.noise.sdHu > 0 ? makeNoiseTiles(scan.seed, scan.noise.correlationMm / sx) : null;

  const samplesHu = new Int16Array(nx * ny * nz);
  const ring = Array.from({ length: profile.length + BLOCK }, () => new Float32Array(nx * ny));
  const slab = new Float32Array(nx * ny * BLOCK);
  const scratch = new Float32Array(nx * ny);
  const out = new Float32Array(nx * ny);
  const slot = (k: number): Float32Array => ring[((k % ring.length) + ring.length) % ring.length]!;
  let next = 0;
  const lastFine = (nz - 1) * perSlice + reachZ;
  for (let k = -reachZ; k <= lastFine; k += BLOCK) {
    const to = Math.min(k + BLOCK, lastFine + 1);
    drawSlab(brush, slab, k, to, all, scan, perSlice);
    for (let f = k; f < to; f++) {
      const slice = slot(f);
      slice.set(slab.subarray((f - k) * nx * ny, (f - k + 1) * nx * ny));
      blurSlice(slice, scratch, nx, ny, kx, ky);
    }
    report(Math.min(1, next / nz));
    for (; next < nz && next * perSlice + reachZ < to; next++) {
      sumSlices(out, profile, slot, next * perSlice);
      if (scan.artefacts.streakHu) addStreaks(out, heart, scan, lpsFromVoxel, next, scan.artefacts.streakHu);
      if (noise) addNoise(out, nx, ny, next, scan.noise.sdHu, scan.seed, noise);
      roundInto(samplesHu, next * nx * ny, out);
    }
  }
  report(1);
  const length = (c: number): number => Math.hypot(r[c]!, r[4 + c]!, r[8 + c]!);
  return { samplesHu, dims: [nx, ny, nz], lpsFromVoxel, spacingMm: [length(0), length(1), length(2)], paddingHu: null };
}

/** Gaussian along z, widened by the slice thickness (box of `width` fine slices); odd length, sum 1. */
function sliceProfile(half: Float32Array, width: number): Float32Array {
  const reach = half.length - 1 + Math.floor(width / 2 + 0.5);
  const full = new Float32Array(2 * reach + 1);
  for (let t = -reach; t <= reach; t++) {
    for (let j = -(half.length - 1); j < half.length; j++) {
      const cover = Math.max(0, Math.min(t - j + 0.5, width / 2) - Math.max(t - j - 0.5, -width / 2));
      full[t + reach] = full[t + reach]! + half[Math.abs(j)]! * cover;
    }
  }
  const sum = full.reduce((a, v) => a + v, 0);
  return full.map((v) => v / sum);
}

/** One slab of fine slices; a moving heart is drawn at several places of its way, a step moves every second group. */
function drawSlab(b: Brush, slab: Float32Array, from: number, to: number, all: readonly number[], scan: PhantomScan, perSlice: number): void {
  slab.fill(0);
  const { motionMm, step } = scan.artefacts;
  const places = motionMm ? MOTION_STEPS : 1;
  for (let p = 0; p < places; p++) {
    const share = motionMm ? (p + 0.5) / places - 0.5 : 0;
    const move = motionMm ? motionMm.map((v) => v * share) : [0, 0, 0];
    const thick = step ? 1 : BLOCK;
    for (let k = from; k < to; k += thick) {
      const isShifted = step !== undefined && Math.floor(k / perSlice / step.slicesPerGroup) % 2 !== 0;
      const jump = isShifted ? step.shiftMm : [0, 0, 0];
      b.painter.shiftHeart(move[0]! + jump[0]!, move[1]! + jump[1]!, move[2]! + jump[2]!);
      const end = Math.min(k + thick, to);
      for (let j = 0; j < b.ny; j += BLOCK) {
        for (let i = 0; i < b.nx; i += BLOCK) {
          fillBox(b, slab, from, [i, Math.min(i + BLOCK, b.nx), j, Math.min(j + BLOCK, b.ny), k, end], -1, all, 1 / places);
        }
      }
    }
  }
}
