import type { ContrastAnswer, ContrastAsk, ContrastRun } from '../../src/core/angiogram/contrast-types.ts';
import { computeDensityRatio } from '../../src/core/angiogram/density-ratio.ts';
import { measureContrast } from '../../src/core/angiogram/measure-contrast.ts';
import { normalAt, uniformAt } from '../../src/core/math/random.ts';
import { drawContrastRun, PLAIN_CONTRAST, type ContrastShape, type DrawnContrastRun } from '../../src/core/phantom/contrast-run.ts';

export const CONTRAST_STAMP = { by: 'test', at: '2026-03-02T08:00:00Z' };
/** All that a person can say for a run. */
export const ALL_SAID: ContrastAsk = { breathHeld: true, tableMoved: false, isOverlapped: false, isInView: true, isPaced: false };
/** Small, so that it is drawn quickly. */
export const SMALL: Partial<ContrastShape> = { columns: 96, rows: 96, frames: 66 };

export function drawSmall(change: Partial<ContrastShape> = {}): DrawnContrastRun & { readonly shape: ContrastShape } {
  const shape = { ...PLAIN_CONTRAST, ...SMALL, ...change };
  return { ...drawContrastRun(shape), shape };
}
export function makeRun(drawn: DrawnContrastRun & { readonly shape: ContrastShape }, change: Partial<ContrastRun> = {}): ContrastRun {
  return {
    rows: drawn.shape.rows, columns: drawn.shape.columns, bits: 12, frames: drawn.pixels, frameTimesMs: drawn.frameTimesMs, isInverted: false, intensity: 'LIN',
    history: { isDerived: false, isSubtracted: false, isLossy: false }, ...change,
  };
}
export function measured(run: ContrastRun, ask: ContrastAsk): ContrastAnswer {
  const answer = measureContrast(run, ask, CONTRAST_STAMP);
  if (!answer.ok) throw new Error(answer.failure.code);
  return answer.value;
}
export const codesOf = (a: ContrastAnswer): readonly string[] => a.quality.map((q) => q.code);
export function trueRatio({ frameTimesMs, truth }: DrawnContrastRun, { window }: ContrastAnswer): number {
  return computeDensityRatio(frameTimesMs, truth.outflow, truth.aorta, window!.fromMs, window!.toMs);
}

/** A patient who does not exist: rate, leak, stroke, lean, scatter, noise, breath and place of the valve drawn from the seed. */
export function drawAny(seed: number): DrawnContrastRun & { readonly shape: ContrastShape } {
  const between = (k: number, low: number, high: number): number => low + (high - low) * uniformAt(seed, k, 5);
  return drawSmall({
    seed, frames: 70, ratePerMin: between(1, 58, 100), regurgitantFraction: between(2, 0, 0.5), strokeMl: between(3, 55, 90), phase: between(4, 0, 0.99), leanDeg: between(5, -5, 30),
    scatterRatio: between(6, 0, 0.3), quanta: between(7, 2500, 8000), injectRiseS: between(8, 0.35, 0.7), rootWidth: between(9, 0.18, 0.22), breathing: between(10, 0, 0.005),
    valve: [between(11, 0.4, 0.5), between(12, 0.45, 0.5)], beatMotion: between(13, 0.004, 0.01), injectAtS: between(14, 1.2, 1.6),
  });
}
/** The exact regions, each moved by the hand that draws. */
export function jitterRegions(drawn: DrawnContrastRun & { readonly shape: ContrastShape }): NonNullable<ContrastAsk['regions']> {
  const { seed, rootWidth, columns } = drawn.shape;
  const sd = 0.032 * rootWidth * columns;
  const move = (polygon: DrawnContrastRun['truth']['regions']['aorta'], k: number): [number, number][] => polygon.map(([c, r]) => [c + sd * normalAt(seed, k, 1), r + sd * normalAt(seed, k, 2)]);
  return { aorta: move(drawn.truth.regions.aorta, 1), outflow: move(drawn.truth.regions.outflow, 2), background: null };
}
