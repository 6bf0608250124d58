import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, test } from 'vitest';
import type { Recording } from '../../core/haemodynamics/recording-types.ts';
import { hasOutsideData, readFacts, readOutside } from '../../../test/fuzz/outside-data.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { readRecording } from './read-recording.ts';

const DATA = fileURLToPath(new URL('../../../../shared/data/', import.meta.url));
const OWN = fileURLToPath(new URL('../../../test/reference/recordings/', import.meta.url));
const scratch = mkdtempSync(join(tmpdir(), 'trinadir-recording-'));
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

function open(path: string, channels?: string, annotator?: string): Recording {
  const result = readRecording(path, channels, annotator);
  if (!result.ok) throw new Error(`${result.failure.code} ${result.failure.message}`);
  return result.value;
}
const refuse = (path: string, channels?: string): string => {
  const result = readRecording(path, channels);
  return result.ok ? 'read' : result.failure.code;
};
function measure(samples: Float32Array): { count: number; low: number; high: number; mean: number } {
  let [count, low, high, sum] = [0, Infinity, -Infinity, 0];
  for (const v of samples) {
    if (Number.isNaN(v)) continue;
    [count, low, high, sum] = [count + 1, Math.min(low, v), Math.max(high, v), sum + v];
  }
  return { count, low, high, mean: sum / count };
}

interface SignalFacts { name: string; samples: number; unit: string; physMin: number; physMax: number; physMean: number; first5: number[]; gain: number; baseline: number }
interface BeatFacts { beats: number; first: number[]; last: number }
interface AbpFacts {
  records: Record<string, { durationS: number; signals: SignalFacts[]; ecgBeats_gqrsl?: BeatFacts; ecgBeats_gqrsh?: BeatFacts }>;
}
interface EcgSignal { name: string; gainPerMv: number; baseline: number; first: number; min: number; max: number; atSample100000: number; atSample500000: number }
interface EcgFacts { records: Record<string, { samples: number; durationS: number; signals: EcgSignal[]; annotations?: { total: number; firstBeats: number[]; lastBeat: number; counts: Record<string, number> } }> }
interface TortureFacts { files?: Record<string, { waveforms?: { channels: number; samples: number; fs: number; labels: string[] }[] }> }

const ROUNDED = { relative: 0, absolute: 6e-4, from: 'facts give three decimals; float32' };

test('the recordings of patients are there when the run must be whole', () => {
  const isRequired = (process.env['CI'] ?? '') !== '';
  expect(hasOutsideData || !isRequired).toBe(true);
});

describe.skipIf(!hasOutsideData)('readRecording, recordings of patients (outside data)', () => {
  test.each(['03700181', '041s01', '041s02'])('abp-ecg %s: each signal as an independent reader found it', (name) => {
    const facts = readFacts<AbpFacts>('abp-ecg').records[name]!;
    const recording = open(join(DATA, 'abp-ecg', `${name}.hea`));
    expect(recording.durationS).toBe(facts.durationS);
    for (const [i, signal] of facts.signals.entries()) {
      const channel = recording.channels[i]!;
      const found = measure(channel.samples);
      expect(channel.label).toBe(signal.name);
      // Two effects which that reader did not take off: a skew of four frames, and -2048, which is "no sample" in this format.
      const [skew, hasHole] = [signal.name === 'RESP' && name === '03700181' ? 4 : 0, signal.physMin === -1.024];
      expect(channel.samples.length).toBe(signal.samples - skew);
      expectWithin(found.high, signal.physMax, skew > 0 ? { ...ROUNDED, absolute: 2e-3 } : ROUNDED);
      if (!hasHole) expectWithin(found.low, signal.physMin, ROUNDED);
      expectWithin(found.mean, signal.physMean, hasHole ? { ...ROUNDED, absolute: 2e-3 } : ROUNDED);
      for (const [k, stored] of signal.first5.entries()) if (k >= skew) expectWithin(channel.samples[k - skew]!, (stored - signal.baseline) / signal.gain, ROUNDED);
    }
    expect(recording.findings.map(({ code }) => code)).not.toContain('checksum-differs');
    expect(recording.channels.find(({ label }) => label === 'ABP')).toMatchObject({ kind: 'aortic', unit: 'mm[Hg]' });
  });

  test('two segments are one recording, and its second half is the second segment', () => {
    const [whole, second] = [open(join(DATA, 'abp-ecg', '041s')), open(join(DATA, 'abp-ecg', '041s02.hea'))];
    expect(whole.durationS).toBe(16);
    expect(whole.channels[3]!.samples.slice(1000)).toEqual(second.channels[3]!.samples);
    expect(whole.channels.map(({ kind }) => kind)).toEqual(['ecg', 'ecg', 'ecg', 'aortic', 'pulmonary', 'other', 'other']);
  });

  test('beat lists of other programs, one at a rate of its own', () => {
    const facts = readFacts<AbpFacts>('abp-ecg').records['03700181']!.ecgBeats_gqrsl!;
    const { marks } = open(join(DATA, 'abp-ecg', '03700181.hea'), undefined, 'gqrsl');
    expect(marks.length).toBe(facts.beats);
    expect(marks.slice(0, 4).map(({ atS }) => Math.round(atS * 125))).toEqual(facts.first);
    expect(Math.round(marks.at(-1)!.atS * 125)).toBe(facts.last);
    // This one states its own resolution, 500 a second beside 125 frames.
    const high = readFacts<AbpFacts>('abp-ecg').records['03700181']!.ecgBeats_gqrsh!;
    const fine = open(join(DATA, 'abp-ecg', '03700181.hea'), undefined, 'gqrsh').marks;
    expect([fine.length, ...fine.slice(0, 4).map(({ atS }) => Math.round(atS * 500)), Math.round(fine.at(-1)!.atS * 500)]).toEqual([high.beats, ...high.first, high.last]);
  });

  test.each(['100', '104', '108', '231'])('ecg-conduction %s: values and checksum', (name) => {
    const facts = readFacts<EcgFacts>('ecg-conduction').records[name]!;
    const recording = open(join(DATA, 'ecg-conduction', `${name}.hea`));
    expect(recording.findings).toEqual([]);
    for (const [i, signal] of facts.signals.entries()) {
      const { samples, kind, samplesPerS } = recording.channels[i]!;
      expect([samples.length, kind, samplesPerS]).toEqual([facts.samples, 'ecg', 360]);
      const { low, high } = measure(samples);
      for (const [value, stored] of [[samples[0]!, signal.first], [samples[100_000]!, signal.atSample100000], [samples[500_000]!, signal.atSample500000], [low, signal.min], [high, signal.max]] as const) {
        expectWithin(value, (stored - signal.baseline) / signal.gainPerMv, { relative: 2 ** -23, absolute: 1e-6, from: 'float32' });
      }
    }
  });

  test('ecg-conduction 100: the cardiologists\' beats', () => {
    const facts = readFacts<EcgFacts>('ecg-conduction').records['100']!.annotations!;
    const { marks } = open(join(DATA, 'ecg-conduction', '100.hea'));
    expect(marks.length).toBe(facts.total);
    const counts: Record<string, number> = {};
    for (const { code } of marks) counts[code] = (counts[code] ?? 0) + 1;
    expect(counts).toEqual(facts.counts);
    const beats = marks.filter(({ code }) => code !== '+').map(({ atS }) => Math.round(atS * 360));
    expect([beats.slice(0, 5), beats.at(-1)]).toEqual([facts.firstBeats, facts.lastBeat]);
  });

  test.each(['ecg_12lead', 'hemodynamic_waveform_deflated'])('dicom-torture %s', (name) => {
    const all = readFacts<TortureFacts & Record<string, unknown>>('dicom-torture');
    const entry = Object.values(all).flatMap((part) => (typeof part === 'object' && part !== null ? Object.entries(part) : [])).find(([key]) => key === `waveform/${name}.dcm`)?.[1] as { waveforms: { channels: number; samples: number; fs: number; labels: string[] }[] };
    const [facts] = entry.waveforms;
    const recording = open(join(DATA, 'dicom-torture', 'waveform', `${name}.dcm`));
    expect(recording.channels.map(({ label, kind, unit, samplesPerS, samples }) => [label, kind, unit, samplesPerS, samples.length])).toEqual(facts!.labels.map((label) => [label, 'ecg', 'mV', facts!.fs, facts!.samples]));
    // Einthoven: I + III = II, and the augmented leads cancel. A wrong order of samples or a wrong scale would not.
    const [one, two, three, avr, avl, avf] = recording.channels;
    const [gap, sum] = [new Float32Array(facts!.samples), new Float32Array(facts!.samples)];
    for (let i = 0; i < facts!.samples; i++) {
      gap[i] = one!.samples[i]! + three!.samples[i]! - two!.samples[i]!;
      sum[i] = avr!.samples[i]! + avl!.samples[i]! + avf!.samples[i]!;
    }
    const [low, high] = [Math.min(measure(gap).low, measure(sum).low), Math.max(measure(gap).high, measure(sum).high)];
    expectWithin(Math.max(-low, high), 0, { relative: 0, absolute: name === 'ecg_12lead' ? 0.006 : 0.012, from: 'each lead is rounded to its step (1.25 uV, 1.22 uV) and filtered on its own' });
  });

  test('no header remark and no patient reaches the answer', () => {
    const text = JSON.stringify({ ...open(join(DATA, 'ecg-conduction', '108.hea')), channels: [] });
    expect(text).not.toMatch(/Digoxin|87 F/);
    expect(readOutside('ecg-conduction/108.hea').length).toBeGreaterThan(0);
  });
});

describe('readRecording', () => {
  test('the signal file, or the record\'s bare name, stands for the header', () => {
    for (const path of ['f16.hea', 'f16.dat', 'f16', 'f16.atr']) expect(open(join(OWN, path)).marks.length, path).toBe(3);
  });

  test('CSV with channels named by a person', () => {
    const path = join(scratch, 'a.csv');
    writeFileSync(path, `time (s),P1,P2\n${Array.from({ length: 100 }, (_, i) => `${i / 100},${80 + (i % 9)},${i % 7}`).join('\n')}\n`);
    expect(open(path, 'P1=ao:mmHg,P2=lv:kPa').channels.map(({ kind }) => kind)).toEqual(['aortic', 'ventricular']);
    expect(refuse(path, 'P9=ao')).toBe('channel-unknown');
    expect(refuse(path, 'nonsense')).toBe('channel-choice-invalid');
  });

  test('refuses a folder, a path that is not there, a header without its files', () => {
    expect(refuse(scratch)).toBe('not-a-file');
    expect(refuse(join(scratch, 'none.csv'))).toBe('file-not-readable');
    writeFileSync(join(scratch, 'lonely.hea'), 'lonely 1 100 10\nlonely.dat 16 10/mmHg 12 0 0 0 0 AO\n');
    expect(refuse(join(scratch, 'lonely.hea'))).toBe('wfdb-file-missing');
  });

  test('a header that names itself as its segment ends', () => {
    writeFileSync(join(scratch, 'loop.hea'), 'loop/1 1 100 10\nloop 10\n');
    expect(refuse(join(scratch, 'loop.hea'))).toBe('wfdb-segments-differ');
  });
});
