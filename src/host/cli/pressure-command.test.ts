import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { detectQrs } from '../../core/haemodynamics/detect-qrs.ts';
import type { PressureAnswer } from '../../core/haemodynamics/pressure-types.ts';
import { readBeats } from '../../core/haemodynamics/read-beats.ts';
import { readTrack } from '../../core/haemodynamics/read-track.ts';
import type { Recording } from '../../core/haemodynamics/recording-types.ts';
import { drawRecording, GOOD_LINE } from '../../core/phantom/draw-line.ts';
import { PLAIN_CIRCULATION, simulateCirculation } from '../../core/phantom/simulate-circulation.ts';
import { parseWfdbAnnotations } from '../../formats/waveform/parse-wfdb-annotations.ts';
import { readRecording } from '../recordings/read-recording.ts';
import { EXIT } from './exit-codes.ts';
import { runPressureCommand, type PressureOptions } from './pressure-command.ts';

const DATA = fileURLToPath(new URL('../../../../shared/data', import.meta.url));
const hasData = existsSync(join(DATA, 'abp-ecg'));
let dir = '';
beforeAll(() => void (dir = mkdtempSync(join(tmpdir(), 'pressure-'))));
afterAll(() => rmSync(dir, { recursive: true, force: true }));

async function run(options: PressureOptions): Promise<{ readonly code: number; readonly out: string; readonly err: string }> {
  let [out, err] = ['', ''];
  const code = await runPressureCommand(options, { out: (t) => void (out += t), err: (t) => void (err += t), isTerminal: false });
  return { code, out, err };
}
async function* feed(text: string, size: number): AsyncGenerator<Uint8Array> {
  const bytes = new TextEncoder().encode(text);
  for (let i = 0; i < bytes.length; i += size) yield bytes.slice(i, i + size);
}
function writeCsv(r: Recording, scale = 1, unit = 'mmHg'): string {
  const [ao, lv] = r.channels;
  return `time [s],AO [${unit}],LV [${unit}]\n${Array.from(ao!.samples, (p, i) => `${(i / 250).toFixed(3)},${(p * scale).toFixed(3)},${(lv!.samples[i]! * scale).toFixed(3)}`).join('\n')}\n`;
}
const drawn = (leakAreaCm2: number, s: number): Recording => drawRecording(simulateCirculation({ ...PLAIN_CIRCULATION, leakAreaCm2 }, 20, 250, s), { aortic: GOOD_LINE, ventricular: GOOD_LINE }, 1);
const load = (...names: string[]): Recording => {
  const r = readRecording(join(DATA, ...names));
  if (!r.ok) throw new Error(r.failure.code);
  return r.value;
};
/** Beats of one list that have one of the other within the tolerance, one to one; times in s, ascending. */
function computeF1(found: readonly number[], wanted: readonly number[], toleranceS: number): number {
  let [k, hits] = [0, 0];
  for (const t of wanted) {
    while (k < found.length && found[k]! < t - toleranceS) k++;
    if (k < found.length && found[k]! <= t + toleranceS) [k, hits] = [k + 1, hits + 1];
  }
  return (2 * hits) / (found.length + wanted.length);
}

describe('trinadir pressure', () => {
  test('a recording of one pressure says why no index is given, and what to record', async () => {
    const path = join(dir, 'aorta-alone.csv');
    writeFileSync(path, writeCsv(drawn(0.1, 5)).split('\n').map((line) => line.split(',').slice(0, 2).join(',')).join('\n'));
    const { code, out } = await run({ path });
    expect(code).toBe(EXIT.answered);
    expect(out).toContain('Doubt   The recording has no ventricular pressure: no gradient and no leak index.\n');
    expect(out).toContain('Next    Record aortic and ventricular pressure together.\n');
  });
  test('a CSV in kPa with a baseline, output and breathing gives every number', async () => {
    const [after, before] = [join(dir, 'after.csv'), join(dir, 'before.csv')];
    writeFileSync(after, writeCsv(drawn(0.2, 3), 0.133322, 'kPa'));
    writeFileSync(before, writeCsv(drawn(0, 4)));
    const { code, out, err } = await run({ path: after, baseline: before, output: 4.2, breathing: 'ventilated', json: true });
    expect([code, err]).toEqual([EXIT.answered, '']);
    const a = JSON.parse(out) as PressureAnswer;
    expect(a.format).toBe('trinadir.pressure/1');
    expect(a.leak.arIndexRatio.value!).toBeGreaterThan(0.3);
    expect(a.leak.arIndexRatio.value!).toBeLessThan(0.8);
    for (const fact of [a.aortic.systolic, a.ventricular.endDiastolicAtExpiration, a.gradients.meanMmHg, a.area.gorlinCm2, a.rhythm.ratePerMin, a.beats[3]!.arIndex]) {
      expect(fact).toMatchObject({ value: expect.any(Number) as number, low: expect.any(Number) as number, source: { kind: 'computed' } });
    }
    const human = await run({ path: after, output: 4.2 });
    for (const word of ['Answer', 'Gradient', 'Leak', 'Rhythm', 'Doubt', 'Next', 'Area']) expect(human.out).toContain(word);
  });
  test('a stream is answered beat by beat, whatever its pieces, and equals the recording', async () => {
    const text = writeCsv(drawn(0.1, 5));
    const path = join(dir, 'stream.csv');
    writeFileSync(path, text);
    const whole = JSON.parse((await run({ path, json: true })).out) as PressureAnswer;
    const outs = await Promise.all([7000, 333, 1 << 20].map((size) => run({ path: '-', json: true, input: feed(text, size) })));
    expect(outs.map((o) => o.code)).toEqual([EXIT.answered, EXIT.answered, EXIT.answered]);
    const lines = outs[0]!.out.trim().split('\n').map((line) => JSON.parse(line) as { t: number; format: string; over: PressureAnswer });
    expect(lines.length).toBeGreaterThanOrEqual(whole.beats.length - 1);
    expect(lines[0]!.format).toBe('trinadir.pressure-beat/1');
    const atOf = (out: string): number[] => out.trim().split('\n').map((line) => (JSON.parse(line) as { t: number }).t);
    expect(atOf(outs[1]!.out)).toEqual(atOf(outs[0]!.out));
    expect(atOf(outs[2]!.out)).toEqual(atOf(outs[0]!.out));
    expectWithin(lines.at(-1)!.over.leak.arIndex.value!, whole.leak.arIndex.value!, { relative: 0, absolute: 1, from: 'one beat less' });
    expect((await run({ path: '-', input: feed(text, 4096) })).out.split('\n')[4]).toMatch(/s {2}Ao \d+\/\d+ \(\d+\) {2}LV \d+/);
  });
  test('what cannot be read is refused with a code, nothing is written', async () => {
    const path = join(dir, 'odd.csv');
    writeFileSync(path, 'time [s],II [mV]\n0,0.1\n0.004,0.2\n0.008,0.1\n');
    expect(await run({ path, json: true })).toMatchObject({ code: EXIT.refused, out: '' });
    const none = await run({ path: join(dir, 'none.csv'), json: true });
    expect([none.code, JSON.parse(none.err)]).toMatchObject([EXIT.refused, { error: { code: 'file-not-readable', where: 'pressure' } }]);
    expect((await run({ path: '-', baseline: path, input: feed('', 1) })).code).toBe(EXIT.usage);
    expect((await run({ path: '-', channels: 'AO=heart', input: feed('', 1) })).code).toBe(EXIT.usage);
    const back = 'time [s],AO [mmHg]\n' + Array.from({ length: 600 }, (_, i) => `${i < 400 ? i / 250 : (i - 300) / 250},${90 + (i % 50)}`).join('\n');
    expect(JSON.parse((await run({ path: '-', json: true, input: feed(back, 1000) })).err.trim().split('\n').at(-1)!)).toMatchObject({ error: { code: 'time-goes-back' } });
    expect((await run({ path: '-', json: true, input: feed('time [s],AO [mmHg]\n0,80\n0.004,80\n', 10) })).code).toBe(EXIT.refused);
  });
  test('a flat line is an answer of refusals and exit 3', async () => {
    const path = join(dir, 'flat.csv');
    writeFileSync(path, `time [s],AO [mmHg]\n${Array.from({ length: 3000 }, (_, i) => `${(i / 250).toFixed(3)},82`).join('\n')}\n`);
    const { code, out } = await run({ path, json: true });
    const a = JSON.parse(out) as PressureAnswer;
    expect([code, a.quality.map((q) => q.code)]).toEqual([EXIT.refused, ['pressure-flat', 'no-beats']]);
  });
});

test('the real recordings are there when the run must be whole', () => {
  const isRequired = (process.env['CI'] ?? '') !== '';
  expect(hasData || !isRequired).toBe(true);
});

describe.skipIf(!hasData)('real recordings (shared data)', () => {
  const facts = hasData ? (JSON.parse(readFileSync(join(DATA, 'abp-ecg', 'facts.json'), 'utf8')) as { records: Record<string, { abpOwnReading: { medianSystolic: number; medianDiastolic: number; meanPressure: number; ratePerMin: number; pulses: number } }> }) : { records: {} };

  test.each(['03700181.hea', '041s.hea'])('arterial pressure of %s within 2 mmHg and 2 a minute of the independent reading', async (file) => {
    const { out, code } = await run({ path: join(DATA, 'abp-ecg', file), json: true });
    const a = JSON.parse(out) as PressureAnswer;
    const wanted = facts.records[file === '041s.hea' ? '041s01' : '03700181']!.abpOwnReading;
    const near = { relative: 0, absolute: 2, from: 'tolerance that comes with the data' };
    expect(code).toBe(EXIT.answered);
    expectWithin(a.aortic.systolic.value!, wanted.medianSystolic, near);
    expectWithin(a.aortic.diastolic.value!, wanted.medianDiastolic, near);
    expectWithin(a.aortic.mean.value!, wanted.meanPressure, near);
    expectWithin(a.rhythm.ratePerMin.value!, wanted.ratePerMin, near);
    expect([a.leak.arIndex.value, a.gradients.how]).toEqual([null, 'none']);
  });
  test('pulses of 10 minutes against R peaks of the ECG: F1 at least 0.98; of the beats of each open detector at least 98 % have a pulse', () => {
    const r = load('abp-ecg', '03700181.hea');
    const { beats, rAtS } = readBeats(readTrack(r));
    const feet = beats.map((b) => b.atS);
    expectWithin(feet.length, facts.records['03700181']!.abpOwnReading.pulses, { relative: 0.01, absolute: 0, from: 'begin, end and disturbed beats' });
    // The foot follows the R peak by 0.20 s at the wrist.
    expect(computeF1(feet.map((t) => t - 0.2), rAtS, 0.08)).toBeGreaterThanOrEqual(0.98);
    // Lists of open detectors, not experts: they miss beats, so their beats must have a pulse, not each pulse a beat.
    for (const [annotator, samplesPerS] of [['gqrsh', 500], ['gqrsl', 125], ['sqrs', 250]] as const) {
      const { marks } = parseWfdbAnnotations(new Uint8Array(readFileSync(join(DATA, 'abp-ecg', `03700181.${annotator}`))), samplesPerS);
      const seen = marks.filter((m) => feet.some((t) => Math.abs(t - 0.22 - m.atS) < 0.12)).length;
      expect(seen / marks.length, annotator).toBeGreaterThanOrEqual(0.98);
    }
  });
  test.each([['100', 0.98], ['104', 0.98], ['108', 0.98]] as const)('R peaks of record %s against its reference beats: F1 at least 0.98', (record, least) => {
    const r = load('ecg-conduction', `${record}.hea`);
    const lead = r.channels[0]!;
    const found = detectQrs(Float64Array.from(lead.samples), lead.samplesPerS).map((i) => i / lead.samplesPerS);
    const csv = join(DATA, 'ecg-conduction', `${record}_reference_beats.csv`);
    const wanted = existsSync(csv)
      ? readFileSync(csv, 'utf8').trim().split('\n').slice(1).map((line) => Number(line.split(',')[1]) / 360)
      : r.marks.filter((m) => /^[NLRAaJSVFejEfQ/!B]$/.test(m.code)).map((m) => m.atS);
    expect(wanted.length).toBeGreaterThan(1700);
    expect(computeF1(found, wanted, 0.15)).toBeGreaterThanOrEqual(least); // 150 ms: the usual window of beat comparison
    expect(computeF1(found, wanted, 0.08)).toBeGreaterThanOrEqual(least - 0.005);
  });
});
