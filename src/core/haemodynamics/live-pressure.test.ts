import { describe, expect, test } from 'vitest';
import { seed } from '../../../test/support/seed.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { uniformAt } from '../math/random.ts';
import { drawRecording, GOOD_LINE } from '../phantom/draw-line.ts';
import { PLAIN_CIRCULATION, simulateCirculation } from '../phantom/simulate-circulation.ts';
import { openLivePressure, type LiveBeat } from './live-pressure.ts';
import { measurePressure } from './measure-pressure.ts';
import type { Recording } from './recording-types.ts';

const STAMP = { by: 'test', at: '2026-03-02T08:00:00Z' };
const draw = (durationS: number, prematureEvery = 0): Recording =>
  drawRecording(simulateCirculation({ ...PLAIN_CIRCULATION, prematureEvery }, durationS, 250, 5), { aortic: GOOD_LINE, ventricular: GOOD_LINE, withEcg: true }, 1);

/** Samples in parts of `size(k)`; what each part answered. */
function follow(r: Recording, size: (k: number) => number): readonly (readonly LiveBeat[])[] {
  const live = openLivePressure({ channels: r.channels, samplesPerS: 250, startS: 0 }, {});
  const found: (readonly LiveBeat[])[] = [];
  for (let i = 0, k = 0; i < r.channels[0]!.samples.length; k++) {
    const to = i + Math.max(1, size(k));
    found.push(live.append(r.channels.map((c) => c.samples.slice(i, to)), STAMP));
    i = to;
  }
  return found;
}

describe(`openLivePressure (seed ${seed})`, () => {
  const r = draw(20);
  const whole = measurePressure(r, {}, STAMP);
  const all = whole.ok ? whole.value.beats : [];
  const oneByOne = follow(r, () => 10).flat();
  test('answers the beats of the whole recording, each once', () => {
    // The last beat waits for the upstroke after it.
    expect(oneByOne.length).toBeGreaterThanOrEqual(all.length - 1);
    for (const { beat } of oneByOne) {
      const same = all.find((b) => Math.abs(b.t - beat.t) < 0.03);
      expect(same, `beat at ${beat.t} s`).toBeDefined();
      expectWithin(beat.systolic.value!, same!.systolic.value!, { relative: 0, absolute: 0.5, from: 'the foot may move by a sample with the threshold of its surroundings' });
      expectWithin(beat.endDiastolic.value!, same!.endDiastolic.value!, { relative: 0, absolute: 1, from: 'the same' });
    }
    const at = oneByOne.map((b) => b.beat.t);
    for (const [k, t] of at.entries()) if (k > 0) expect(t - at[k - 1]!).toBeGreaterThan(0.4);
  });
  test('does not depend on how the stream is cut', () => {
    for (const size of [(): number => 1000, (k: number): number => 1 + Math.floor(60 * uniformAt(seed, k, 5)), (): number => 1e9]) {
      expect(follow(r, size).flat()).toEqual(oneByOne);
    }
  });
  test('answers a beat within half a second after the next one began', () => {
    follow(r, () => 10).forEach((beats, k) => {
      for (const { beat } of beats) {
        const endS = beat.t + 60 / beat.ratePerMin.value!;
        expect(((k + 1) * 10) / 250 - endS).toBeLessThan(0.5);
      }
    });
  });
  test('says what the last half minute says, with the same refusals', () => {
    const last = oneByOne.at(-1)!.over;
    if (!whole.ok) throw new Error(whole.failure.code);
    expectWithin(last.leak.arIndex.value!, whole.value.leak.arIndex.value!, { relative: 0, absolute: 1, from: 'one beat more or less' });
    expect(oneByOne[0]!.over.leak.arIndex.value).toBeNull(); // one beat is no summary
  });
  test('a doubt of the header stays in every answer', () => {
    const finding = { code: 'arterial-line', text: 'Channel 1 is an arterial line.', next: 'Use a catheter.' };
    const live = openLivePressure({ channels: r.channels, samplesPerS: 250, startS: 0, findings: [finding, { ...finding, code: 'recording-gaps' }] }, {});
    const last = live.append(r.channels.map((c) => c.samples), STAMP).at(-1)!.over;
    expect(last.quality.map((q) => q.code)).toContain('arterial-line');
    expect(last.quality.map((q) => q.code)).not.toContain('recording-gaps');
    expect(last.leak.arIndex.reasons.map((x) => x.code)).toContain('arterial-line');
  });
  test('goes on after a gap and after dead seconds', () => {
    const gap = draw(24);
    for (const c of gap.channels) c.samples.fill(NaN, 8 * 250, 11 * 250);
    const beats = follow(gap, () => 25).flat();
    expect(beats.filter((b) => b.beat.t > 12).length).toBeGreaterThan(10);
    expect(beats.filter((b) => b.beat.kind === 'counted' && b.beat.t > 8 && b.beat.t < 10.9)).toEqual([]);
    expect(beats.at(-1)!.over.quality.map((q) => q.code)).toContain('recording-gap');
  });
  test('keeps half a minute: a long stream answers on', () => {
    const minute = follow(draw(75), () => 500).flat();
    expect(minute.at(-1)!.beat.t).toBeGreaterThan(72);
    expect(minute.at(-1)!.over.rhythm.beats).toBeLessThan(45);
  });
  test('without a pressure channel there are no beats', () => {
    const live = openLivePressure({ channels: [{ label: 'II', kind: 'ecg', unit: 'mV' }], samplesPerS: 250, startS: 0 }, {});
    expect(live.append([new Float32Array(5000)], STAMP)).toEqual([]);
  });
});
