import { describe, expect, test } from 'vitest';
import { drawBeats, drawEcg, type DrawnBeat, type DrawnEcg } from '../../../test/support/draw-ecg.ts';
import { readEcgRecord, scoreBeats } from '../../../test/support/ecg-records.ts';
import { seed } from '../../../test/support/seed.ts';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import type { Recording } from '../haemodynamics/recording-types.ts';
import { uniformAt } from '../math/random.ts';
import type { Fact } from '../units/fact.ts';
import type { EcgReading } from './ecg-types.ts';
import { makeEntryFromReading } from './entry-from-reading.ts';
import { judgeRhythm } from './judge-rhythm.ts';
import { measureEcg } from './measure-ecg.ts';
import { TRAINING_RHYTHM_RULES } from './training-rhythm-rules.ts';

const STAMP = { by: 'test', at: '2026-03-02T08:00:00Z' };
const CLEAN: Tolerance = { relative: 0, absolute: 4, from: 'grid of 4 ms and one sample of 2 ms' };
const read = (recording: Recording): EcgReading => measureEcg(recording, STAMP);
const draw = (more: Partial<DrawnEcg> & { readonly beats: readonly DrawnBeat[] }): Recording => drawEcg({
  durationS: more.beats.at(-1)!.qrsOnS + 1, samplesPerS: 500, seed, ...more,
});
const uneven = (count: number, rrS: number, at = seed): number[] => Array.from({ length: count }, (_, k) => rrS * (1 + 0.04 * (uniformAt(at, k, 3) - 0.5)));
const codes = (reading: EcgReading): string[] => reading.quality.map((q) => q.code);
const kinds = (reading: EcgReading): string[] => reading.suspicions.map((s) => s.kind);
const hits = (fact: Fact, truth: number): boolean => fact.value !== null && fact.low! <= truth && truth <= fact.high!;
const SINUS = { rhythm: 'sinus', bundleBlock: 'none', avBlock: 'none' } as const;

describe(`measureEcg on a drawn ECG (seed ${seed})`, () => {
  test.each([[160, 90, 0.8], [240, 90, 0.8], [200, 150, 0.9], [140, 80, 0.6], [320, 100, 1], [120, 70, 0.5]])('PR %d, QRS %d at RR %d s', (pr, qrs, rr) => {
    for (const pShape of ['cosine', 'sine'] as const) {
      const reading = read(draw({ beats: drawBeats(uneven(14, rr), pr, qrs), pShape }));
      expectWithin(reading.prMs.value!, pr, CLEAN);
      expectWithin(reading.qrsMs.value!, qrs, CLEAN);
      expectWithin(reading.ratePerMin.value!, 60 / rr, { relative: 0.02, absolute: 0, from: 'lengths of beats are drawn within 2 %' });
      expect(reading.beatsS.length).toBe(14);
      expect(reading.suspicions).toEqual([]);
      expect(reading.prMs.source.method).toBe('rhythm.pr/1');
    }
  });
  test('the bands hold the truth under noise, hum, a wandering line and other forms of P', () => {
    let [pr, qrs, refused, n] = [0, 0, 0, 0];
    for (let k = 0; k < 36; k++) {
      const u = (v: number): number => uniformAt(seed, k, v);
      const [truePr, trueQrs, rr] = [130 + 150 * u(20), 75 + 80 * u(21), 0.75 + 0.3 * u(22)];
      const reading = read(draw({
        beats: drawBeats(uneven(12, rr, seed + k), truePr, trueQrs), samplesPerS: [250, 360, 500][k % 3]!, seed: seed + k,
        noiseMv: 0.015, humMv: 0.015, humHz: k % 2 ? 50 : 60, wanderMv: 0.2, pShape: (['cosine', 'sine', 'notched'] as const)[Math.floor(k / 3) % 3]!,
      }));
      n++;
      if (reading.prMs.value === null) refused++;
      else if (hits(reading.prMs, truePr)) pr++;
      if (hits(reading.qrsMs, trueQrs)) qrs++;
    }
    // 95 % bands: 3 misses of 36 are passed by chance in 9 of 10 runs; the seed is fixed.
    expect({ pr: pr >= n - refused - 4, qrs: qrs >= n - 4, refused: refused <= 4 }, `pr ${pr} qrs ${qrs} refused ${refused} of ${n}`).toEqual({ pr: true, qrs: true, refused: true });
  });
  test('does not change when every lead is turned over, and grows with the drawn interval', () => {
    const recording = draw({ beats: drawBeats(uneven(14, 0.8), 180, 100) });
    const turned = { ...recording, channels: recording.channels.map((c) => ({ ...c, samples: c.samples.map((v) => -v) })) };
    const [a, b] = [read(recording), read(turned)];
    for (const key of ['prMs', 'qrsMs'] as const) expectWithin(b[key].value!, a[key].value!, { relative: 0, absolute: 1e-6, from: 'rounding' });
    const longer = read(draw({ beats: drawBeats(uneven(14, 0.8), 220, 130) }));
    expectWithin(longer.prMs.value! - a.prMs.value!, 40, CLEAN);
    expectWithin(longer.qrsMs.value! - a.qrsMs.value!, 30, CLEAN);
  });
  test('names fibrillation: irregular, no PR', () => {
    const rr = Array.from({ length: 24 }, (_, k) => 0.5 + 0.6 * uniformAt(seed, k, 5));
    const reading = read(draw({ beats: drawBeats(rr, null, 90), fibrillationMv: 0.06 }));
    expect(reading.prMs.value).toBeNull();
    expect(codes(reading)).toEqual(expect.arrayContaining(['ecg-irregular']));
    expect(kinds(reading).filter((k) => k !== 'pause')).toEqual([]);
  });
  test('suspects 2:1 block, a dropped beat, one after a growing PR, and an escape rhythm; a sinus rhythm gives none', () => {
    // 2:1: P waves 0.8 s apart, every second one conducted.
    const half = drawBeats(Array(16).fill(1.6), 180, 120);
    expect(kinds(read(draw({ beats: half, loneP: half.map((b) => b.qrsOnS - 0.18 + 0.8) })))).toEqual(['two-to-one']);
    // Every fifth P is not conducted.
    const cycle = [0.9, 0.9, 0.9, 1.8];
    const dropped = drawBeats(Array.from({ length: 24 }, (_, k) => cycle[k % 4]!), 180, 100);
    const gaps = dropped.filter((_, k) => k % 4 === 3).map((b) => b.qrsOnS - 0.18 + 0.9);
    const found = read(draw({ beats: dropped, loneP: gaps.slice(0, -1) }));
    expect(kinds(found)).toEqual(['dropped-beat']);
    expect(found.suspicions[0]!.count).toBe(gaps.length - 1);
    // Wenckebach: PR grows by 40 ms, then a beat is missing.
    const grown: DrawnBeat[] = [];
    const lone: number[] = [];
    for (let c = 0; c < 6; c++) {
      for (let k = 0; k < 3; k++) grown.push({ qrsOnS: 1 + (4 * c + k) * 0.9 + 0.16 + 0.04 * k, prMs: 160 + 40 * k, qrsMs: 90 });
      lone.push(1 + (4 * c + 3) * 0.9);
    }
    expect(kinds(read(draw({ beats: grown, loneP: lone.slice(0, -1) })))).toContain('dropped-beat-growing-pr');
    expect(kinds(read(draw({ beats: drawBeats(uneven(20, 1.6), null, 130), loneP: Array.from({ length: 40 }, (_, k) => 0.3 + 0.83 * k) })))).toContain('slow-without-p');
    expect(kinds(read(draw({ beats: drawBeats(uneven(20, 1.5), 180, 100) })))).toEqual([]);
  });
  test('names spikes, two forms of QRS, few leads and slow sampling', () => {
    const spiked = read(draw({ beats: drawBeats(uneven(14, 0.8), null, 160, { isSpiked: true }), samplesPerS: 1000 }));
    expect(codes(spiked)).toContain('ecg-spikes');
    const beats = drawBeats(uneven(20, 0.8), 180, 90).map((b, k) => (k % 4 === 0 ? { ...b, qrsMs: 170 } : b));
    const forms = read(draw({ beats }));
    expect(codes(forms)).toContain('ecg-second-form');
    expectWithin(forms.qrsMs.value!, 90, CLEAN);
    const whole = draw({ beats: drawBeats(uneven(14, 0.8), 180, 90) });
    const one = read({ ...whole, channels: whole.channels.slice(1, 2) });
    expect(codes(one)).toEqual(['ecg-leads-few']);
    expect(one.qrsMs.status).toBe('doubtful');
    expect(codes(read(draw({ beats: drawBeats(uneven(14, 0.8), 180, 90), samplesPerS: 125 })))).toContain('ecg-sampling-slow');
  });
  test('refuses no ECG, a flat one, one that is too short, and noise; never throws', () => {
    const whole = draw({ beats: drawBeats(uneven(14, 0.8), 180, 90) });
    const change = (samples: (x: Float32Array) => Float32Array): EcgReading => read({ ...whole, channels: whole.channels.map((c) => ({ ...c, samples: samples(c.samples) })) });
    expect(codes(read({ ...whole, channels: [] }))).toEqual(['ecg-none']);
    expect(change((x) => x.map(() => 0)).qrsMs.reasons[0]!.code).toBe('ecg-flat');
    expect(change((x) => x.slice(0, 1200)).prMs.reasons[0]!.code).toBe('ecg-few-beats');
    expect(change((x) => x.slice(0, 0)).prMs.reasons[0]!.code).toBe('ecg-none');
    expect(change((x) => x.map(() => Number.NaN)).qrsMs.value).toBeNull();
    const noise = change((x) => x.map((_, i) => uniformAt(seed, i, 9) - 0.5));
    expect(noise.prMs.value).toBeNull();
    const rough = read(draw({ beats: drawBeats(uneven(12, 0.8), 180, 90), samplesPerS: 250, noiseMv: 0.06 }));
    expect(codes(rough)).toContain('ecg-noisy');
    expect(rough.qrsMs.high! - rough.qrsMs.value!).toBeGreaterThan(30);
    const gap = change((x) => x.map((v, i) => (i > 2000 && i < 2100 ? Number.NaN : v)));
    expect(codes(gap)).toContain('ecg-gap');
    expect(gap.prMs.status).toBe('doubtful');
  });
});

describe('makeEntryFromReading', () => {
  const before = read(draw({ beats: drawBeats(uneven(14, 0.8), 180, 90) }));
  const after = read(draw({ beats: drawBeats(uneven(14, 0.8), 185, 150) }));
  const entry = (reading: EcgReading, moment: 'baseline' | 'post', said: Parameters<typeof makeEntryFromReading>[3]) => {
    const made = makeEntryFromReading(reading, moment, moment === 'baseline' ? '2026-03-01T08:00:00Z' : '2026-03-02T10:30:00Z', said, STAMP);
    if (!made.ok) throw new Error(made.failure.code);
    return made.value;
  };
  test('goes into the rules with its band', () => {
    const answer = judgeRhythm([entry(before, 'baseline', SINUS), entry(after, 'post', { ...SINUS, bundleBlock: 'left' })], TRAINING_RHYTHM_RULES);
    expect(answer.word).toBe('new conduction change');
    // The same record twice: a rise of 0 with the bands of two readings reaches over a tenth, so nothing is said.
    expect(judgeRhythm([entry(before, 'baseline', SINUS), entry(before, 'post', SINUS)], TRAINING_RHYTHM_RULES).word).toBe('CANNOT SAY');
  });
  test('paced beats give no interval, fibrillation and complete block no PR, and no rhythm no entry', () => {
    const paced = entry(after, 'post', { ...SINUS, rhythm: 'paced-ventricle' });
    expect([paced.prMs?.reasons[0]?.code, paced.qrsMs?.reasons[0]?.code]).toEqual(['ecg-paced', 'ecg-paced']);
    expect(entry(after, 'post', { ...SINUS, rhythm: 'atrial-fibrillation' })).toMatchObject({ prMs: { value: null }, qrsMs: { value: after.qrsMs.value } });
    expect(entry(after, 'post', { ...SINUS, avBlock: 'complete' }).prMs?.value).toBeNull();
    expect(makeEntryFromReading(after, 'post', '2026-03-02T10:30:00Z', { ...SINUS, rhythm: null }, STAMP)).toMatchObject({ failure: { code: 'ecg-rhythm-missing' } });
    expect(makeEntryFromReading(after, 'post', 'today', SINUS, STAMP)).toMatchObject({ failure: { code: 'ecg-time-invalid' } });
  });
});

const RECORDS = { '100': readEcgRecord('100'), '104': readEcgRecord('104'), '108': readEcgRecord('108'), '231': readEcgRecord('231') } as const;
test('the real ECGs are there when the run must be whole', () => {
  const isRequired = (process.env['CI'] ?? '') !== '';
  expect(RECORDS['100'] !== null || !isRequired).toBe(true);
});
describe.skipIf(RECORDS['100'] === null)('measureEcg on half an hour of real ECG', () => {
  const measured = new Map<string, EcgReading>();
  const of = (name: keyof typeof RECORDS): EcgReading => {
    const old = measured.get(name) ?? read(RECORDS[name]!.recording);
    measured.set(name, old);
    return old;
  };
  test.each(['100', '104', '108'] as const)('%s: beats found against the reference beats, F1 at least 0.98', (name) => {
    expect(scoreBeats(of(name).beatsS, RECORDS[name]!.beatsS).f1).toBeGreaterThanOrEqual(0.98);
  });
  test('the rate is that of the reference beats', () => {
    for (const name of ['100', '104', '108'] as const) {
      const beats = RECORDS[name]!.beatsS;
      const rr = beats.slice(1).map((t, k) => t - beats[k]!).sort((a, b) => a - b);
      expectWithin(of(name).ratePerMin.value!, 60 / rr[rr.length >> 1]!, { relative: 0.005, absolute: 0, from: 'one sample of 2.8 ms in a beat of 0.8 s' });
    }
  });
  test('100, sinus rhythm: PR and narrow QRS read, no block suspected', () => {
    const reading = of('100');
    expect(hits(reading.prMs, 180)).toBe(true); // own reading on the middle beat: P from -225, QRS from -45 ms
    expect(reading.qrsMs.high!).toBeLessThan(120);
    expect(kinds(reading)).toEqual([]);
  });
  test('104, paced with fusion: no P, so that a person must say the rhythm', () => {
    const reading = of('104');
    expect(reading.prMs.value).toBeNull();
    expect(codes(reading)).toContain('ecg-p-not-found');
  });
  test('108, borderline first-degree block: the band of PR holds 200 ms', () => {
    expect(hits(of('108').prMs, 200)).toBe(true);
    expect(kinds(of('108')).filter((k) => k !== 'pause')).toEqual([]);
  });
  test('231, 2:1 and Mobitz II: both suspected, and a second form of QRS named', () => {
    const reading = of('231');
    expect(kinds(reading)).toEqual(expect.arrayContaining(['two-to-one', 'dropped-beat']));
    expect(codes(reading)).toContain('ecg-second-form');
  });
});
