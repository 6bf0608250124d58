import { describe, expect, test } from 'vitest';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { drawRecording, GOOD_LINE } from '../phantom/draw-line.ts';
import { PLAIN_CIRCULATION, simulateCirculation } from '../phantom/simulate-circulation.ts';
import type { PreparedPressure } from './detect-pulses.ts';
import { EMPTY, measureBeat, measurePair, type BeatNumbers } from './measure-beat.ts';
import { readBeats } from './read-beats.ts';
import { readTrack } from './read-track.ts';

/** Samples as they are, nothing smoothed. */
function prepare(raw: Float64Array, samplesPerS: number): PreparedPressure {
  const slope = raw.map((_, i) => ((raw[Math.min(raw.length - 1, i + 1)]! - raw[Math.max(0, i - 1)]!) / 2) * samplesPerS);
  return { samplesPerS, raw, smooth: raw, slope };
}
const sample = (durationS: number, samplesPerS: number, of: (t: number) => number): Float64Array => Float64Array.from({ length: Math.round(durationS * samplesPerS) }, (_, i) => of(i / samplesPerS));

describe('worked examples of the checks on one beat', () => {
  test('HD-08: a gradient that is half a sine of 60 over ejection has a mean of 38.197, whatever the beat lasts', () => {
    const samplesPerS = 20_000;
    for (const durationS of [0.8, 1.2]) {
      // Outside ejection the ventricle lies far below, so that an average over the beat would be far off.
      const gradient = (t: number): number => (t > 0.1 && t < 0.43 ? 60 * Math.sin((Math.PI * (t - 0.1)) / 0.33) : -80);
      const [p, v] = [sample(durationS, samplesPerS, () => 100), sample(durationS, samplesPerS, (t) => 100 + gradient(t))];
      const out: BeatNumbers = { ...EMPTY };
      measurePair(p, prepare(v, samplesPerS), Math.round(0.1 * samplesPerS), p.length, out);
      expectWithin(out.meanGradient, 38.197186, { relative: 0, absolute: 0.01, from: '6,600 samples; the first or last may stand at zero' });
      expectWithin(out.peakGradient, 60, { relative: 0, absolute: 1e-4, from: 'the top between two samples' });
      expectWithin(out.ejectionS, 0.33, { relative: 0, absolute: 2e-4, from: 'two samples' });
    }
  });
  test('HD-09: LV 190, aorta 130, largest difference 78: peak to peak 60, peak instantaneous 78', () => {
    const samplesPerS = 1000;
    const bell = (t: number, at: number, width: number): number => (Math.abs(t - at) < width ? Math.cos((Math.PI * (t - at)) / (2 * width)) ** 2 : 0);
    const v = sample(0.9, samplesPerS, (t) => 10 + 180 * bell(t, 0.27, 0.22));
    const drawAorta = (lateS: number): Float64Array => sample(0.9, samplesPerS, (t) => 70 + 60 * bell(t, 0.27 + lateS, 0.25));
    const largest = (p: Float64Array): number => v.reduce((most, x, i) => Math.max(most, x - p[i]!), -Infinity);
    // The later the aorta peaks, the larger the difference: its delay is found that gives 78.
    let [early, late] = [0, 0.2];
    for (let k = 0; k < 60; k++) {
      const middle = (early + late) / 2;
      if (largest(drawAorta(middle)) < 78) early = middle;
      else late = middle;
    }
    const p = drawAorta(early);
    const beat = measureBeat({ aortic: prepare(p, samplesPerS), ventricular: prepare(v, samplesPerS), samplesPerS, startS: 0 }, 100, 800, NaN);
    expectWithin(beat.ventricularSystolic - beat.systolic, 60, { relative: 0, absolute: 0.01, from: 'tops between samples of 1 ms' });
    expectWithin(beat.peakGradient, 78, { relative: 0, absolute: 1e-6, from: 'bisection' });
    expect(beat.peakGradient).toBeGreaterThanOrEqual(beat.ventricularSystolic - beat.systolic);
  });
  test.each([['with', true], ['without', false]])('HD-22: %s an a-wave LVEDP lies before the upstroke, not at the early minimum', (_, hasAtrialKick) => {
    const truth = simulateCirculation({ ...PLAIN_CIRCULATION, hasAtrialKick, stiffness: 0.026, venousMmHg: 18 }, 12, 250, 4);
    const { beats } = readBeats(readTrack(drawRecording(truth, { aortic: GOOD_LINE, ventricular: GOOD_LINE, withEcg: true }, 1)));
    const counted = beats.filter((b) => b.kind === 'counted');
    expect(counted.length).toBeGreaterThan(8);
    for (const b of counted) {
      const drawn = truth.beats.reduce((best, t) => (Math.abs(t.atS - b.endDiastolicAtS) < Math.abs(best.atS - b.endDiastolicAtS) ? t : best));
      // The drawn beat begins to contract at atS, which is the end of the a-wave; AF: 40 to 50 ms after the QRS began.
      expectWithin(b.endDiastolicAtS, drawn.atS, { relative: 0, absolute: 0.03, from: 'a line of 28 Hz and a parabola of 40 ms' });
      expectWithin(b.endDiastolic, drawn.endDiastolic, { relative: 0, absolute: 2, from: 'the same' });
      expect(b.endDiastolic).toBeGreaterThan(b.ventricularMinimum + 2);
      expect(b.endDiastolicAtS).toBeLessThan(b.atS);
    }
  });
});
