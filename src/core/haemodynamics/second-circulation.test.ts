import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { measurePressure } from './measure-pressure.ts';
import type { PressureAnswer } from './pressure-types.ts';
import type { Channel } from './recording-types.ts';

interface Case {
  readonly truth: Readonly<Record<'systolic' | 'diastolic' | 'mean' | 'ventricularSystolic' | 'endDiastolic' | 'meanGradient' | 'ratePerMin', number>>;
  readonly aorticTenths: readonly number[];
  readonly ventricularTenths: readonly number[];
}
const { cases, samplesPerS } = JSON.parse(readFileSync(new URL('../../../test/reference/pressure/second-circulation.json', import.meta.url), 'utf8')) as { readonly samplesPerS: number; readonly cases: Readonly<Record<string, Case>> };
const channel = (kind: 'aortic' | 'ventricular', tenths: readonly number[]): Channel => ({ label: kind, kind, unit: 'mm[Hg]', samplesPerS, startS: 0, samples: Float32Array.from(tenths, (p) => p / 10) });
function measure(channels: readonly Channel[]): PressureAnswer {
  const answer = measurePressure({ format: 'csv', startedAt: null, durationS: channels[0]!.samples.length / samplesPerS, channels, marks: [], findings: [] }, {}, { by: 'test', at: '2026-03-02T08:00:00Z' });
  if (!answer.ok) throw new Error(answer.failure.code);
  return answer.value;
}

/** The reading was tuned on src/core/phantom; this circulation was written apart from it, by test/reference/pressure/make-second-circulation.py. */
describe('a circulation that the reading was not tuned on', () => {
  test.each(Object.entries(cases))('%s: every number holds its truth', (name, { truth, aorticTenths, ventricularTenths }) => {
    const a = measure([channel('aortic', aorticTenths), channel('ventricular', ventricularTenths)]);
    const said = {
      systolic: a.aortic.systolic, diastolic: a.aortic.diastolic, mean: a.aortic.mean, ventricularSystolic: a.ventricular.systolic,
      endDiastolic: a.ventricular.endDiastolic, meanGradient: a.gradients.meanMmHg, ratePerMin: a.rhythm.ratePerMin,
    };
    for (const [key, fact] of Object.entries(said)) {
      const wanted = truth[key as keyof Case['truth']];
      // The rate of a dozen beats: the first and the last may be left out. (Of two kinds of beat one more of either moves it further.)
      const room = key === 'ratePerMin' ? 0.03 * wanted : 0;
      expect([key, fact.low! - room <= wanted && wanted <= fact.high! + room], `${key}: ${fact.low} to ${fact.high}, truth ${wanted}`).toEqual([key, true]);
    }
    const codes = a.quality.map((q) => q.code);
    expect(codes).toEqual(name === 'bigeminy' ? ['line-unknown', 'beats-alternate', 'rhythm-irregular'] : ['line-unknown']);
  });
});
