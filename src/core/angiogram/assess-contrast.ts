import { CONTRAST_EN } from '../text/contrast-en.ts';
import { CONTRAST_LIMITS as LIMITS, PUBLISHED_CYCLES } from './contrast-limits.ts';
import type { ContrastAsk, ContrastFinding, ContrastQualityCode, ContrastRegions, ContrastRun } from './contrast-types.ts';
import type { FrameMotion } from './register-frames.ts';
import { measureClipping, measureDenseShare, readRegionCurve } from './read-curves.ts';

export type AddFinding = (code: ContrastQualityCode, weight: ContrastFinding['weight'], values?: Readonly<Record<string, string | number>>) => void;

/** Collects findings with their words; the same code is told once. */
export function openFindings(): { readonly findings: ContrastFinding[]; readonly add: AddFinding } {
  const findings: ContrastFinding[] = [];
  const add: AddFinding = (code, weight, values = {}) => {
    if (findings.some((f) => f.code === code)) return;
    const fill = (key: string): string => Object.entries(values).reduce((text, [hole, value]) => text.replaceAll(`{${hole}}`, String(value)), (CONTRAST_EN as Readonly<Record<string, string>>)[key] ?? key);
    findings.push({ code, weight, text: fill(code), next: fill(`${code}-next`) });
  };
  return { findings, add };
}
const percent = (ratio: number): string => (100 * ratio).toFixed(ratio < 0.02 ? 1 : 0);

/** What a person says and what the header says (checks AN-05: all conditions must hold; what is not said stays a doubt). */
export function assessSaid(run: ContrastRun, ask: ContrastAsk, add: AddFinding): void {
  const { isDerived, isSubtracted, isLossy } = run.history;
  if (isSubtracted) add('run-subtracted', 'refuse');
  else if (isDerived) add('run-derived', 'doubt');
  if (isLossy) add('run-lossy', 'doubt');
  if (run.intensity === null || run.intensity === 'DISP') add('intensity-unknown', 'doubt');
  if (ask.breathHeld === false) add('breath-not-held', 'refuse');
  if (ask.tableMoved === true) add('table-moved-said', 'refuse');
  if (ask.isPaced === true) add('paced-said', 'refuse');
  if (ask.isOverlapped === true) add('overlap-said', 'refuse');
  if (ask.isInView === false) add('not-in-view', 'refuse');
  if (ask.breathHeld === undefined || ask.tableMoved === undefined || ask.isOverlapped === undefined || ask.isInView === undefined) add('breath-unknown', 'doubt');
}

/** What the picture as a whole shows: shift and brightness. */
export function assessMotion(run: ContrastRun, motion: FrameMotion, add: AddFinding): number {
  const largest = Math.max(...motion.shiftsPx.map(([c, r]) => Math.hypot(c, r))) / run.columns;
  const { tell, doubt, refuse } = LIMITS.shift;
  if (largest > refuse) add('table-moves', 'refuse', { percent: percent(largest) });
  else if (largest > tell) add('picture-shifts', largest > doubt ? 'doubt' : 'tell', { percent: percent(largest) });
  const step = Math.max(0, ...motion.brightness.slice(1).map((b, i) => Math.abs(b - motion.brightness[i]!)));
  if (step > LIMITS.brightnessStep.doubt) add('brightness-jumps', step > LIMITS.brightnessStep.refuse ? 'refuse' : 'doubt', { percent: percent(Math.expm1(step)) });
  return largest;
}

/** A subtracted run is even grey before contrast: no picture of a chest is. */
export function looksSubtracted(reference: Float32Array): boolean {
  const sorted = Float32Array.from(reference).sort();
  const at = (share: number): number => sorted[Math.floor(share * (sorted.length - 1))]!;
  return at(0.95) - at(0.05) < 0.06;
}

/** What the regions show; a vessel that is suspected refuses, unless a person says that there is none. Then it stays a doubt.
 * Shows   clipping, density of the root, dense things and other vessels over them. */
export function assessRegions(run: ContrastRun, log: Float64Array, motion: FrameMotion, regions: ContrastRegions, span: { readonly mask: readonly [number, number]; readonly window: readonly [number, number]; readonly hasLateVessel: boolean; readonly isClearSaid: boolean }, curves: { readonly aorta: readonly number[] }, add: AddFinding): void {
  const clipping = measureClipping(run, regions, span.window[0], span.window[1]);
  if (clipping.ratio > LIMITS.clipped.doubt) add('picture-clipped', clipping.ratio > LIMITS.clipped.refuse ? 'refuse' : 'doubt', { percent: percent(clipping.ratio) });
  const peak = Math.max(...curves.aorta.slice(span.window[0], span.window[1] + 1));
  if (peak < LIMITS.rootPeak.doubt) add('root-not-dense', peak < LIMITS.rootPeak.refuse ? 'refuse' : 'doubt', { peak: peak.toFixed(2) });
  const { darker, share } = LIMITS.denseThing;
  const dense = measureDenseShare(run, log, regions.outflow, span.mask[0], span.mask[1], darker);
  if (dense > share) add('dense-thing-in-region', 'doubt', { region: 'outflow', percent: percent(dense) });
  if (span.hasLateVessel || hasOtherVessel(run, log, motion, regions, span, curves)) add('overlap-suspected', span.isClearSaid ? 'doubt' : 'refuse');
}

/**
 * Another vessel over the outflow region: strips of it along either side that fill nearly as densely as the root while the middle
 * one does not.
 */
function hasOtherVessel(run: ContrastRun, log: Float64Array, motion: FrameMotion, regions: ContrastRegions, { mask, window }: { readonly mask: readonly [number, number]; readonly window: readonly [number, number] }, curves: { readonly aorta: readonly number[] }): boolean {
  const cells = cutRegion(regions.outflow, 4).map((polygon) => {
    const raw = readRegionCurve(run, log, motion.shiftsPx, polygon);
    const density = [...raw].map((v, t) => -v + motion.brightness[t]!);
    const before = density.slice(mask[0], mask[1] + 1).reduce((s, v) => s + v, 0) / (mask[1] - mask[0] + 1);
    return density.map((v) => v - before);
  }).filter((c) => c.every(Number.isFinite));
  if (cells.length < 6) return false;
  const part = (curve: readonly number[]): number[] => curve.slice(window[0], window[1] + 1);
  const top = (curve: readonly number[]): number => [...part(curve)].sort((a, b) => b - a)[2] ?? 0;
  const root = top(curves.aorta);
  const tops = cells.map(top).sort((a, b) => a - b);
  const { ofRoot, ofMedian, share } = LIMITS.overlap;
  const dense = tops.filter((v) => v > ofRoot * root && v > ofMedian * tops[Math.floor(tops.length * 0.4)]!);
  return dense.length / tops.length > share;
}

/** A region's bounding box cut into n x n boxes, those with their middle inside. */
function cutRegion(polygon: ContrastRegions['outflow'], n: number): ContrastRegions['outflow'][] {
  const [cs, rs] = [polygon.map((p) => p[0]), polygon.map((p) => p[1])];
  const [c0, c1, r0, r1] = [Math.min(...cs), Math.max(...cs), Math.min(...rs), Math.max(...rs)];
  const out: ContrastRegions['outflow'][] = [];
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < n; j++) {
      const [a, b] = [c0 + ((c1 - c0) * i) / n, c0 + ((c1 - c0) * (i + 1)) / n];
      const [d, e] = [r0 + ((r1 - r0) * j) / n, r0 + ((r1 - r0) * (j + 1)) / n];
      if (isInside(polygon, (a + b) / 2, (d + e) / 2)) out.push([[a, d], [b, d], [b, e], [a, e]]);
    }
  }
  return out;
}
function isInside(polygon: ContrastRegions['outflow'], c: number, r: number): boolean {
  let inside = false;
  for (let i = 0, j = polygon.length - 1; i < polygon.length; j = i++) {
    const [a, b] = [polygon[i]!, polygon[j]!];
    if (a[1] > r !== b[1] > r && c < ((b[0] - a[0]) * (r - a[1])) / (b[1] - a[1]) + a[0]) inside = !inside;
  }
  return inside;
}

/** Rate and cycles. */
export function assessCycles(ratePerMin: number | null, cycles: number, wanted: number, isByFrames: boolean, add: AddFinding): void {
  if (ratePerMin !== null && ratePerMin > LIMITS.fastPerMin) add('rate-fast', 'refuse', { rate: ratePerMin.toFixed(0) });
  if (ratePerMin === null) add('cycles-unknown', isByFrames ? 'doubt' : 'refuse');
  else if (cycles < LIMITS.fewestCycles - 0.05) add('cycles-too-few', 'refuse');
  else if (cycles < wanted - 0.05) add('cycles-few', 'doubt', { cycles: cycles.toFixed(1), wanted: isByFrames ? PUBLISHED_CYCLES.value : wanted });
}
