import type { GeometrySpread, FrameModel, ReleaseChoice, ReleaseEnd, ReleaseSample, ReleaseTables, WallBasis, WallGrid, World } from './release-types.ts';
import { makeReleaseInputs, sampleInputs, UNKNOWN_TENSION_N, type SampleScale } from './sample-inputs.ts';
import { readReleased, runRelease } from './stick-slip.ts';
import { makeReleaseTables, tabulateRelease } from './tabulate-release.ts';
import { combineWall } from './wall-grid.ts';
import { findTippingDepths, computeFrictionNeeded } from './key-depths.ts';

/** One question to the ensemble. Plain data, so that it crosses a worker's border. */
export interface EnsemblePlan {
  readonly frame: FrameModel;
  readonly basis: WallBasis;
  readonly spread: GeometrySpread;
  readonly choice: ReleaseChoice;
  readonly seed: number;
  readonly startsMm: readonly number[];
  readonly worlds: readonly World[];
  readonly scale?: SampleScale | undefined;
  /** Also run every slide undamped (2.9b). */
  readonly withUndamped: boolean;
}

/**
 * Results by sample: index ((sample - first) * starts + start) * worlds + world. Movement + = up, mm; +-Infinity = leaves.
 */
export interface EnsemblePart {
  readonly first: number;
  readonly count: number;
  readonly movementMm: Float64Array;
  readonly undampedMm: Float64Array;
  readonly depthMm: Float64Array;
  readonly marginN: Float64Array;
  readonly firstMoveRatio: Float64Array;
  /** By sample and start: friction needed in diastole and systole, released drive (N, + = up). */
  readonly needDiastole: Float64Array;
  readonly needSystole: Float64Array;
  readonly driveN: Float64Array;
  readonly gripN: Float64Array;
  /** Movement in the middle world with 3 N of pull or push stored; filled only when the tension is unknown. */
  readonly pulledMm: Float64Array;
  readonly pushedMm: Float64Array;
  /** By sample: the tipping depth nearest to the middle start, NaN when there is none. */
  readonly tippingMm: Float64Array;
}

/**
 * Runs samples first..first+count-1. Each depends on its number only, so any split over workers gives the same answer
 * once the parts are joined in order. `kept` are tables by sample (keepTables): valid while frame, wall, wire bias and
 * dilatation stay what they were; start, pacing and tension may change.
 */
export function runEnsemblePart(plan: EnsemblePlan, first: number, count: number, kept: readonly ReleaseTables[] = []): EnsemblePart {
  const starts = plan.startsMm.length;
  const worlds = plan.worlds.length;
  const cells = count * starts * worlds;
  const make = (n: number): Float64Array => new Float64Array(n);
  const part: EnsemblePart = {
    first, count,
    movementMm: make(cells), undampedMm: make(cells), depthMm: make(cells), marginN: make(cells),
    firstMoveRatio: make(cells).fill(NaN),
    needDiastole: make(count * starts), needSystole: make(count * starts), driveN: make(count * starts),
    gripN: make(count * starts), pulledMm: make(count * starts), pushedMm: make(count * starts), tippingMm: make(count).fill(NaN),
  };
  const work = makeReleaseTables();
  let wall: WallGrid | undefined;
  const middle = plan.startsMm[starts >> 1] ?? 4;
  for (let i = 0; i < count; i++) {
    const sample = sampleInputs(plan.seed, first + i, plan.spread, plan.choice, plan.scale);
    let tables = kept[first + i];
    if (!tables) {
      wall = combineWall(plan.basis, sample, wall);
      tables = tabulateSample(plan, sample, wall, work);
    }
    const tips = findTippingDepths(tables);
    for (const mm of tips) {
      const known = part.tippingMm[i]!;
      if (!(known === known) || Math.abs(mm - middle) < Math.abs(known - middle)) part.tippingMm[i] = mm;
    }
    for (let s = 0; s < starts; s++) runStart(plan, sample, tables, part, i, s);
  }
  return part;
}

/** Tables of `count` samples from sample `first` on, for what-ifs that leave frame and wall alone. 23 kB each. */
export function keepTables(plan: EnsemblePlan, count: number, first = 0): ReleaseTables[] {
  let wall: WallGrid | undefined;
  return Array.from({ length: count }, (_, i) => {
    const sample = sampleInputs(plan.seed, first + i, plan.spread, plan.choice, plan.scale);
    wall = combineWall(plan.basis, sample, wall);
    return tabulateSample(plan, sample, wall, makeReleaseTables());
  });
}

/** Tables of one sample: its own wall, frame factor and wire bias. */
export function tabulateSample(plan: EnsemblePlan, sample: ReleaseSample, wall: WallGrid, into: ReleaseTables): ReleaseTables {
  return tabulateRelease(
    wall,
    { frame: plan.frame, frameFactor: sample.frameFactor, biasMm: sample.biasMm, biasAzimuthRad: plan.choice.wireBiasAzimuthRad },
    into,
  );
}

function runStart(plan: EnsemblePlan, sample: ReleaseSample, tables: ReleaseTables, part: EnsemblePart, i: number, s: number): void {
  const startMm = plan.startsMm[s]!;
  const at = i * plan.startsMm.length + s;
  const depthMm = startMm + sample.startShiftMm;
  const need = computeFrictionNeeded(tables, depthMm, sample);
  part.needDiastole[at] = need.diastole;
  part.needSystole[at] = need.systole;
  const released = readDrive(tables, depthMm);
  part.driveN[at] = released.driveN;
  part.gripN[at] = released.gripN;
  if (plan.choice.tension === 'unknown') {
    const inputs = makeReleaseInputs(sample, 'middle', startMm, plan.choice.paceBpm);
    const move = (storedN: number): number => measureMovement(runRelease(tables, { ...inputs, storedN }), inputs.startMm);
    part.pulledMm[at] = move(UNKNOWN_TENSION_N);
    part.pushedMm[at] = move(-UNKNOWN_TENSION_N);
  }
  for (let w = 0; w < plan.worlds.length; w++) {
    const inputs = makeReleaseInputs(sample, plan.worlds[w]!, startMm, plan.choice.paceBpm);
    const end = runRelease(tables, inputs);
    const cell = at * plan.worlds.length + w;
    part.movementMm[cell] = measureMovement(end, inputs.startMm);
    part.depthMm[cell] = end.depthMm;
    part.marginN[cell] = end.marginN;
    part.firstMoveRatio[cell] = end.firstMoveRatio ?? NaN;
    part.undampedMm[cell] = plan.withUndamped
      ? measureMovement(runRelease(tables, inputs, 'undamped'), inputs.startMm)
      : part.movementMm[cell]!;
  }
}

/** Movement of one release, + = up, mm; +-Infinity when it left the landing zone. */
export function measureMovement(end: ReleaseEnd, startMm: number): number {
  return end.exit === 'up' ? Infinity : end.exit === 'down' ? -Infinity : startMm - end.depthMm;
}

/** Parts of one ensemble in the order of their samples, as one. */
export function joinParts(parts: readonly EnsemblePart[]): EnsemblePart {
  const ordered = [...parts].sort((a, b) => a.first - b.first);
  const join = (read: (p: EnsemblePart) => Float64Array): Float64Array => {
    const all = ordered.map(read);
    const out = new Float64Array(all.reduce((n, a) => n + a.length, 0));
    let at = 0;
    for (const a of all) {
      out.set(a, at);
      at += a.length;
    }
    return out;
  };
  return {
    first: ordered[0]?.first ?? 0,
    count: ordered.reduce((n, p) => n + p.count, 0),
    movementMm: join((p) => p.movementMm),
    undampedMm: join((p) => p.undampedMm),
    depthMm: join((p) => p.depthMm),
    marginN: join((p) => p.marginN),
    firstMoveRatio: join((p) => p.firstMoveRatio),
    needDiastole: join((p) => p.needDiastole),
    needSystole: join((p) => p.needSystole),
    driveN: join((p) => p.driveN),
    gripN: join((p) => p.gripN),
    pulledMm: join((p) => p.pulledMm),
    pushedMm: join((p) => p.pushedMm),
    tippingMm: join((p) => p.tippingMm),
  };
}

/** Values of one start and world over the samples. */
export function pickCell(values: Float64Array, plan: EnsemblePlan, startIndex: number, worldIndex: number): Float64Array {
  const step = plan.startsMm.length * plan.worlds.length;
  const at = startIndex * plan.worlds.length + worldIndex;
  return Float64Array.from({ length: values.length / step }, (_, i) => values[i * step + at]!);
}
/** Values of one start over the samples. */
export function pickStart(values: Float64Array, plan: EnsemblePlan, startIndex: number): Float64Array {
  const step = plan.startsMm.length;
  return Float64Array.from({ length: values.length / step }, (_, i) => values[i * step + startIndex]!);
}

/** Quantile of unordered values, linear between ranks; infinite values stand at their end. NaN values are left out. */
export function findQuantile(values: ArrayLike<number>, share: number): number {
  const sorted = Float64Array.from(Array.from(values).filter((v) => v === v)).sort();
  if (sorted.length === 0) return NaN;
  const place = share * (sorted.length - 1);
  const i = Math.floor(place);
  const low = sorted[i]!;
  const high = sorted[Math.min(sorted.length - 1, i + 1)]!;
  const f = place - i;
  if (f === 0 || low === high) return low;
  return Number.isFinite(low) && Number.isFinite(high) ? low + f * (high - low) : f < 0.5 ? low : high;
}

function readDrive(t: ReleaseTables, depthMm: number): { readonly driveN: number; readonly gripN: number } {
  const r = readReleased(t, -depthMm);
  return { driveN: r.upN - r.downN, gripN: r.gripN };
}
