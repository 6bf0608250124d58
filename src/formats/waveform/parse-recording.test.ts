import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import type { Recording } from '../../core/haemodynamics/recording-types.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { parseChannelMap } from './parse-channel-map.ts';
import { readRecordingIdentity } from './parse-dicom-recording.ts';
import { listCompanions, parseRecording } from './parse-recording.ts';
import { computeWaveformValue } from './read-dicom-waveform.ts';
import type { NamedBytes, RecordingOptions } from './waveform-types.ts';
import { WFDB_STORAGES } from './wfdb-types.ts';

// Written by test/reference/recordings/make-recordings.py (pydicom, own packing of EDF and WFDB; BioSig reads them back).
const FOLDER = new URL('../../../test/reference/recordings/', import.meta.url);
const load = (name: string): Uint8Array => new Uint8Array(readFileSync(new URL(name, FOLDER)));
const EXPECTED = JSON.parse(readFileSync(new URL('expected.json', FOLDER), 'utf8')) as {
  hemodynamic: { ao: number[]; lv: (number | null)[]; ecgMv: number[] };
  kpa: number[];
  edf: { ao: number[]; ecgMv: number[] };
  wfdb: Record<string, { ao: number[]; ecgMv: number[] }>;
};
const STORED = { relative: 2 ** -23, absolute: 1e-6, from: 'samples are kept in float32: half a unit of 24 bits, twice' };

function gather(name: string, depth = 0): NamedBytes[] {
  if (depth > 2) return [];
  return listCompanions(load(name), name).flatMap((each) => {
    try {
      return [{ name: each, bytes: load(each) }, ...(each.endsWith('.hea') ? gather(each, depth + 1) : [])];
    } catch {
      return []; // annotations that a record does not have
    }
  });
}
function open(name: string, options: RecordingOptions = {}, change: (bytes: Uint8Array) => Uint8Array = (b) => b): Recording {
  const result = parseRecording(change(load(name)), name, gather(name), options);
  if (!result.ok) throw new Error(result.failure.code + result.failure.message);
  return result.value;
}
function refuse(bytes: Uint8Array, name: string, companions: readonly NamedBytes[] = []): string {
  const result = parseRecording(bytes, name, companions);
  return result.ok ? 'read' : result.failure.code;
}
function expectSamples(actual: Float32Array, wanted: readonly (number | null)[]): void {
  expect(actual.length).toBe(wanted.length);
  for (const [i, value] of wanted.entries()) {
    if (value === null) expect(actual[i]).toBeNaN();
    else expectWithin(actual[i]!, value, STORED);
  }
}
const codes = (recording: Recording): readonly string[] => recording.findings.map(({ code }) => code);

describe('parseRecording, DICOM', () => {
  test('HD-25 [V]: 1200 x 0.05 x 1.02 - 10 is 51.2 mmHg', () => {
    expectWithin(computeWaveformValue(1200, 0.05, 1.02, -10), 51.2, { relative: 0, absolute: 1e-9, from: 'checks HD-25' });
    expectWithin(open('hemodynamic-explicit.dcm').channels[0]!.samples[0]!, 51.2, STORED);
  });

  test.each(['hemodynamic-explicit.dcm', 'hemodynamic-implicit.dcm', 'hemodynamic-big.dcm'])('%s: values, skews, padding and marks as pydicom wrote them', (name) => {
    const recording = open(name);
    const [ao, lv, ecg] = recording.channels;
    expect(recording.channels.map(({ kind, unit, samplesPerS }) => [kind, unit, samplesPerS])).toEqual([['aortic', 'mm[Hg]', 240], ['ventricular', 'mm[Hg]', 240], ['ecg', 'mV', 480]]);
    expectSamples(ao!.samples, EXPECTED.hemodynamic.ao);
    expectSamples(lv!.samples, EXPECTED.hemodynamic.lv);
    expectSamples(ecg!.samples, EXPECTED.hemodynamic.ecgMv);
    // Time skew 2 ms; group offset 100 ms and sample skew 3 at 480 per second.
    expect([ao!.startS, lv!.startS]).toEqual([0, 0.002]);
    expectWithin(ecg!.startS, 0.10625, { relative: 0, absolute: 1e-12, from: 'sums of two numbers' });
    expect(recording.marks.map(({ code }) => code)).toEqual(['R wave', 'R wave']);
    expectWithin(recording.marks[1]!.atS, 0.1 + 96 / 480, { relative: 0, absolute: 1e-12, from: 'sample positions count from 1' });
    expect(recording.startedAt).toBe('2024-02-29T23:59:59.500');
    expect(codes(recording)).toEqual(['samples-missing']);
  });

  test('kPa becomes mmHg; a channel without sensitivity has no unit and is not read', () => {
    const [pressure, unknown] = open('kpa-8-bit.dcm').channels;
    expectSamples(pressure!.samples, EXPECTED.kpa);
    expect([pressure!.kind, pressure!.unit, unknown!.kind, unknown!.unit]).toEqual(['aortic', 'mm[Hg]', 'other', 'unscaled']);
  });

  test('groups one after another become one recording with gaps', () => {
    const [lv] = open('groups-in-time.dcm').channels;
    expect(lv!.samples.length).toBe(80);
    expect(lv!.samples[25]).toBeNaN();
    expectWithin(lv!.samples[30]!, 10, STORED);
  });

  test('identity is there for the comparison with the case, and nowhere in the recording', () => {
    expect(readRecordingIdentity(load('hemodynamic-explicit.dcm'))?.patientId).toBe('T1');
    expect(JSON.stringify(open('hemodynamic-explicit.dcm'))).not.toMatch(/TEST|T1/);
    expect(readRecordingIdentity(load('f16.hea'))).toBeNull();
  });

  test('refuses what cannot be read, by name', () => {
    const whole = load('hemodynamic-explicit.dcm');
    expect(refuse(whole.subarray(0, whole.length - 200), 'a.dcm')).toBe('file-truncated');
    const find = (bytes: readonly number[]): number => whole.findIndex((_, i) => bytes.every((byte, k) => whole[i + k] === byte));
    const change = (at: number, ...bytes: number[]): Uint8Array => {
      const copy = whole.slice();
      copy.set(bytes, at);
      return copy;
    };
    const samples = find([0x3a, 0, 0x10, 0, 0x55, 0x4c, 4, 0]) + 8;
    expect(refuse(change(samples, 255, 255, 255, 0), 'a.dcm')).toBe('waveform-data-short');
    expect(refuse(change(samples, 255, 255, 255, 255), 'a.dcm')).toBe('recording-too-large');
    expect(refuse(change(samples, 0, 0, 0, 0), 'a.dcm')).toBe('waveform-header-broken');
    const interpretation = find([0, 0x54, 6, 0x10, 0x43, 0x53, 2, 0]) + 8;
    expect(refuse(change(interpretation, 0x4d, 0x42), 'a.dcm')).toBe('waveform-format-unsupported'); // mu-law
    const sensitivity = find([0x3a, 0, 0x10, 2, 0x44, 0x53, 4, 0]) + 8;
    expect(refuse(change(sensitivity, 0x30, 0x30, 0x30, 0x30), 'a.dcm')).toBe('waveform-header-broken');
    const channels = find([0x3a, 0, 5, 0, 0x55, 0x53, 2, 0]) + 8;
    expect(refuse(change(channels, 1, 0), 'a.dcm')).toBe('waveform-header-broken');
    expect(refuse(change(channels, 255, 255), 'a.dcm')).toBe('channels-too-many');
  });
});

describe('parseRecording, EDF', () => {
  test('EDF+C: values, start with its fraction, marks; words of the patient field stay out', () => {
    const recording = open('continuous.edf');
    const [ao, ecg] = recording.channels;
    expect([ao!.kind, ao!.samplesPerS, ecg!.kind, ecg!.unit, ecg!.samplesPerS]).toEqual(['aortic', 200, 'ecg', 'mV', 400]);
    expectSamples(ao!.samples, EXPECTED.edf.ao);
    expectSamples(ecg!.samples, EXPECTED.edf.ecgMv);
    expect(recording.startedAt).toBe('2024-02-29T23:59:58.500');
    expect(recording.marks.map(({ code }) => code)).toEqual(['balloon', 'remark']);
    expectWithin(recording.marks[0]!.atS, 0.125, { relative: 0, absolute: 1e-12, from: 'a difference of two numbers' });
    expect(JSON.stringify(recording)).not.toMatch(/Jane|Doe|T1/);
    expect(codes(recording)).toEqual(['annotation-left-out']);
  });

  test('EDF+D: the pause is a gap, and what follows lies where its time says', () => {
    const recording = open('interrupted.edf');
    const [ao] = recording.channels;
    expect(recording.durationS).toBe(1.5);
    expect(ao!.samples.length).toBe(300);
    expectSamples(ao!.samples.slice(0, 100), EXPECTED.edf.ao.slice(0, 100));
    expect(ao!.samples.slice(100, 200).every((v) => Number.isNaN(v))).toBe(true);
    expectSamples(ao!.samples.slice(200), EXPECTED.edf.ao.slice(100));
    expect(codes(recording)).toContain('recording-gaps');
    expect(recording.marks).toEqual([{ atS: 1.05, code: 'again' }]);
  });

  test('a cut file is read as far as it is whole, and named', () => {
    const recording = open('continuous.edf', {}, (bytes) => bytes.slice(0, bytes.length - 10));
    expect(recording.channels[0]!.samples.length).toBe(150);
    expect(codes(recording)).toContain('recording-cut');
  });

  test('refuses time that goes back, ranges without a scale, negative and huge counts', () => {
    const field = (at: number, text: string): Uint8Array => {
      const bytes = load('continuous.edf');
      bytes.set(new TextEncoder().encode(text.padEnd(8)), at);
      return bytes;
    };
    expect(refuse(load('backward.edf'), 'a.edf')).toBe('time-goes-back');
    expect(refuse(field(256 + 3 * 104, '350'), 'a.edf')).toBe('edf-scale-invalid'); // physical minimum = maximum
    expect(refuse(field(256 + 3 * 120, 'NaN'), 'a.edf')).toBe('edf-scale-invalid');
    expect(refuse(field(236, '-5'), 'a.edf')).toBe('edf-header-broken');
    expect(refuse(field(256 + 3 * 216, '-1'), 'a.edf')).toBe('edf-header-broken');
    expect(refuse(field(256 + 3 * 216, '99999999'), 'a.edf')).toBe('edf-header-broken');
    expect(refuse(field(184, '9999'), 'a.edf')).toBe('edf-header-broken');
    expect(refuse(new Uint8Array([255, ...new TextEncoder().encode('BIOSEMI'), ...new Uint8Array(300)]), 'a.bdf')).toBe('edf-24-bit');
  });
});

describe('parseRecording, WFDB', () => {
  test.each(WFDB_STORAGES)('format %i: values, mixed rates, skew, checksum', (storage) => {
    const recording = open(`f${storage}.hea`);
    const { ao, ecgMv } = EXPECTED.wfdb[String(storage)]!;
    expectSamples(recording.channels[0]!.samples, ao);
    expectSamples(recording.channels[1]!.samples, ecgMv);
    expect(recording.channels.map(({ kind, samplesPerS, startS }) => [kind, samplesPerS, startS])).toEqual([['aortic', 100, 0], ['ecg', 200, 0]]);
    expect(recording.startedAt).toBe('2024-02-29T10:11:12.500');
    expect(recording.findings).toEqual([]);
  });

  test('annotations: their own time resolution, a long step, remarks left out', () => {
    expect(open('f16.hea').marks).toEqual([{ atS: 0.01, code: 'N' }, { atS: 0.03, code: 'V' }, { atS: 0.537, code: 'N' }]);
    expect(JSON.stringify(open('f16.hea'))).not.toMatch(/abc|remark|80 F/);
  });

  test('annotations that lie beyond the end do not fit, and none is taken; a file without its end mark is named', () => {
    const files = gather('f16.hea').filter(({ name }) => name !== 'f16.atr');
    // N at 10 and N at 1010 of 101 frames; no zero word at the end.
    const result = parseRecording(load('f16.hea'), 'f16.hea', [...files, { name: 'f16.atr', bytes: Uint8Array.of(10, 4, 0xe8, 7) }]);
    expect(result.ok && [result.value.marks, codes(result.value)]).toEqual([[], ['annotations-cut', 'annotations-beyond-end']]);
  });

  test('a record of unlike segments: signals by name, the gap empty', () => {
    const [lv, ao] = open('v.hea').channels;
    expect([lv!.kind, ao!.kind, ao!.samples.length]).toEqual(['ventricular', 'aortic', 130]);
    expectWithin(ao!.samples[39]!, 3.9, STORED);
    expect(ao!.samples[40]).toBeNaN();
    expectWithin(ao!.samples[90]!, 50, STORED);
    expect(lv!.samples[0]).toBeNaN();
    expectWithin(lv!.samples[90]!, 90, STORED);
  });

  test('one changed sample breaks the checksum, and is named', () => {
    const files = gather('f16.hea').map(({ name, bytes }) => ({ name, bytes: bytes.slice() }));
    files.find(({ name }) => name === 'f16.dat')!.bytes[300]! ^= 1;
    const result = parseRecording(load('f16.hea'), 'f16.hea', files);
    expect(result.ok && codes(result.value)).toEqual(['checksum-differs']);
  });

  test('a short signal file is read as far as it goes, and named', () => {
    const files = gather('f212.hea').map(({ name, bytes }) => ({ name, bytes: bytes.subarray(0, 90) }));
    const result = parseRecording(load('f212.hea'), 'f212.hea', files);
    expect(result.ok && codes(result.value)).toEqual(['recording-cut']);
    expect(result.ok && result.value.channels[0]!.samples.length).toBe(20);
  });

  test('a signal without a gain is no pressure in mmHg; an ECG without one keeps its beats', () => {
    const bytes = new Uint8Array(200);
    const both = parseRecording(new TextEncoder().encode('x 2 100 50\nx.dat 16 0 12 0 0 0 0 AO\nx.dat 16 0 12 0 0 0 0 II\n'), 'x.hea', [{ name: 'x.dat', bytes }]);
    if (!both.ok) throw new Error(both.failure.code);
    expect(both.value.channels.map(({ kind, unit }) => [kind, unit])).toEqual([['other', 'unscaled'], ['ecg', 'mV']]);
    expect(both.value.findings.map(({ code }) => code)).toEqual(expect.arrayContaining(['channel-uncalibrated', 'channel-unit-unsuited']));
  });
  test('refuses a missing file, a name that leads out of the folder, compressed formats, nonsense counts', () => {
    const header = (text: string): Uint8Array => new TextEncoder().encode(text);
    expect(refuse(load('f16.hea'), 'f16.hea')).toBe('wfdb-file-missing');
    expect(refuse(header('x 1 100 10\n../../etc/passwd 16 10/mmHg\n'), 'x.hea')).toBe('wfdb-header-broken');
    expect(refuse(header('x 1 100 10\nx.dat 516 10/mmHg\n'), 'x.hea')).toBe('wfdb-format-unsupported');
    expect(refuse(header('x -1 100 10\n'), 'x.hea')).toBe('wfdb-header-broken');
    expect(refuse(header('x 1 0 10\nx.dat 16\n'), 'x.hea')).toBe('wfdb-header-broken');
    expect(refuse(header('x 999999 100 10\n'), 'x.hea')).toBe('channels-too-many');
    expect(refuse(header('x/2 1 100 10\nx 5\nx 5\n'), 'x.hea', [{ name: 'x.hea', bytes: header('x/2 1 100 10\nx 5\nx 5\n') }])).toBe('wfdb-segments-differ');
    expect(refuse(load('f16.dat'), 'f16.dat')).toBe('recording-format-unknown');
    expect(refuse(new Uint8Array(0), 'empty.csv')).toBe('recording-empty');
  });
});

describe('--channels', () => {
  test('a person\'s word wins over the file\'s, and what held the kind before gives way', () => {
    const choices = parseChannelMap('2=aortic, AO=lv');
    const recording = open('hemodynamic-explicit.dcm', { choices: choices.ok ? choices.value : [] });
    expect(recording.channels.map(({ kind }) => kind)).toEqual(['ventricular', 'aortic', 'ecg']);
    const one = parseChannelMap('2=aortic');
    expect(open('hemodynamic-explicit.dcm', { choices: one.ok ? one.value : [] }).channels.map(({ kind }) => kind)).toEqual(['other', 'aortic', 'ecg']);
  });

  test('refuses a channel that is not there, a kind that is none, a unit that does not fit', () => {
    const unknown = parseRecording(load('continuous.edf'), 'a.edf', [], { choices: [{ channel: 'Wedge', kind: 'aortic', unit: null }] });
    expect(unknown.ok ? '' : unknown.failure.code).toBe('channel-unknown');
    for (const text of ['AO', 'AO=heart', '', 'AO=aortic:mV', '=aortic']) {
      const map = parseChannelMap(text);
      expect(map.ok ? '' : map.failure.code, text).toBe('channel-choice-invalid');
    }
  });
});
