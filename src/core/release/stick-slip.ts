import { smoothStep } from './contact-law.ts';
import type { ReleaseEnd, ReleaseExit, ReleaseInputs, ReleaseTables } from './release-types.ts';

/** Pacing (mechanics 4): share of systole's load squared away and of diastole's pressure left; assumption. */
const PACING: readonly (readonly [bpm: number, systole: number, diastole: number])[] = [
  [80, 1, 1], [120, 0.7, 0.9], [160, 0.3, 0.7], [180, 0.15, 0.6], [220, 0.05, 0.5],
];
/** Pacing factors at a rate, linear between the rows of the table and constant beyond them. */
export function readPacing(bpm: number): { readonly systole: number; readonly diastole: number } {
  const last = PACING.length - 1;
  if (!(bpm > PACING[0]![0])) return { systole: 1, diastole: 1 };
  for (let i = 0; i < last; i++) {
    const [b0, s0, d0] = PACING[i]!;
    const [b1, s1, d1] = PACING[i + 1]!;
    if (bpm <= b1) {
      const t = (bpm - b0) / (b1 - b0);
      return { systole: s0 + t * (s1 - s0), diastole: d0 + t * (d1 - d0) };
    }
  }
  return { systole: PACING[last]![1], diastole: PACING[last]![2] };
}

/** Systolic and diastolic load on the frame at an unsheathed share (2.10), N, + up. */
export function computeLoads(inputs: ReleaseInputs, unsheathedRatio: number): { readonly systoleN: number; readonly diastoleN: number } {
  const valve = smoothStep((unsheathedRatio - 0.6) / 0.3);
  const block = smoothStep((unsheathedRatio - 0.35) / 0.25) * (1 - smoothStep((unsheathedRatio - 0.75) / 0.2));
  const pace = readPacing(inputs.paceBpm);
  return {
    systoleN: (inputs.obstructedN * block + inputs.systolicN * valve) * pace.systole * pace.systole,
    diastoleN: inputs.diastolicN * valve * pace.diastole,
  };
}

/** One state of the frame: its column of the tables, the loads on it, the catheter's spring. */
export interface SlipState {
  readonly column: number;
  readonly loadN: number;
  readonly gripRatio: number;
  readonly springNPerMm: number;
  readonly springZeroMm: number;
  readonly pullN: number;
}
export interface SlipLaw {
  readonly friction: number;
  readonly interlockN: number;
  readonly loadingRatio: number;
}
export type SlideEnd = 'quasi-static' | 'undamped';

export const LEAVES_UP = Infinity;
export const LEAVES_DOWN = -Infinity;

/** Net force at a table position once friction opposes an upward (+1) or downward (-1) motion (2.9), N. */
export function computeNetAt(t: ReleaseTables, s: SlipState, law: SlipLaw, direction: 1 | -1, position: number): number {
  const at = s.column * t.positions + position;
  const up = t.upN[at]!;
  const down = t.downN[at]!;
  const hold = law.friction * t.gripN[at]!;
  const spring = s.pullN - s.springNPerMm * (t.lowMm + position * t.stepMm - s.springZeroMm);
  return direction > 0
    ? s.gripRatio * (up - law.loadingRatio * down - hold) + s.loadN + spring
    : s.gripRatio * (law.loadingRatio * up - down + hold) + s.loadN + spring + law.interlockN;
}

/**
 * Where a frame at `fromMm` (+ up) comes to rest, or LEAVES_UP / LEAVES_DOWN.
 * The tables are linear between positions, so each cell's root, and the work done in it, are exact.
 *
 * Equation  quasi-static: first place where the slip inequality (2.9) ceases to hold; undamped: where the work of the
 *           net force comes back to zero (2.9b)
 */
export function findRest(t: ReleaseTables, s: SlipState, law: SlipLaw, fromMm: number, end: SlideEnd): number {
  const up = slide(t, s, law, fromMm, end, 1);
  return up === fromMm ? slide(t, s, law, fromMm, end, -1) : up;
}

function slide(t: ReleaseTables, s: SlipState, law: SlipLaw, fromMm: number, end: SlideEnd, direction: 1 | -1): number {
  let place = (fromMm - t.lowMm) / t.stepMm;
  const last = t.positions - 1;
  if (!(place >= 0 && place <= last)) return fromMm;
  const cell = Math.min(last - 1, Math.floor(place));
  const below = computeNetAt(t, s, law, direction, cell);
  const above = computeNetAt(t, s, law, direction, cell + 1);
  // Force along the motion: positive drives it on.
  let force = direction * (below + (place - cell) * (above - below));
  if (!(force > 0)) return fromMm;
  let work = 0;
  for (let node = direction > 0 ? Math.floor(place) + 1 : Math.ceil(place) - 1; node >= 0 && node <= last; node += direction) {
    const next = direction * computeNetAt(t, s, law, direction, node);
    const lengthMm = Math.abs(node - place) * t.stepMm;
    const share = end === 'quasi-static' ? findZero(force, next) : findWorkEnd(work, force, next, lengthMm);
    if (share !== null) return t.lowMm + (place + share * (node - place)) * t.stepMm;
    work += 0.5 * (force + next) * lengthMm;
    force = next;
    place = node;
  }
  return direction > 0 ? LEAVES_UP : LEAVES_DOWN;
}

/** Share of a cell at which a linear force from `force` >= 0 reaches zero; null when it does not. */
function findZero(force: number, next: number): number | null {
  if (next > 0) return null;
  return force === next ? 0 : force / (force - next);
}

/**
 * Share x of a cell at which the work, `work` at its start, comes down to zero; null when it stays above.
 * work + l (force x + (next - force) x^2 / 2) = 0; of two roots the one where the work falls.
 */
function findWorkEnd(work: number, force: number, next: number, lengthMm: number): number | null {
  const a = 0.5 * (next - force) * lengthMm;
  const b = force * lengthMm;
  if (a === 0) return b < 0 && work <= -b ? work / -b : null;
  const inside = b * b - 4 * a * work;
  if (!(inside >= 0)) return null;
  const x = (-b - Math.sqrt(inside)) / (2 * a);
  return x > 0 && x <= 1 ? x : null;
}

const MOVED_MM = 0.05;
const BEATS = 3;
const BEATS_AFTER = 4;

/**
 * One release from one start: unsheathing step by step, beats of systole and diastole at each, then the free frame
 * under full loads (mechanics 2, "Schedule").
 *
 * Units     depth mm below the basal plane; forces N
 * Equation  H_up = g_s (mu G - D_up), H_dn = mu G + D_dn + K, margin = min(H_up - P_s, H_dn + P_d) (2.11)
 */
export function runRelease(t: ReleaseTables, inputs: ReleaseInputs, end: SlideEnd = 'quasi-static'): ReleaseEnd {
  const startMm = -inputs.startMm;
  const law: SlipLaw = inputs;
  let z = startMm;
  let firstMoveRatio: number | null = null;
  const released = t.ratios.length;
  for (let column = 0; column <= released; column++) {
    const isFree = column === released;
    const ratio = isFree ? 1 : t.ratios[column]!;
    const loads = computeLoads(isFree ? { ...inputs, paceBpm: 0 } : inputs, ratio);
    const catheter = {
      springNPerMm: isFree ? 0 : inputs.catheterNPerMm,
      springZeroMm: startMm,
      pullN: isFree ? 0 : inputs.dragN + inputs.storedN,
    };
    const systole: SlipState = { column, loadN: loads.systoleN, gripRatio: inputs.systolicGripRatio, ...catheter };
    const diastole: SlipState = { column, loadN: loads.diastoleN, gripRatio: 1, ...catheter };
    for (let beat = 0; beat < (isFree ? BEATS_AFTER : BEATS); beat++) {
      const before = z;
      z = findRest(t, systole, law, z, end);
      if (Math.abs(z) < Infinity) z = findRest(t, diastole, law, z, end);
      if (firstMoveRatio === null && Math.abs(z - startMm) > MOVED_MM) firstMoveRatio = ratio;
      if (!(Math.abs(z) < Infinity)) {
        const exit: ReleaseExit = z > 0 ? 'up' : 'down';
        return { depthMm: -z, exit, firstMoveRatio, holdUpN: 0, holdDownN: 0, marginN: 0 };
      }
      if (z === before) break;
    }
  }
  const hold = computeHold(t, inputs, z);
  return { depthMm: -z, exit: 'none', firstMoveRatio, ...hold };
}

/** Drive and grip of the released frame between table positions. */
export function readReleased(t: ReleaseTables, zMm: number): { readonly upN: number; readonly downN: number; readonly gripN: number } {
  const place = Math.max(0, Math.min(t.positions - 1, (zMm - t.lowMm) / t.stepMm));
  const cell = Math.min(t.positions - 2, Math.floor(place));
  const f = place - cell;
  const at = t.ratios.length * t.positions + cell;
  const read = (of: Float64Array): number => of[at]! + f * (of[at + 1]! - of[at]!);
  return { upN: read(t.upN), downN: read(t.downN), gripN: read(t.gripN) };
}

/** Axial holding force of the released frame at a position (2.11). */
export function computeHold(t: ReleaseTables, inputs: ReleaseInputs, zMm: number): { readonly holdUpN: number; readonly holdDownN: number; readonly marginN: number } {
  const { upN, downN, gripN } = readReleased(t, zMm);
  const h = inputs.loadingRatio;
  const holdUpN = inputs.systolicGripRatio * (inputs.friction * gripN - (upN - h * downN));
  const holdDownN = inputs.friction * gripN + (h * upN - downN) + inputs.interlockN;
  return { holdUpN, holdDownN, marginN: Math.min(holdUpN - inputs.systolicN, holdDownN + inputs.diastolicN) };
}
