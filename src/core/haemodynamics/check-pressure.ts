import type { Fact } from '../units/fact.ts';
import type { PressureAnswer } from './pressure-types.ts';

/** What every pressure answer keeps; empty means sound. Pressures of one answer, tolerance for rounding only. */
export function checkPressure(a: PressureAnswer): readonly string[] {
  const breaches: string[] = [];
  const facts: [string, Fact][] = [a.aortic, a.ventricular, a.leak, a.area, a.breathing].flatMap((group) => Object.entries(group as object) as [string, Fact][]);
  facts.push(['ratePerMin', a.rhythm.ratePerMin], ['meanMmHg', a.gradients.meanMmHg], ['peakToPeakMmHg', a.gradients.peakToPeakMmHg], ['peakInstantaneousMmHg', a.gradients.peakInstantaneousMmHg]);
  for (const [name, f] of facts) {
    if (f.value === null ? f.reasons.length === 0 || f.status !== 'refused' : !(f.low! <= f.value && f.value <= f.high!)) breaches.push(`${name} is no whole fact`);
  }
  const above = (what: string, high: Fact, low: Fact): void => {
    if (high.value !== null && low.value !== null && !(high.value >= low.value - 1e-9)) breaches.push(`${what}: ${high.value} below ${low.value}`);
  };
  above('systolic and mean', a.aortic.systolic, a.aortic.mean);
  above('mean and diastolic', a.aortic.mean, a.aortic.diastolic);
  above('LV systolic and end-diastolic', a.ventricular.systolic, a.ventricular.endDiastolic);
  above('peak and mean gradient', a.gradients.peakInstantaneousMmHg, a.gradients.meanMmHg);
  for (const [k, b] of a.beats.entries()) if (k > 0 && !(b.t > a.beats[k - 1]!.t)) breaches.push(`beat ${k} is not after the one before`);
  if (!(a.rhythm.counted <= a.rhythm.beats && a.rhythm.beats === a.beats.length)) breaches.push('counts of beats do not agree');
  return breaches;
}
