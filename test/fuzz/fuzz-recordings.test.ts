import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { makeCsvFeed } from '../../src/formats/waveform/make-csv-feed.ts';
import { parseRecording } from '../../src/formats/waveform/parse-recording.ts';
import type { NamedBytes } from '../../src/formats/waveform/waveform-types.ts';
import { seed } from '../support/seed.ts';
import { makeDraw, makeMemoryWatch, mutateBytes } from './mutate-bytes.ts';

const ROUNDS = Number(process.env['FUZZ_ROUNDS'] ?? 520);
const CODE_FORM = /^[a-z0-9]+(-[a-z0-9]+)+$/;
const MEMORY_BOUND_MB = 768;

const FOLDER = new URL('../reference/recordings/', import.meta.url);
const load = (name: string): Uint8Array => new Uint8Array(readFileSync(new URL(name, FOLDER)));
const files = (...names: string[]): NamedBytes[] => names.map((name) => ({ name, bytes: load(name) }));
const csv = (separator: string, decimal: string): Uint8Array =>
  new TextEncoder().encode(`time (s)${separator}AO (mmHg)${separator}LV (kPa)\n${Array.from({ length: 60 }, (_, i) => [i / 250, 80 + i / 7, 3 + i / 9].map((v) => v.toFixed(3).replace('.', decimal)).join(separator)).join('\n')}\n`);

function take(bytes: Uint8Array, name: string, companions: readonly NamedBytes[]): string {
  const result = parseRecording(bytes, name, companions);
  if (!result.ok) return result.failure.code;
  const { channels, durationS, marks, findings } = result.value;
  // What is read is sound: kinds with their units, lengths within the recording, no infinite value.
  for (const { kind, unit, samplesPerS, startS, samples } of channels) {
    if (kind !== 'other' && unit !== (kind === 'ecg' ? 'mV' : 'mm[Hg]')) return `${kind} in ${unit}`;
    if (!(samplesPerS > 0 && startS >= 0 && startS + samples.length / samplesPerS <= durationS + 1 / samplesPerS + 1e-6)) return `Channel of ${startS} s and ${samples.length} samples in ${durationS} s`;
    for (const value of samples) if (value === Infinity || value === -Infinity) return 'Infinite sample';
  }
  if (marks.some(({ atS }) => !Number.isFinite(atS))) return 'Mark without a time';
  for (const { code } of findings) if (!CODE_FORM.test(code)) return `Finding ${code}`;
  return 'ok';
}

const subjects: readonly (readonly [string, string, readonly NamedBytes[], number])[] = [
  ['DICOM explicit', 'hemodynamic-explicit.dcm', [], 1500],
  ['DICOM implicit', 'hemodynamic-implicit.dcm', [], 1500],
  ['DICOM groups', 'groups-in-time.dcm', [], 1500],
  ['EDF+C', 'continuous.edf', [], 1024],
  ['EDF+D', 'interrupted.edf', [], 1024],
  ['WFDB header', 'f212.hea', files('f212.dat'), 300],
  ['WFDB segments', 'v.hea', files('v_0.hea', 'v_1.hea', 'v_2.hea', 'v_1.dat', 'v_2.dat'), 300],
];

describe(`recordings, damaged (seed ${seed})`, () => {
  test.each(subjects)('%s: every damaged copy is read soundly or refused with a code', (name, file, companions, hotBytes) => {
    fuzz(name, load(file), (bytes) => take(bytes, file, companions), hotBytes);
  });
  test.each([[',', '.'], [';', ','], ['\t', '.']])('CSV parted by %j', (separator, decimal) => {
    fuzz(`CSV ${separator}`, csv(separator, decimal), (bytes) => take(bytes, 'a.csv', []), 60);
  });
  test.each(['f8', 'f310', 'f212'])('%s: damaged signal file and annotations under a sound header', (record) => {
    const header = load(`${record}.hea`);
    const data = files(...(record === 'f8' ? ['f8a.dat', 'f8b.dat'] : [`${record}.dat`]));
    const marks = load('f16.atr');
    fuzz(record, data[0]!.bytes, (bytes) => take(header, `${record}.hea`, [{ name: data[0]!.name, bytes }, ...data.slice(1), { name: `${record}.atr`, bytes: mutateBytes(marks, makeDraw(seed, bytes.length)) }]), 300, 1);
  });
  test('a damaged stream is read or ends with a code that stays', () => {
    fuzz('CSV stream', csv(',', '.'), (bytes) => {
      const feed = makeCsvFeed();
      let places = 0;
      for (let at = 0; at < bytes.length; at += 97) {
        const part = feed.append(bytes.subarray(at, at + 97));
        if (!part.ok) return part.failure.code;
        if (part.value !== null && part.value.place !== places) return 'Parts with a hole';
        places += part.value?.samples[0]?.length ?? 0;
      }
      const last = feed.end();
      return last.ok ? 'ok' : last.failure.code;
    }, 60);
  });
});

function fuzz(name: string, original: Uint8Array, run: (bytes: Uint8Array) => string, hotBytes: number, fewestOutcomes = 3): void {
  expect(run(original), `${name}, undamaged`).toBe('ok');
  const watch = makeMemoryWatch();
  const outcomes = new Set<string>();
  for (let index = 0; index < ROUNDS; index++) {
    const outcome = run(mutateBytes(original, makeDraw(seed, index), hotBytes));
    if (outcome !== 'ok') expect(outcome, `file ${index} of ${name}`).toMatch(CODE_FORM);
    outcomes.add(outcome);
    if (index % 64 === 0) watch.sample();
  }
  watch.sample();
  expect(outcomes.size).toBeGreaterThanOrEqual(fewestOutcomes);
  expect(watch.peakMb()).toBeLessThan(MEMORY_BOUND_MB);
}
