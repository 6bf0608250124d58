import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { traceEnvelope } from '../../core/echo/trace-envelope.ts';
import { traceDistance } from '../../core/echo/trace-line.ts';
import type { TracePoint } from '../../core/echo/trace-region.ts';
import { fail } from '../../core/result.ts';
import { uniformAt } from '../../core/math/random.ts';
import { decodeUltrasoundFrame, type UltrasoundFrame } from './decode-ultrasound.ts';
import type { FrameCodecs } from './dicom-types.ts';
import { readUltrasound, readUltrasoundIdentity, type UltrasoundRun } from './read-ultrasound.ts';

/** Written by make-pictures.py with pydicom. */
const FOLDER = new URL('../../../test/reference/echo/', import.meta.url);
const OUTSIDE = new URL('../../../../shared/data/dicom-torture/', import.meta.url);
const hasOutside = existsSync(OUTSIDE);
const load = (name: string, folder = FOLDER): Uint8Array => new Uint8Array(readFileSync(new URL(name, folder)));
const TRUTH = JSON.parse(readFileSync(new URL('pictures.json', FOLDER), 'utf8')) as { peakMPerS: number; vtiCm: number; meanMmHg: number; durationMs: number; baselineRow: number };
const STAMP = { by: 'test', at: '2026-03-02T10:14:00.000Z' };
const none = () => fail('codec-missing' as const, 'none', 'none');
const CODECS: FrameCodecs = { 'jpeg-lossless': none, 'jpeg-ls': none, 'jpeg-2000': none, htj2k: none };
const read = (bytes: Uint8Array): UltrasoundRun => {
  const result = readUltrasound(bytes);
  if (!result.ok) throw new Error(result.failure.code);
  return result.value;
};
const frameOf = (bytes: Uint8Array, number = 1): UltrasoundFrame => {
  const frame = decodeUltrasoundFrame(bytes, read(bytes), number, CODECS);
  if (!frame.ok) throw new Error(frame.failure.code);
  return frame.value;
};
/** The lower edge of what is drawn, every fourth column of the ejection. */
function markEdge(frame: UltrasoundFrame): readonly TracePoint[] {
  if (frame.kind === 'jpeg') throw new Error('jpeg');
  const step = frame.kind === 'rgb' ? 3 : 1;
  const marks: TracePoint[] = [];
  for (let column = 90; column <= 156; column += 3) {
    let row = TRUTH.baselineRow;
    while (row + 1 < frame.rows && frame.levels[step * ((row + 1) * frame.columns + column)]! > 100) row++;
    marks.push([column, row]);
  }
  return marks;
}

describe('readUltrasound', () => {
  test.each(['us-spectrum.dcm', 'us-spectrum-implicit.dcm', 'us-rgb-planes.dcm'])('%s: an envelope drawn with known size is measured within its band', (name) => {
    const bytes = load(name);
    const run = read(bytes);
    const trace = traceEnvelope(markEdge(frameOf(bytes)), run.regions, STAMP);
    if (!trace.ok) throw new Error(trace.failure.code);
    const { peakVelocity, vti, meanGradient, durationMs } = trace.value;
    for (const [fact, truth] of [[peakVelocity, TRUTH.peakMPerS], [vti, TRUTH.vtiCm], [meanGradient, TRUTH.meanMmHg], [durationMs, TRUTH.durationMs]] as const) {
      expect(fact.low! <= truth && truth <= fact.high!).toBe(true);
      expect(Math.abs(fact.value! - truth) / truth).toBeLessThan(0.03); // whole pixels of 4 cm/s and 5 ms
    }
    expect([run.heartRatePerMin, run.frameCount, run.rows, run.columns]).toEqual([68, 1, 200, 320]);
    if (name === 'us-rgb-planes.dcm') expect(vti.reasons.map((r) => r.code)).toEqual(['angle-corrected']);
  });
  test('colour planes keep their colours', () => {
    const frame = frameOf(load('us-rgb-planes.dcm'));
    if (frame.kind !== 'rgb') throw new Error(frame.kind);
    const at = 3 * (100 * 320 + 123);
    expect([...frame.levels.subarray(at, at + 3)]).toEqual([180, 90, 75]);
  });
  test('a distance in the two-dimensional region', () => {
    const distance = traceDistance([[50, 10], [90, 40]], read(load('us-spectrum.dcm')).regions, STAMP);
    expect(distance.ok && distance.value.value).toBeCloseTo(2.5, 9); // 50 pixels of 0.05 cm
  });
  test.each([['us-no-baseline.dcm', 'region-baseline-missing'], ['us-hertz.dcm', 'region-frequency-scale'], ['us-scaled.dcm', 'region-outside-picture']])('%s is refused by name: %s', (name, code) => {
    const { regions } = read(load(name));
    const points: readonly TracePoint[] = [[90, 130], [100, 160], [110, 170], [120, 160], [130, 130]];
    const trace = traceEnvelope(points, regions, STAMP);
    expect(trace.ok ? 'traced' : trace.failure.code).toBe(code);
  });
  test('a trace that leaves its region, and one in a region of another kind, are refused', () => {
    const { regions } = read(load('us-spectrum.dcm'));
    const code = (points: readonly TracePoint[]): string => {
      const trace = traceEnvelope(points, regions, STAMP);
      return trace.ok ? 'traced' : trace.failure.code;
    };
    expect(code([[90, 80], [100, 160], [310, 170], [315, 160]])).toBe('trace-outside-region');
    expect(code([[90, 20], [100, 30], [110, 40], [120, 20]])).toBe('region-kind');
    expect(code([[90, 100], [100, 160], [95, 170], [120, 100]])).toBe('trace-not-in-time');
    expect(code([[90, 70], [100, 160], [110, 170], [120, 62]])).toBe('trace-crosses-baseline');
    expect(code([[90, 100], [100, 160]])).toBe('trace-too-short');
  });
  test('who it is of is read apart', () => {
    expect(readUltrasoundIdentity(load('us-spectrum.dcm'))).toMatchObject({ name: 'Invented^Person', patientId: 'T-1' });
    expect(JSON.stringify(read(load('us-spectrum.dcm')))).not.toContain('Invented');
  });
  test('a report is no picture', () => {
    const result = readUltrasound(load('adult-explicit.dcm'));
    expect(result.ok ? 'read' : result.failure.code).toBe('not-ultrasound');
  });
  test('damaged pictures are read soundly or refused with a code (seeded)', () => {
    const bytes = load('us-spectrum-implicit.dcm');
    for (let round = 0; round < 300; round++) {
      const copy = round % 3 === 0 ? bytes.slice(0, Math.floor(uniformAt(7, round, 0) * bytes.length)) : bytes.slice();
      for (let k = 0; k < 4 && copy.length > 0; k++) copy[Math.floor(uniformAt(7, round, 1 + k) * Math.min(2200, copy.length))] = Math.floor(uniformAt(7, round, 9 + k) * 256);
      const result = readUltrasound(copy);
      if (!result.ok) expect(result.failure.code).toMatch(/^[a-z0-9]+(-[a-z0-9]+)+$/);
      else for (const r of result.value.regions) expect(r.fault !== null || (r.box.right <= result.value.columns && r.box.bottom <= result.value.rows && r.deltaX !== 0 && Number.isFinite(r.deltaY))).toBe(true);
    }
  });
});

describe.skipIf(!hasOutside)('outside data', () => {
  const facts = hasOutside ? (JSON.parse(readFileSync(new URL('facts.json', OUTSIDE), 'utf8')) as { files: Record<string, { usRegions: readonly { minX: number; minY: number; maxX: number; maxY: number; deltaX: number; deltaY: number }[]; frames?: number }> }).files : {};
  test.each(['us-regions/us_3regions_rle_palette.dcm', 'us-regions/us_30frames_jpeg_1region.dcm', 'us-regions/echo_8frames_jpeg_baseline_fragmented.dcm'])('%s: regions are those of an independent reader', (name) => {
    const run = read(load(name, OUTSIDE));
    const told = facts[name]!;
    expect(run.regions.map(({ box, deltaX, deltaY }) => ({ minX: box.left, minY: box.top, maxX: box.right, maxY: box.bottom, deltaX, deltaY }))).toEqual(told.usRegions.map(({ minX, minY, maxX, maxY, deltaX, deltaY }) => ({ minX, minY, maxX, maxY, deltaX, deltaY })));
    expect(run.frameCount).toBe(told.frames ?? 1);
  });
  test('a region beyond its picture may not be measured in; one that ends a pixel past the edge may', () => {
    expect(read(load('us-regions/us_30frames_jpeg_1region.dcm', OUTSIDE)).regions[0]!.fault).toBe('region-outside-picture');
    expect(read(load('us-regions/us_3regions_rle_palette.dcm', OUTSIDE)).regions.map((r) => [r.space, r.data, r.fault])).toEqual([['2d', 'tissue', null], ['waveform', 'ecg', 'region-uncalibrated'], ['waveform', 'ecg', 'region-uncalibrated']]);
    expect(read(load('us-regions/echo_8frames_jpeg_baseline_fragmented.dcm', OUTSIDE)).regions.map((r) => r.fault)).toEqual(['region-uncalibrated', null]);
  });
  test('a palette picture is decoded, a JPEG one handed on whole', () => {
    const palette = frameOf(load('us-regions/us_3regions_rle_palette.dcm', OUTSIDE));
    expect([palette.kind, palette.kind === 'rgb' && palette.levels.length]).toEqual(['rgb', 3 * 600 * 800]);
    const bytes = load('us-regions/echo_8frames_jpeg_baseline_fragmented.dcm', OUTSIDE);
    for (const number of [1, 8]) {
      const frame = frameOf(bytes, number);
      if (frame.kind !== 'jpeg') throw new Error(frame.kind);
      expect([frame.bytes[0], frame.bytes[1]]).toEqual([0xff, 0xd8]);
    }
    const past = decodeUltrasoundFrame(bytes, read(bytes), 9, CODECS);
    expect(past.ok ? '' : past.failure.code).toBe('frame-number-invalid');
  });
});
