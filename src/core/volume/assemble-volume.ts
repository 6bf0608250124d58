import { dot, norm, sub, type Vec3 } from '../math/vec3.ts';
import { fail, succeed, type Result } from '../result.ts';
import type { Affine } from '../units/frames.ts';
import type { SliceRecord } from './group-slices-types.ts';
import { computeSliceNormal, measureAlongNormalMm } from './group-slices.ts';

/** Positions written to 0.1 mm make neighbouring gaps differ by up to this though the slices lie evenly. */
const ROUNDED_GAP_MM = 0.11;
/** A slice may lie this far off the straight even line: half the rounding step, plus a share of the slice step. */
const RESIDUAL_MM = 0.06;
const RESIDUAL_STEP_RATIO = 0.05;

export type GridFailureCode = 'one-slice' | 'slice-without-position' | 'spacing-uneven';

/** Where even spacing breaks, between two neighbouring slices. */
export interface GridBreak {
  readonly kind: 'missing' | 'uneven' | 'shifted';
  /** Along the slice normal, of the slice before the break. */
  readonly afterMm: number;
  readonly gapMm: number;
  /** Whole slices that would fit in the gap; 0 unless kind is 'missing'. */
  readonly missing: number;
}

/** The grid that evenly spaced slices define, and which of them it uses. */
export interface VolumeGrid {
  /** Positions in the list handed in, in order of k. */
  readonly used: readonly number[];
  readonly dims: readonly [nx: number, ny: number, nz: number];
  readonly lpsFromVoxel: Affine<'lps', 'voxel'>;
  readonly spacingMm: readonly [number, number, number];
  /** Slice to slice along the normal, from positions. */
  readonly stepMm: number;
  /** (slices - 1) x step + one step: what the used slices cover. */
  readonly coverageMm: number;
  /** Angle between the way from slice to slice and the slice normal. */
  readonly shearDeg: number;
  /** Largest distance of a used slice from its place in the grid. */
  readonly residualMm: number;
  readonly breaks: readonly GridBreak[];
  /** Smallest and largest gap of all slices handed in. */
  readonly gapRangeMm: readonly [number, number];
}

/**
 * The grid of slices that were ordered along their normal, without duplicates (groupSlices).
 *
 * Shape     n slices in; of an interrupted stack the longest evenly spaced run is used, and `breaks` says where
 * Frame     LPS. Column k of lpsFromVoxel is the mean way from slice to slice, in-plane part included, so a tilted
 *           gantry gives a sheared grid that samples correctly. Thickness is never used for spacing.
 * Equation  least squares of p(k) = p0 + k v over the used slices
 * Fails     one-slice, slice-without-position, spacing-uneven (no three slices in a row lie evenly)
 * Source    DICOM PS3.3 C.7.6.2.1.1; docs/methods/scan-fitness.md
 */
export function assembleGrid(slices: readonly SliceRecord[]): Result<VolumeGrid, GridFailureCode> {
  const first = slices[0];
  if (slices.length < 2 || !first) {
    return fail('one-slice', `The volume has ${slices.length} slice; a volume needs many.`,
      'Send the whole series, not one picture of it.', { slices: slices.length });
  }
  if (slices.some((s) => !s.positionLps || !s.rowDirLps || !s.columnDirLps || !s.pixelSpacingMm)) {
    return fail('slice-without-position', 'A slice does not say where in the patient it lies.',
      'Export the original series from the scanner or archive, not screenshots.', {});
  }
  const normal = computeSliceNormal(first);
  const points = slices.map((s): Vec3 => s.positionLps!);
  const alongMm = slices.map((s) => measureAlongNormalMm(s, normal));
  const { runs, breaks, gapsMm } = findRuns(points, alongMm, normal);
  const gapRangeMm: [number, number] = [Math.min(...gapsMm), Math.max(...gapsMm)];

  let best: { from: number; to: number; line: Line } | null = null;
  for (const run of runs) {
    const line = fitLine(points.slice(run.from, run.to + 1));
    const stepMm = dot(line.step, normal);
    if (line.residualMm > RESIDUAL_MM + RESIDUAL_STEP_RATIO * stepMm) continue; // drifts: not one even stack
    if (!best || alongMm[run.to]! - alongMm[run.from]! > alongMm[best.to]! - alongMm[best.from]! + 1e-6) {
      best = { ...run, line };
    }
  }
  // Two slices always lie evenly, so a run of two proves nothing in a longer stack.
  if (!best || (best.to - best.from < 2 && slices.length > 2)) {
    return fail('spacing-uneven',
      `The slices do not lie evenly: gaps of ${gapRangeMm[0].toFixed(2)} to ${gapRangeMm[1].toFixed(2)} mm.`,
      'Ask for one reconstruction with constant slice spacing.',
      { smallestGapMm: gapRangeMm[0], largestGapMm: gapRangeMm[1], slices: slices.length });
  }
  const { origin, step, residualMm } = best.line;
  const nz = best.to - best.from + 1;
  const [rowMm, columnMm] = first.pixelSpacingMm!;
  const u = first.rowDirLps!;
  const v = first.columnDirLps!;
  const rows = [0, 1, 2].flatMap((axis) => [u[axis]! * columnMm, v[axis]! * rowMm, step[axis]!, origin[axis]!]);
  const stepMm = dot(step, normal);
  return succeed({
    used: Array.from({ length: nz }, (_, k) => best.from + k),
    dims: [first.columns, first.rows, nz],
    lpsFromVoxel: { to: 'lps', from: 'voxel', rows },
    spacingMm: [columnMm, rowMm, norm(step)],
    stepMm,
    coverageMm: nz * stepMm,
    shearDeg: (Math.acos(Math.min(1, stepMm / norm(step))) * 180) / Math.PI,
    residualMm,
    breaks,
    gapRangeMm,
  });
}

interface Line {
  readonly origin: Vec3;
  readonly step: Vec3;
  readonly residualMm: number;
}

/** Least-squares p(k) = origin + k step. */
function fitLine(points: readonly Vec3[]): Line {
  const n = points.length;
  const meanK = (n - 1) / 2;
  const sumK2 = (n * (n * n - 1)) / 12;
  const base = points[0]!; // patient coordinates are hundreds of mm: measured from a point of the stack
  const mean = [0, 0, 0];
  const slope = [0, 0, 0];
  for (const [k, p] of points.entries()) {
    const d = sub(p, base);
    for (let axis = 0; axis < 3; axis++) {
      mean[axis]! += d[axis]! / n;
      slope[axis]! += ((k - meanK) * d[axis]!) / sumK2;
    }
  }
  const step: Vec3 = [slope[0]!, slope[1]!, slope[2]!];
  const origin: Vec3 = [0, 1, 2].map((a) => base[a]! + mean[a]! - meanK * slope[a]!) as unknown as Vec3;
  let residualMm = 0;
  for (const [k, p] of points.entries()) {
    const off: Vec3 = [p[0] - origin[0] - k * step[0], p[1] - origin[1] - k * step[1], p[2] - origin[2] - k * step[2]];
    residualMm = Math.max(residualMm, norm(off));
  }
  return { origin, step, residualMm };
}

function findRuns(points: readonly Vec3[], alongMm: readonly number[], normal: Vec3) {
  const gapsMm = alongMm.slice(1).map((value, i) => value - alongMm[i]!);
  const typicalMm = findMedian(gapsMm);
  const shifts = points.slice(1).map((p, i) => {
    const way = sub(p, points[i]!);
    const share = dot(way, normal);
    // In-plane way per mm of normal, so that a wide gap of a tilted stack is not taken for a shift.
    return [0, 1, 2].map((axis) => (way[axis]! - share * normal[axis]!) / share);
  });
  const typicalShift = [0, 1, 2].map((axis) => findMedian(shifts.map((shift) => shift[axis]!)));
  const evenMm = Math.min(Math.max(ROUNDED_GAP_MM, 0.1 * typicalMm), 0.3 * typicalMm);
  const runs: { from: number; to: number }[] = [];
  const breaks: GridBreak[] = [];
  let from = 0;
  for (const [i, gapMm] of gapsMm.entries()) {
    const slide = shifts[i]!;
    const isShifted = Math.hypot(...slide.map((value, axis) => (value - typicalShift[axis]!) * gapMm)) >
      2 * RESIDUAL_MM + RESIDUAL_STEP_RATIO * gapMm;
    if (Math.abs(gapMm - typicalMm) <= evenMm && !isShifted) continue;
    const fits = Math.round(gapMm / typicalMm);
    const isWhole = fits >= 2 && Math.abs(gapMm - fits * typicalMm) <= Math.min(0.3 * typicalMm, evenMm * Math.sqrt(fits) + 0.02);
    breaks.push({
      kind: isShifted ? 'shifted' : isWhole ? 'missing' : 'uneven',
      afterMm: alongMm[i]!, gapMm, missing: !isShifted && isWhole ? fits - 1 : 0,
    });
    runs.push({ from, to: i });
    from = i + 1;
  }
  runs.push({ from, to: points.length - 1 });
  return { runs: runs.filter((run) => run.to > run.from), breaks, gapsMm };
}

function findMedian(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2;
}
