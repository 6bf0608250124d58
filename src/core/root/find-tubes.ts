import { add, along, completeBasis, dot, scale, sub, unit, type Vec3 } from '../math/vec3.ts';
import { OUTSIDE_HU, readCoarse, type CoarseField } from '../volume/coarse-field.ts';

/** One cross-section of a tube: centre, unit direction, mean radius and roundness of the opacified lumen. */
export interface TubeSection {
  readonly centreLps: Vec3;
  readonly direction: Vec3;
  readonly radiusMm: number;
  /** Spread of the radius over its mean, after recentring; 0 for a circle. */
  readonly roughness: number;
  readonly bloodHu: number;
  /** Share of rays that left the scan. */
  readonly cutShare: number;
  /** Share of rays that ran on into a neighbour. */
  readonly leakShare: number;
}
export interface Tube {
  readonly sections: readonly TubeSection[];
  readonly lengthMm: number;
}

const MAX_RADIUS_MM = 29;
/** Soft tissue next to blood, for the coarse half-level only; measuring uses the local wall. */
const TISSUE_HU = 60;
/** Blood looked for in this band; below it contrast is too poor to measure, above it is bone or metal. */
export const BLOOD_BAND_HU = { low: 150, high: 900 } as const;
/** A ray this much longer than the median has leaked into a neighbour through a thin wall. */
const LEAK_RATIO = 1.35;

interface RayFan {
  readonly n: number;
  readonly cos: readonly number[];
  readonly sin: readonly number[];
}
const makeFan = (n: number): RayFan => ({
  n,
  cos: Array.from({ length: n }, (_, i) => Math.cos((2 * Math.PI * i) / n)),
  sin: Array.from({ length: n }, (_, i) => Math.sin((2 * Math.PI * i) / n)),
});
const QUICK = makeFan(12);
const FULL = makeFan(24);

/**
 * Cross-section at `p` perpendicular to `d`: rays run outward until the signal stays below the half-level
 * for 3 mm, so that thin leaflets do not stop them. Rays that leak into a neighbouring chamber are cut at
 * LEAK_RATIO times the median, replaced by it and counted. Returns null where the rays find no lumen.
 */
export function measureSection(
  f: CoarseField,
  p: Vec3,
  d: Vec3,
  bloodHu: number,
  fan: RayFan = FULL,
  passes = 2,
  rayStepMm = 1,
): TubeSection | null {
  const { u, v } = completeBasis(d);
  const level = (bloodHu + TISSUE_HU) / 2;
  const { n, cos, sin } = fan;
  let centre: Vec3 = p;
  let mean = 0;
  let rough = 1;
  let cut = 0;
  let leaks = 0;
  const radii = new Float64Array(n);
  const values = f.valuesHu;
  const [nx, ny, nz] = f.dims;
  const perStep = 1 / f.stepMm;
  const darkSteps = Math.max(2, Math.round(3 / rayStepMm));
  for (let pass = 0; pass < passes; pass++) {
    cut = 0;
    const gx = (centre[0] - f.originLps[0]) * perStep + 0.5;
    const gy = (centre[1] - f.originLps[1]) * perStep + 0.5;
    const gz = (centre[2] - f.originLps[2]) * perStep + 0.5;
    for (let i = 0; i < n; i++) {
      const wx = (u[0] * cos[i]! + v[0] * sin[i]!) * perStep;
      const wy = (u[1] * cos[i]! + v[1] * sin[i]!) * perStep;
      const wz = (u[2] * cos[i]! + v[2] * sin[i]!) * perStep;
      let last = 0;
      let dark = 0;
      for (let r = 1; r <= MAX_RADIUS_MM; r += rayStepMm) {
        const x = gx + r * wx;
        const y = gy + r * wy;
        const z = gz + r * wz;
        // Truncation floors only from 0 up; below that the place is outside.
        const isIn = x >= 0 && y >= 0 && z >= 0 && x < nx && y < ny && z < nz;
        const h = isIn ? values[((z | 0) * ny + (y | 0)) * nx + (x | 0)]! : OUTSIDE_HU;
        if (h >= level) {
          last = r;
          dark = 0;
        } else if (h === OUTSIDE_HU) {
          cut++;
          break;
        } else if (++dark >= darkSteps) break;
      }
      radii[i] = last + 0.5 * rayStepMm;
    }
    const median = radii.slice().sort()[n >> 1]!;
    let sx = 0;
    let sy = 0;
    mean = 0;
    leaks = 0;
    for (let i = 0; i < n; i++) {
      if (radii[i]! > LEAK_RATIO * median) {
        leaks++;
        radii[i] = median;
      }
      mean += radii[i]! / n;
      sx += (2 * radii[i]! * cos[i]!) / n;
      sy += (2 * radii[i]! * sin[i]!) / n;
    }
    let spread = 0;
    for (let i = 0; i < n; i++) spread += Math.abs(radii[i]! - mean - sx * cos[i]! - sy * sin[i]!) / n;
    rough = spread / Math.max(mean, 1);
    if (pass < passes - 1) {
      const shift = Math.min(1, (0.7 * mean) / Math.max(1e-9, Math.hypot(sx, sy)));
      centre = along(along(centre, u, sx * shift), v, sy * shift);
    }
  }
  if (mean < 3) return null;
  return { centreLps: centre, direction: d, radiusMm: mean, roughness: rough, bloodHu, cutShare: cut / n, leakShare: leaks / n };
}

/** Evenly spread half-sphere of directions (golden spiral), deterministic. */
export function spreadDirections(n: number): Vec3[] {
  return Array.from({ length: n }, (_, i) => {
    const z = (i + 0.5) / n;
    const a = i * Math.PI * (3 - Math.sqrt(5));
    const r = Math.sqrt(1 - z * z);
    return [r * Math.cos(a), r * Math.sin(a), z] as const;
  });
}

const DIRECTIONS = spreadDirections(42);
const isRound = (s: TubeSection | null): s is TubeSection =>
  s !== null && s.roughness < 0.11 && s.radiusMm > 8.5 && s.radiusMm < 24 && s.cutShare < 0.1 && s.leakShare < 0.3;

interface Seed {
  readonly section: TubeSection;
  readonly score: number;
}

/** A place is a tube seed when five sections over 24 mm are round, alike and of blood. */
function testSeed(f: CoarseField, p: Vec3, bloodHu: number): Seed | null {
  let best: Seed | null = null;
  for (const d of DIRECTIONS) {
    const quick = measureSection(f, p, d, bloodHu, QUICK, 1, 2);
    if (!quick || quick.roughness > 0.2 || quick.radiusMm > 24 || quick.leakShare > 0.34) continue;
    const s0 = measureSection(f, quick.centreLps, d, bloodHu);
    if (!isRound(s0)) continue;
    let worst = s0.roughness;
    let isTube = true;
    for (const t of [-6, 6, -12, 12]) {
      const s = measureSection(f, along(s0.centreLps, d, t), d, bloodHu);
      if (!isRound(s) || Math.abs(s.radiusMm - s0.radiusMm) > 0.22 * s0.radiusMm) {
        isTube = false;
        break;
      }
      worst = Math.max(worst, s.roughness);
    }
    if (isTube && (!best || worst < -best.score)) best = { section: s0, score: -worst };
  }
  return best;
}

/** Local mean over 3 x 3 x 3 nodes and its spread; null at the border or where it is not even blood. */
function readBlood(f: CoarseField, i: number, j: number, k: number): number | null {
  let sum = 0;
  let squares = 0;
  const [nx, ny] = f.dims;
  for (let c = k - 1; c <= k + 1; c++) {
    for (let b = j - 1; b <= j + 1; b++) {
      for (let a = i - 1; a <= i + 1; a++) {
        const h = f.valuesHu[(c * ny + b) * nx + a]!;
        if (h < BLOOD_BAND_HU.low - 60 || h > BLOOD_BAND_HU.high + 150) return null;
        sum += h;
        squares += h * h;
      }
    }
  }
  const mean = sum / 27;
  const sd = Math.sqrt(Math.max(0, squares / 27 - mean * mean));
  if (mean < BLOOD_BAND_HU.low || mean > BLOOD_BAND_HU.high || sd > 25 + 0.12 * mean) return null;
  return mean;
}

/** Blood 5 mm away on all six sides: the seed is well inside. */
function isInside(f: CoarseField, p: Vec3, level: number): boolean {
  for (let a = 0; a < 3; a++) {
    for (const t of [-5, 5]) {
      const q: [number, number, number] = [p[0], p[1], p[2]];
      q[a]! += t;
      if (readCoarse(f, q[0], q[1], q[2]) < level) return false;
    }
  }
  return true;
}

function trackOneWay(f: CoarseField, start: TubeSection, sign: 1 | -1): TubeSection[] {
  const out: TubeSection[] = [];
  const step = 2;
  let d = scale(start.direction, sign);
  let p: Vec3 = start.centreLps;
  let radius = start.radiusMm;
  let blood = start.bloodHu;
  for (let n = 0; n < 200; n++) {
    const s = measureSection(f, along(p, d, step), d, blood);
    if (!s || s.roughness > 0.16 || s.leakShare > 0.45 || s.radiusMm > 26 || s.radiusMm < 6.5 || s.cutShare > 0.3) break;
    if (Math.abs(s.radiusMm - radius) > 0.3 * radius) break;
    const recent = out.length >= 5 ? out[out.length - 5]!.centreLps : start.centreLps;
    const seen = unit(sub(s.centreLps, recent));
    d = unit(add(scale(d, 0.75), scale(seen, 0.25)));
    p = s.centreLps;
    radius = 0.7 * radius + 0.3 * s.radiusMm;
    const local = readCoarse(f, p[0], p[1], p[2]);
    if (local > BLOOD_BAND_HU.low && local < BLOOD_BAND_HU.high) blood = 0.8 * blood + 0.2 * local;
    out.push({ ...s, direction: d });
  }
  return out;
}

/**
 * Every round, opacified tube of 17-48 mm diameter in the scan, longest first: aorta, pulmonary trunk and the like.
 * Deterministic: seeds in grid order, best roundness first.
 */
export function findTubes(f: CoarseField): Tube[] {
  const seeds: Seed[] = [];
  const every = Math.max(2, Math.round(8 / f.stepMm));
  for (let k = 1; k < f.dims[2] - 1; k += every) {
    for (let j = 1; j < f.dims[1] - 1; j += every) {
      for (let i = 1; i < f.dims[0] - 1; i += every) {
        const blood = readBlood(f, i, j, k);
        if (blood === null) continue;
        const p: Vec3 = [f.originLps[0] + i * f.stepMm, f.originLps[1] + j * f.stepMm, f.originLps[2] + k * f.stepMm];
        if (!isInside(f, p, (blood + TISSUE_HU) / 2)) continue;
        const seed = testSeed(f, p, blood);
        if (seed) seeds.push(seed);
      }
    }
  }
  seeds.sort((a, b) => b.score - a.score);
  const tubes: Tube[] = [];
  for (const { section } of seeds) {
    const isKnown = tubes.some((t) =>
      t.sections.some((s) => {
        const e = sub(section.centreLps, s.centreLps);
        return dot(e, e) < (0.7 * s.radiusMm) ** 2;
      }),
    );
    if (isKnown) continue;
    const back = trackOneWay(f, section, -1).reverse().map((s) => ({ ...s, direction: scale(s.direction, -1) as Vec3 }));
    const sections = [...back, section, ...trackOneWay(f, section, 1)];
    if (sections.length < 8) continue;
    let lengthMm = 0;
    for (let i = 1; i < sections.length; i++) {
      const e = sub(sections[i]!.centreLps, sections[i - 1]!.centreLps);
      lengthMm += Math.sqrt(dot(e, e));
    }
    tubes.push({ sections, lengthMm });
  }
  return tubes.sort((a, b) => b.lengthMm - a.lengthMm);
}
