import type { PolarBlock } from './polar-block.ts';

/** Wall radius in mm per (height, azimuth); index h * azimuths + a. */
export interface WallMap {
  readonly heights: number;
  readonly azimuths: number;
  readonly radiusMm: Float64Array;
}

const GAP_MM = 0.2;
interface WallStiffness {
  /** Cost of darkness crossed before the wall, per mm, above and below the basal plane: aortic leaflets must be crossed, the mitral leaflet must not. */
  readonly darkAbove: number;
  readonly darkBelow: number;
  /** Free way off the expected circle, and the cost beyond it per mm2. */
  readonly inwardMm: number;
  readonly outwardMm: number;
  readonly priorPerMm2: number;
  readonly azimuthPerMm2: number;
  readonly heightPerMm2: number;
  /** How far an edge looks inward for blood and outward for tissue. */
  readonly reachInMm: number;
  readonly reachOutMm: number;
  /** Steps of radius allowed between neighbouring azimuths; the cost is quadratic up to two, then linear. */
  readonly maxStep: number;
  /** Free rings first, coupled more with each sweep: a stiff start keeps rings from jumping into a sinus. */
  readonly isAnnealed: boolean;
}
/** While the plane is not known the wall is kept stiff, since a wrong axis cuts everything askew. */
const SEEKING: WallStiffness = { darkAbove: 0.14, darkBelow: 0.14, inwardMm: 3, outwardMm: 5, priorPerMm2: 0.04, azimuthPerMm2: 0.5, heightPerMm2: 0.3, reachInMm: 1.8, reachOutMm: 1.8, maxStep: 3, isAnnealed: false };
/** On the plane: free enough for a deep sinus with steep sides. */
const SETTLED: WallStiffness = { darkAbove: 0.1, darkBelow: 0.3, inwardMm: 3, outwardMm: 6, priorPerMm2: 0.02, azimuthPerMm2: 0.12, heightPerMm2: 0.1, reachInMm: 1.2, reachOutMm: 3, maxStep: 6, isAnnealed: true };
/** Cost of a step: quadratic up to two, then linear, so that one steep wall is not dearer than a wrong one. */
const STEP_COST = Float64Array.from({ length: 12 }, (_, s) => (s <= 2 ? s * s : 4 * s - 4));
const SWEEPS = 4;
/** The wall is sought this far inside the least and outside the greatest expected radius of its height. */
const BAND_IN_MM = 6;
const BAND_OUT_MM = 8;
/** Cost of a forbidden start; finite, so that sums stay finite. */
const BLOCKED = 1e9;

/** How blood-like a sample is: 1 blood or calcium (which must not cut the contour), 0 soft tissue or darker. */
export function bloodShare(valueHu: number, bloodHu: number, tissueHu: number): number {
  if (!(valueHu > tissueHu)) return 0;
  return valueHu >= bloodHu ? 1 : (valueHu - tissueHu) / (bloodHu - tissueHu);
}

/** Radius at which a ray leaves blood for at least `darkMm`, per (height, azimuth); NaN when the ray leaves the scan. */
export function findRayExits(block: PolarBlock, bloodHu: number, tissueHu: number, darkMm: number): Float64Array {
  const { heights, azimuths, radii, radiusStepMm, valuesHu } = block;
  const out = new Float64Array(heights * azimuths);
  const need = Math.max(1, Math.round(darkMm / radiusStepMm));
  const level = (bloodHu + tissueHu) / 2;
  for (let c = 0; c < out.length; c++) {
    const o = c * radii;
    let last = 0;
    let dark = 0;
    let isCut = false;
    for (let r = 1; r < radii; r++) {
      const v = valuesHu[o + r]!;
      if (v >= level) {
        last = r;
        dark = 0;
      } else if (v < level) {
        if (++dark >= need) break;
      } else {
        isCut = dark === 0;
        break;
      }
    }
    out[c] = isCut ? NaN : (last + 0.5) * radiusStepMm;
  }
  return out;
}

export function medianOf(values: ArrayLike<number>): number {
  const list = Array.from(values).filter((v) => Number.isFinite(v)).sort((a, b) => a - b);
  return list.length === 0 ? NaN : list[list.length >> 1]!;
}

/** Edge cost per node: low where blood ends and tissue begins, plus the darkness crossed on the way. */
function makeNodeCosts(block: PolarBlock, bloodHu: number, tissueHu: number, expectedMm: Float64Array, stiff: WallStiffness): Float32Array {
  const { heights, azimuths, radii, radiusStepMm: dr, valuesHu } = block;
  const cost = new Float32Array(valuesHu.length);
  const sums = new Float64Array(radii + 1);
  const reaches: Reaches = {
    gap: Math.round(GAP_MM / dr), reachIn: Math.round(stiff.reachInMm / dr), reachOut: Math.round(stiff.reachOutMm / dr), dr,
  };
  for (let h = 0; h < heights; h++) {
    const rise = Math.max(0, Math.min(1, (block.lowMm + h * block.heightStepMm + 2) / 3));
    const darkCost = stiff.darkBelow + rise * (stiff.darkAbove - stiff.darkBelow);
    for (let a = 0; a < azimuths; a++) {
      const want = expectedMm[h * azimuths + a]!;
      const o = (h * azimuths + a) * radii;
      sumBlood(valuesHu, o, bloodHu, tissueHu, sums);
      judgeRay(sums, reaches, darkCost, want, stiff, cost, o);
    }
  }
  return cost;
}

// One ray at a time in functions of their own: compiled early, while loops inside a function called once are not.
function sumBlood(valuesHu: Float32Array, from: number, bloodHu: number, tissueHu: number, sums: Float64Array): void {
  for (let r = 0; r + 1 < sums.length; r++) sums[r + 1] = sums[r]! + bloodShare(valuesHu[from + r]!, bloodHu, tissueHu);
}

function judgeRay(sums: Float64Array, reaches: Reaches, darkCost: number, wantMm: number, stiff: WallStiffness, cost: Float32Array, to: number): void {
  const { gap, reachIn, reachOut, dr } = reaches;
  const { inwardMm, outwardMm, priorPerMm2 } = stiff;
  const radii = sums.length - 1;
  for (let r = 0; r < radii; r++) {
    const lowIn = Math.max(0, r - gap - reachIn);
    const highIn = Math.max(1, r - gap);
    const lowOut = Math.min(radii - 1, r + gap);
    const highOut = Math.min(radii, r + gap + reachOut);
    const inside = (sums[highIn]! - sums[lowIn]!) / Math.max(1, highIn - lowIn);
    const outside = (sums[highOut]! - sums[lowOut]!) / Math.max(1, highOut - lowOut);
    const darkMm = (r - sums[r]!) * dr;
    const off = r * dr - wantMm;
    const over = off < -inwardMm ? off + inwardMm : off > outwardMm ? off - outwardMm : 0;
    cost[to + r] = outside - inside + darkCost * darkMm + priorPerMm2 * over * over;
  }
}

/** Widths of the windows in steps of radius, and that step in mm. */
interface Reaches {
  readonly gap: number;
  readonly reachIn: number;
  readonly reachOut: number;
  readonly dr: number;
}

/** Scratch of the ring solver, reused from ring to ring. */
interface RingWork {
  readonly back: Int8Array;
  now: Float64Array;
  next: Float64Array;
  readonly path: Int32Array;
}
/** Radii (as steps) among which a ring is sought. */
interface Band {
  readonly low: number;
  readonly high: number;
}

/**
 * Cheapest path around one height by Viterbi, starting at azimuth `cut`; `pin` fixes the radius there (and closes the
 * ring on it), -1 leaves both ends free. Costs are [azimuth * radii + radius]; the answer is in `work.path`.
 */
function solveRing(cost: Float64Array, azimuths: number, radii: number, smooth: number, maxStep: number, cut: number, pin: number, band: Band, work: RingWork): void {
  const { back, path } = work;
  const { low, high } = band;
  const width = high - low + 1;
  // Padding on both sides spares the inner loop its border tests.
  work.now.fill(BLOCKED);
  work.next.fill(BLOCKED);
  const first = cut * radii + low;
  for (let r = 0; r < width; r++) if (pin < 0 || r === pin - low) work.now[r + maxStep] = cost[first + r]!;
  for (let n = 1; n < azimuths; n++) {
    const { now, next } = work;
    const o = ((cut + n) % azimuths) * radii + low;
    const t = n * width;
    for (let r = 0; r < width; r++) {
      const at = r + maxStep;
      let best = now[at]!;
      let from = 0;
      for (let s = 1; s <= maxStep; s++) {
        const step = smooth * STEP_COST[s]!;
        const down = now[at - s]! + step;
        const up = now[at + s]! + step;
        if (down < best) {
          best = down;
          from = -s;
        }
        if (up < best) {
          best = up;
          from = s;
        }
      }
      next[at] = best + cost[o + r]!;
      back[t + r] = from;
    }
    work.now = next;
    work.next = now;
  }
  let end = 0;
  let least = Infinity;
  for (let r = 0; r < width; r++) {
    const off = pin < 0 ? 0 : Math.abs(r + low - pin);
    const total = work.now[r + maxStep]! + smooth * (off < STEP_COST.length ? STEP_COST[off]! : 4 * off - 4);
    if (total < least) {
      least = total;
      end = r;
    }
  }
  for (let n = azimuths - 1; n >= 0; n--) {
    path[(cut + n) % azimuths] = end + low;
    if (n > 0) end += back[n * width + end]!;
  }
}

/** Node costs of one ray with the pull of its neighbours above and below (NaN where there is none), within the band. */
function addSprings(node: Float32Array, from: number, below: number, above: number, coupling: number, band: Band, cost: Float64Array, to: number): void {
  for (let r = band.low; r <= band.high; r++) {
    let c = node[from + r]!;
    if (below === below) c += coupling * (r - below) * (r - below);
    if (above === above) c += coupling * (r - above) * (r - above);
    cost[to + r] = c;
  }
}

/**
 * Smooth wall surface that leaves leaflets and calcium inside: cheapest closed ring per height, heights coupled by
 * repeated sweeps (each ring is solved with its neighbours' last answer as a spring).
 * `isBasal`: heights count from the basal plane, so that leaflets above and the mitral leaflet below are told apart.
 * Shape     one radius per (height, azimuth) of the block; whole radius steps, refined later by refineWall
 * Source    docs/methods/root-survey.md, "Wall"
 */
export function findWall(
  block: PolarBlock,
  bloodHu: number,
  tissueHu: number,
  expectedMm: Float64Array,
  isBasal = false,
): WallMap {
  const { heights, azimuths, radii, radiusStepMm: dr } = block;
  const stiff = isBasal ? SETTLED : SEEKING;
  const node = makeNodeCosts(block, bloodHu, tissueHu, expectedMm, stiff);
  const smooth = stiff.azimuthPerMm2 * dr * dr;
  const spring = stiff.heightPerMm2 * dr * dr;
  const at = new Float64Array(heights * azimuths);
  for (let h = 0; h < heights; h++) {
    for (let a = 0; a < azimuths; a++) at[h * azimuths + a] = expectedMm[h * azimuths + a]! / dr;
  }
  const cost = new Float64Array(azimuths * radii);
  const pad = radii + 2 * stiff.maxStep;
  const work: RingWork = {
    back: new Int8Array(azimuths * radii),
    now: new Float64Array(pad),
    next: new Float64Array(pad),
    path: new Int32Array(azimuths),
  };
  const bands = Array.from({ length: heights }, (_, h): Band => {
    const ring = expectedMm.subarray(h * azimuths, (h + 1) * azimuths);
    const low = Math.max(0, Math.floor((Math.min(...ring) - BAND_IN_MM) / dr));
    const high = Math.min(radii - 1, Math.ceil((Math.max(...ring) + BAND_OUT_MM) / dr));
    return low + 10 < high ? { low, high } : { low: 0, high: radii - 1 };
  });
  for (let sweep = 0; sweep < SWEEPS; sweep++) {
    const coupling = stiff.isAnnealed ? (spring * sweep) / (SWEEPS - 1) : spring;
    for (let n = 0; n < heights; n++) {
      const h = sweep % 2 === 0 ? n : heights - 1 - n;
      const band = bands[h]!;
      for (let a = 0; a < azimuths; a++) {
        const o = (h * azimuths + a) * radii;
        const below = h > 0 ? at[(h - 1) * azimuths + a]! : NaN;
        const above = h < heights - 1 ? at[(h + 1) * azimuths + a]! : NaN;
        addSprings(node, o, below, above, coupling, band, cost, a * radii);
      }
      // The first sweep opens the ring at 0, then closes it where that path is surest; later sweeps cut it elsewhere.
      if (sweep === 0) solveRing(cost, azimuths, radii, smooth, stiff.maxStep, 0, -1, band, work);
      const cut = sweep === 0 ? azimuths >> 1 : Math.floor((azimuths * sweep) / SWEEPS);
      const pin = sweep === 0 ? work.path[cut]! : at[h * azimuths + cut]!;
      solveRing(cost, azimuths, radii, smooth, stiff.maxStep, cut, pin, band, work);
      for (let a = 0; a < azimuths; a++) at[h * azimuths + a] = work.path[a]!;
    }
  }
  const radiusMm = new Float64Array(at.length);
  for (let i = 0; i < at.length; i++) radiusMm[i] = at[i]! * dr;
  return { heights, azimuths, radiusMm };
}
