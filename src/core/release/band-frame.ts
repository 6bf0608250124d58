import { estimateInflatedFrame, type CuspAzimuths } from './inflated-frame.ts';
import { findBand } from './judge-verdict.ts';
import type { Band, ExpectedFrame, FrameRing } from './release-types.ts';
import type { EnsemblePlan } from './run-ensemble.ts';
import { sampleInputs } from './sample-inputs.ts';
import { combineWall } from './wall-grid.ts';

/** 5, 50 and 95 % of the expected frame over the releases: each with its own wall, frame force and final depth. */
export interface FrameBands {
  readonly inflow: RingBand;
  readonly waist: RingBand;
  /** Widest gap anywhere around the ring; 0 where the frame lies on the wall all round. */
  readonly largestGapMm: Band;
}
export interface RingBand {
  readonly meanDiameterMm: Band;
  readonly minDiameterMm: Band;
  readonly maxDiameterMm: Band;
  readonly minOverMaxRatio: Band;
}

/** Enough for the tails of a band that is shown to a tenth of a millimetre (Monte-Carlo error of a 5 % quantile: 0.2 SD). */
const MOST_SAMPLES = 100;

/**
 * Units     mm; `depthsMm` by sample, from the ensemble's middle world at the chosen start; what left the zone is left out
 * Fails     null when fewer than two releases end inside the landing zone
 * Source    docs/methods/release.md, "Frame after release"
 */
export function bandInflatedFrame(plan: EnsemblePlan, cusps: CuspAzimuths, first: number, depthsMm: ArrayLike<number>): FrameBands | null {
  const frames: ExpectedFrame[] = [];
  for (let i = 0; i < depthsMm.length && frames.length < MOST_SAMPLES; i++) {
    const depthMm = depthsMm[i]!;
    if (!Number.isFinite(depthMm)) continue;
    const sample = sampleInputs(plan.seed, first + i, plan.spread, plan.choice, plan.scale);
    frames.push(estimateInflatedFrame(plan.frame, combineWall(plan.basis, sample), depthMm, cusps, sample.frameFactor));
  }
  if (frames.length < 2) return null;
  const over = (read: (f: ExpectedFrame) => number): Band => findBand(frames.map(read));
  const ring = (of: (f: ExpectedFrame) => FrameRing): RingBand => ({
    meanDiameterMm: over((f) => of(f).meanDiameterMm), minDiameterMm: over((f) => of(f).minDiameterMm),
    maxDiameterMm: over((f) => of(f).maxDiameterMm), minOverMaxRatio: over((f) => of(f).minOverMaxRatio),
  });
  return { inflow: ring((f) => f.inflow), waist: ring((f) => f.waist), largestGapMm: over((f) => f.gaps[0]?.gapMm ?? 0) };
}
