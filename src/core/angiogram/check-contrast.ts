import type { Fact } from '../units/fact.ts';
import type { ContrastAnswer } from './contrast-types.ts';

/** What every contrast answer keeps; empty means sound. */
export function checkContrast(a: ContrastAnswer): readonly string[] {
  const breaches: string[] = [];
  const facts: readonly [string, Fact][] = [
    ['ratio', a.ratio], ['root area', a.aorta.area], ['root peak', a.aorta.peak], ['outflow area', a.outflow.area], ['outflow peak', a.outflow.peak], ['rate', a.cycle.ratePerMin],
    ['motion', a.motion.largest], ['frames', a.framesPerS], ...(a.window ? [['cycles', a.window.cycles] as [string, Fact]] : []),
  ];
  for (const [name, f] of facts) {
    if (f.value === null ? f.reasons.length === 0 || f.status !== 'refused' : !(f.low! <= f.value && f.value <= f.high!)) breaches.push(`${name} is no whole fact`);
  }
  const isRefused = a.quality.some((q) => q.weight === 'refuse');
  if (isRefused && a.ratio.value !== null) breaches.push('a ratio stands in spite of a refusal');
  if (a.ratio.value !== null && a.aorta.area.value !== null && a.outflow.area.value !== null && !(Math.abs(a.ratio.value * a.aorta.area.value - a.outflow.area.value) < 1e-9)) breaches.push('ratio and areas do not agree');
  if (a.window && !(a.window.toMs > a.window.fromMs && a.window.toFrame <= a.size.frames && a.window.fromFrame >= 1)) breaches.push('the window is not in the run');
  if (a.mask && a.window && !(a.mask.toFrame < a.window.toFrame)) breaches.push('the mask is not before the window');
  if (a.motion.shiftsPx.length !== a.size.frames) breaches.push('not every frame has a shift');
  for (const list of [a.curves.aorta, a.curves.outflow, a.curves.brightness]) if (list.length !== a.curves.timesMs.length || !list.every(Number.isFinite)) breaches.push('a curve is not whole');
  return breaches;
}
