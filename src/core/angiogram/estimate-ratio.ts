import { CONTRAST_PRIORS } from './contrast-limits.ts';
import type { ContrastRegions, ContrastRun, PixelPoint, PixelPolygon, RatioParts } from './contrast-types.ts';
import { computeDensityRatio, integrateCurve } from './density-ratio.ts';
import { makeWeightedMap, meanOver } from './read-curves.ts';
import { growPolygon, measurePolygonArea, movePolygon } from './region-pixels.ts';

export interface RatioReading {
  readonly ratio: number;
  readonly low: number;
  readonly high: number;
  readonly parts: RatioParts;
  /** s, with 1 SD. */
  readonly aorta: { readonly area: number; readonly sd: number; readonly peak: number };
  readonly outflow: { readonly area: number; readonly sd: number; readonly peak: number };
}
export interface RatioInput {
  readonly run: ContrastRun;
  readonly log: Float64Array;
  readonly shiftsPx: readonly PixelPoint[];
  readonly timesS: readonly number[];
  /** Density curves of both regions. */
  readonly aorta: readonly number[];
  readonly outflow: readonly number[];
  readonly regions: ContrastRegions;
  readonly isProposed: boolean;
  /** Frames of the mask, from 0, both included. */
  readonly mask: readonly [number, number];
  readonly fromS: number;
  readonly toS: number;
  /** Length of a cycle and its SD; null: frames were entered and no cycle is known. */
  readonly cycle: { readonly lengthS: number; readonly sdS: number } | null;
  readonly isByFrames: boolean;
  /** Scatter of mean density over the window among places without contrast. */
  readonly backgroundSd: number;
}

const Z = 1.959964;

/**
 * Ratio of both areas with its 95 % interval.
 *
 * Equation  r = A_o / A_a; half^2 = sum (1.96 sd_i)^2 over noise, place of the regions, mask, background and length of the window;
 *           downward also by what scattered radiation may have added
 * Source    docs/methods/contrast.md, "Interval"
 */
export function estimateRatio(input: RatioInput): RatioReading {
  const { timesS, aorta, outflow, fromS, toS, mask, cycle } = input;
  const areaA = integrateCurve(timesS, aorta, fromS, toS);
  const areaO = integrateCurve(timesS, outflow, fromS, toS);
  const ratio = computeDensityRatio(timesS, outflow, aorta, fromS, toS);
  const lengthS = toS - fromS;
  const both = (sdO: number, sdA: number): number => Math.hypot(sdO, ratio * sdA) / areaA;

  const weights = timesS.map((_, t) => integrateCurve(timesS, timesS.map((__, k) => (k === t ? 1 : 0)), fromS, toS));
  const spread = Math.sqrt(weights.reduce((s, w) => s + w * w, 0) + lengthS ** 2 / (mask[1] - mask[0] + 1));
  const noise = both(measureWhite(outflow) * spread, measureWhite(aorta) * spread);
  const maskSd = (curve: readonly number[]): number => measureMaskSd(curve, timesS, mask, cycle?.lengthS ?? null);
  const baseline = both(maskSd(outflow) * lengthS, maskSd(aorta) * lengthS);
  const background = both(input.backgroundSd * lengthS, input.backgroundSd * lengthS);
  const [jitterO, jitterA] = measureJitter(input, weights, lengthS);
  const regions = both(jitterO, jitterA);
  const moved = cycle === null || input.isByFrames ? 0 : (Math.abs(computeDensityRatio(timesS, outflow, aorta, fromS, Math.min(timesS.at(-1)!, toS + cycle.sdS * (lengthS / cycle.lengthS))) - ratio)
    + Math.abs(computeDensityRatio(timesS, outflow, aorta, fromS, toS - cycle.sdS * (lengthS / cycle.lengthS)) - ratio)) / 2;
  // Where cycles are not whole the beat of the edges does not cancel.
  const swing = input.isByFrames ? both(measureSwing(outflow) * Math.min(lengthS, cycle?.lengthS ?? lengthS) / 4, 0) : 0;
  const cyclePart = Math.hypot(moved, swing);
  const scatterBelow = Math.max(0, ratio - undoScatter(timesS, outflow, aorta, fromS, toS));
  const half = Z * Math.hypot(noise, baseline, background, regions, cyclePart);
  const low = ratio - Math.hypot(half, scatterBelow);
  const peak = (curve: readonly number[]): number => curve.reduce((m, v, t) => (timesS[t]! >= fromS && timesS[t]! <= toS ? Math.max(m, v) : m), 0);
  const sd = (curve: readonly number[], jitter: number): number => Math.hypot(measureWhite(curve) * spread, maskSd(curve) * lengthS, input.backgroundSd * lengthS, jitter);
  return {
    ratio, low: Math.max(low, Math.min(0, ratio)), high: ratio + half,
    parts: { noise, regions, baseline, background, cycle: cyclePart, scatterBelow },
    aorta: { area: areaA, sd: sd(aorta, jitterA), peak: peak(aorta) }, outflow: { area: areaO, sd: sd(outflow, jitterO), peak: peak(outflow) },
  };
}

/** White noise of a curve from its second differences, 1 SD, by their median so that upstrokes do not count. */
export function measureWhite(curve: readonly number[]): number {
  const seconds = curve.slice(2).map((v, i) => Math.abs(v - 2 * curve[i + 1]! + curve[i]!)).sort((a, b) => a - b);
  return ((seconds[seconds.length >> 1] ?? 0) * 1.4826) / Math.sqrt(6);
}

/** SD of a curve about its mean over five frames: what beats. */
function measureSwing(curve: readonly number[]): number {
  let sum = 0;
  for (let t = 0; t < curve.length; t++) {
    const near = curve.slice(Math.max(0, t - 4), t + 5);
    sum += (curve[t]! - near.reduce((s, v) => s + v, 0) / near.length) ** 2;
  }
  return Math.sqrt(sum / curve.length);
}

/** How far the mean before contrast may be off by the beat: little over whole cycles, all of the swing over less than one. */
function measureMaskSd(curve: readonly number[], timesS: readonly number[], [from, to]: readonly [number, number], cycleS: number | null): number {
  const part = curve.slice(from, to + 1);
  const mean = part.reduce((s, v) => s + v, 0) / part.length;
  const seen = Math.sqrt(part.reduce((s, v) => s + (v - mean) ** 2, 0) / Math.max(1, part.length - 1));
  const step = (timesS[to]! - timesS[from]!) / Math.max(1, to - from);
  const cycles = cycleS === null ? 0 : ((to - from + 1) * step) / cycleS;
  return cycles >= 0.95 ? seen / (3 * Math.sqrt(cycles)) : Math.max(seen, measureSwing(curve)) / Math.sqrt(2);
}

/** How far each area moves when its region is moved or grown by the SD of a hand, or of the proposal; 1 SD of outflow and root, s. */
function measureJitter({ run, log, shiftsPx, regions, isProposed, mask }: RatioInput, weights: readonly number[], lengthS: number): [number, number] {
  const share = isProposed ? CONTRAST_PRIORS.proposedEdgeRatio.value : CONTRAST_PRIORS.enteredEdgeRatio.value;
  const edgePx = Math.max(0.7, share * Math.sqrt(measurePolygonArea(regions.aorta)));
  const count = mask[1] - mask[0] + 1;
  const signed = weights.map((w, t) => (t >= mask[0] && t <= mask[1] ? lengthS / count : 0) - w);
  const map = makeWeightedMap(run, log, shiftsPx, signed, [regions.aorta, regions.outflow], 2 * edgePx + 2);
  const measure = (polygon: PixelPolygon): number => {
    const here = meanOver(map, polygon);
    const far = (...others: PixelPolygon[]): number => Math.max(...others.map((o) => Math.abs(meanOver(map, o) - here)).filter(Number.isFinite), 0);
    return Math.hypot(
      far(movePolygon(polygon, [edgePx, 0]), movePolygon(polygon, [-edgePx, 0])), far(movePolygon(polygon, [0, edgePx]), movePolygon(polygon, [0, -edgePx])),
      far(growPolygon(polygon, edgePx), growPolygon(polygon, -edgePx)),
    );
  };
  return [measure(regions.outflow), measure(regions.aorta)];
}

/** The ratio if the largest usual share of the beam in both regions were scattered: dense places lose most, so the ratio falls. */
function undoScatter(timesS: readonly number[], outflow: readonly number[], aorta: readonly number[], fromS: number, toS: number): number {
  const s = CONTRAST_PRIORS.scatterRatio.value;
  const undo = (curve: readonly number[]): number[] => curve.map((d) => -Math.log(Math.max(0.05, (Math.exp(-d) - s) / (1 - s))));
  return computeDensityRatio(timesS, undo(outflow), undo(aorta), fromS, toS);
}
