import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { drawFluoroscopy, type FluoroscopyCamera, type FluoroscopyScene } from '../../core/phantom/draw-fluoroscopy.ts';
import { loadCodecs } from '../../host/jobs/load-codecs.ts';
import { parsePart10 } from './parse-part10.ts';
import { readIdentity } from './read-identity.ts';
import { decodeXaFrame, paintXaFrame, readFrameGeometry, readXa, type XaRun } from './read-xa.ts';
import type { WritableElement } from './write-elements.ts';
import { writePart10, type WriteSyntax } from './write-part10.ts';
import { writeXa } from './write-xa.ts';

const base = mkdtempSync(join(tmpdir(), 'trinadir-xa-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));
const has = (program: string): boolean => spawnSync('sh', ['-c', `command -v ${program}`]).status === 0;
const codecs = await loadCodecs();

const CAMERA: FluoroscopyCamera = { primaryDeg: -12.5, secondaryDeg: 7, sourceToImageMm: 1100, sourceToPatientMm: 750, pixelMm: 0.616, columns: 130, rows: 120, isocentreLps: [0, 0, 10] };
const SCENE: FluoroscopyScene = { nadirsLps: { R: [0, -12, 0], L: [10, 6, 0], N: [-10, 6, 0] }, normalLps: [0, 0, 1], frame: { centreLps: [0, 0, -4], axisLps: [0, 0, 1], inflowRadiusMm: 11.5, outflowRadiusMm: 16, heightMm: 40, cells: 15 }, ballMm: 1.3, ballsAt: ['N'] };
const first = drawFluoroscopy(SCENE, CAMERA, { seed: 1, ratio: 0.6 });
const run12 = new Uint16Array(first.length * 2);
run12.set(first);
run12.set(drawFluoroscopy(SCENE, CAMERA, { seed: 2, ratio: 0.6 }), first.length);
const run8 = Uint8Array.from(run12, (v) => v >> 4);
const LABELS = { seed: 5, runNumber: 3, frameTimeMs: 66.7, description: 'TRAINING fluoroscopy' };

function read(bytes: Uint8Array): XaRun {
  const parsed = parsePart10(bytes);
  if (!parsed.ok) throw new Error(parsed.failure.code);
  const run = readXa(parsed.value);
  if (!run.ok) throw new Error(run.failure.code);
  return run.value;
}
function codeOf(bytes: Uint8Array): string {
  const parsed = parsePart10(bytes);
  if (!parsed.ok) return parsed.failure.code;
  const run = readXa(parsed.value);
  return run.ok ? 'read' : run.failure.code;
}
function frame(bytes: Uint8Array, number: number): number[] {
  const decoded = decodeXaFrame(bytes, read(bytes), number, codecs);
  if (!decoded.ok) throw new Error(decoded.failure.code);
  return [...decoded.value];
}

/** A run of 16 x 16 pixels with the elements named; `null` leaves one out. */
function makeRun(change: Readonly<Record<number, WritableElement | null>>, frames = 3, pixels: Uint16Array | Uint8Array = new Uint16Array(256 * frames)): Uint8Array {
  const us = (tag: number, value: number): WritableElement => ({ tag, vr: 'US', value });
  const ds = (tag: number, value: string | number): WritableElement => ({ tag, vr: 'DS', value });
  const bits = pixels instanceof Uint8Array ? 8 : 16;
  const elements: Record<number, WritableElement | null> = {
    0x00080016: { tag: 0x00080016, vr: 'UI', value: '1.2.840.10008.5.1.4.1.1.12.1' },
    0x00080018: { tag: 0x00080018, vr: 'UI', value: '1.2.3' },
    0x00100020: { tag: 0x00100020, vr: 'LO', value: 'X' },
    0x00181110: ds(0x00181110, 1100), 0x00181111: ds(0x00181111, 750), 0x00181164: ds(0x00181164, '0.308\\0.308'),
    0x00181510: ds(0x00181510, 10), 0x00181511: ds(0x00181511, -5),
    0x00280002: us(0x00280002, 1), 0x00280004: { tag: 0x00280004, vr: 'CS', value: 'MONOCHROME2' }, 0x00280008: { tag: 0x00280008, vr: 'IS', value: frames },
    0x00280010: us(0x00280010, 16), 0x00280011: us(0x00280011, 16), 0x00280100: us(0x00280100, bits), 0x00280101: us(0x00280101, bits === 8 ? 8 : 12), 0x00280102: us(0x00280102, bits === 8 ? 7 : 11), 0x00280103: us(0x00280103, 0),
    ...change,
  };
  return writePart10(Object.values(elements).filter((e): e is WritableElement => e !== null), pixels, frames, { sopClassUid: '1.2.840.10008.5.1.4.1.1.12.1', sopInstanceUid: '1.2.3' }, { kind: 'explicit-little' });
}
const ds = (tag: number, value: string | number): Record<number, WritableElement> => ({ [tag]: { tag, vr: 'DS', value } });

describe('a drawn run comes back as it was', () => {
  const SYNTAXES: readonly WriteSyntax['kind'][] = ['explicit-little', 'implicit-little', 'deflated', 'rle'];
  test.each(SYNTAXES)('12 bit and 8 bit, %s', (kind) => {
    for (const pixels of [run12, run8]) {
      const bytes = writeXa(pixels, CAMERA, LABELS, { kind } as WriteSyntax);
      const size = first.length;
      expect(frame(bytes, 1)).toEqual([...pixels.subarray(0, size)]);
      expect(frame(bytes, 2)).toEqual([...pixels.subarray(size)]);
    }
  });
  test('12 bit, explicit big endian; 8 bit there is refused, since its words may or may not be swapped', () => {
    const bytes = writeXa(run12, CAMERA, LABELS, { kind: 'explicit-big' });
    expect(frame(bytes, 2)).toEqual([...run12.subarray(first.length)]);
    expect(codeOf(writeXa(run8, CAMERA, LABELS, { kind: 'explicit-big' }))).toBe('pixel-format-unsupported');
  });
  test('DX-10: angles, distances, magnification, pixel, times and identity', () => {
    const bytes = writeXa(run12, CAMERA, LABELS);
    const run = read(bytes);
    expect(run).toMatchObject({ rows: 120, columns: 130, frameCount: 2, sourceToImageMm: 1100, sourceToPatientMm: 750, imagerPixelMm: 0.616, patientPosition: 'HFS', frameTimesMs: [0, 66.7], isInverted: false, gaps: [] });
    expect(run.magnification).toBeCloseTo(1100 / 750, 9);
    expect(run.views).toEqual([{ primaryDeg: -12.5, secondaryDeg: 7 }, { primaryDeg: -12.5, secondaryDeg: 7 }]);
    const geometry = readFrameGeometry(run, 2);
    expect(geometry.ok && geometry.value).toEqual({
      view: { primaryDeg: -12.5, secondaryDeg: 7 }, sizePx: { columns: 130, rows: 120 },
      calibration: { by: 'geometry', sourceToImageMm: 1100, sourceToPatientMm: 750, pixelMm: 0.616, pixelAt: 'detector' },
    });
    const parsed = parsePart10(bytes);
    expect(parsed.ok && readIdentity(parsed.value.values).patientId).toBe('TRAINING-5');
  });
  test('a picture for the screen uses the run\'s window, and turns MONOCHROME1', () => {
    const stored = Uint16Array.from([0, 802, 1602, 3200, 4000]);
    const window = { centre: 1600, width: 3200 };
    expect([...paintXaFrame(stored, { window, isInverted: false })]).toEqual([0, 64, 128, 255, 255]);
    expect([...paintXaFrame(stored, { window, isInverted: true })]).toEqual([255, 191, 127, 0, 0]);
    const wide = paintXaFrame(Uint16Array.from({ length: 1000 }, (_, i) => i), { window: null, isInverted: false });
    expect([wide[0], wide[999]]).toEqual([0, 255]);
  });
});

describe('angles of a moving positioner (PS3.3 C.8.7.5.1.3; CT-21)', () => {
  const dynamic = { 0x00181500: { tag: 0x00181500, vr: 'CS', value: 'DYNAMIC' } as WritableElement };
  test('one increment is the mean step per frame', () => {
    const run = read(makeRun({ ...dynamic, ...ds(0x00181520, 2), ...ds(0x00181521, -1) }));
    expect(run.views).toEqual([{ primaryDeg: 10, secondaryDeg: -5 }, { primaryDeg: 12, secondaryDeg: -6 }, { primaryDeg: 14, secondaryDeg: -7 }]);
  });
  test('a vector holds offsets from the stated angle; absolute angles go with a stated angle of 0', () => {
    expect(read(makeRun({ ...dynamic, ...ds(0x00181520, '0\\3\\9'), ...ds(0x00181521, '0\\0\\1') })).views[2]).toEqual({ primaryDeg: 19, secondaryDeg: -4 });
    expect(read(makeRun({ ...dynamic, ...ds(0x00181510, 0), ...ds(0x00181511, 0), ...ds(0x00181520, '-30\\0\\30'), ...ds(0x00181521, '5\\5\\5') })).views[0]).toEqual({ primaryDeg: -30, secondaryDeg: 5 });
  });
  test('a vector of another length leaves all frames but the first without angle', () => {
    const run = read(makeRun({ ...dynamic, ...ds(0x00181520, '0\\3'), ...ds(0x00181521, '0\\0') }));
    expect(run.views).toEqual([{ primaryDeg: 10, secondaryDeg: -5 }, null, null]);
    expect(run.gaps).toContain('angle-increments-unusable');
  });
  test('a frame turned out of range has no angle', () => {
    expect(read(makeRun({ ...dynamic, ...ds(0x00181511, 80), ...ds(0x00181520, 0), ...ds(0x00181521, 20) })).views[1]).toBeNull();
  });
});

describe('what a run lacks is named', () => {
  const geometryCode = (bytes: Uint8Array, number = 1): string => {
    const found = readFrameGeometry(read(bytes), number);
    return found.ok ? 'read' : found.failure.code;
  };
  test('angles: missing, empty or out of range', () => {
    for (const change of [{ 0x00181510: null }, ds(0x00181511, ''), ds(0x00181510, 200)]) {
      const bytes = makeRun(change);
      expect(read(bytes).gaps).toContain('positioner-angles-missing');
      expect(geometryCode(bytes)).toBe('positioner-angles-missing');
    }
  });
  test('scale: neither pixel nor distances; pixels that are not square', () => {
    expect(geometryCode(makeRun({ 0x00181164: null }))).toBe('frame-uncalibrated');
    expect(geometryCode(makeRun({ 0x00181110: null, 0x00181111: null }))).toBe('frame-uncalibrated');
    const oblong = makeRun(ds(0x00181164, '0.308\\0.4'));
    expect(geometryCode(oblong)).toBe('frame-uncalibrated');
    expect(read(oblong).gaps).toContain('pixels-not-square');
    expect(geometryCode(makeRun({}), 4)).toBe('frame-number-invalid');
  });
  test('CT-30: SOD follows from SID and magnification; magnification alone gives the pixel at the isocentre', () => {
    const byRatio = readFrameGeometry(read(makeRun({ 0x00181111: null, ...ds(0x00181114, 1.466667) })), 1);
    expect(byRatio.ok && byRatio.value.calibration.by === 'geometry' && byRatio.value.calibration.sourceToPatientMm).toBeCloseTo(750, 3);
    const alone = readFrameGeometry(read(makeRun({ 0x00181110: null, 0x00181111: null, ...ds(0x00181114, 1.466667) })), 1);
    expect(alone.ok && alone.value.calibration).toMatchObject({ pixelAt: 'isocentre' });
    expect(alone.ok && alone.value.calibration.by === 'geometry' && alone.value.calibration.pixelMm).toBeCloseTo(0.21, 5);
  });
  test('a calibrated pixel spacing serves where the imager\'s is missing, and only when it says how it was calibrated', () => {
    const spacing = { 0x00181164: null, ...ds(0x00280030, '0.2\\0.2') };
    expect(geometryCode(makeRun(spacing))).toBe('frame-uncalibrated');
    const found = readFrameGeometry(read(makeRun({ ...spacing, 0x00280a02: { tag: 0x00280a02, vr: 'CS', value: 'FIDUCIAL' } })), 1);
    expect(found.ok && found.value.calibration).toMatchObject({ pixelMm: 0.2, pixelAt: 'isocentre' });
  });
  test('no patient', () => expect(read(makeRun({ 0x00100020: null })).gaps).toContain('patient-missing'));
});

describe('refuses', () => {
  const us = (tag: number, value: number): Record<number, WritableElement> => ({ [tag]: { tag, vr: 'US', value } });
  const uid = (value: string): Record<number, WritableElement> => ({ 0x00080016: { tag: 0x00080016, vr: 'UI', value } });
  test.each<[string, Uint8Array]>([
    ['not-xa', makeRun(uid('1.2.840.10008.5.1.4.1.1.2'))],
    ['xa-enhanced', makeRun(uid('1.2.840.10008.5.1.4.1.1.12.1.1'))],
    ['not-greyscale', makeRun({ 0x00280004: { tag: 0x00280004, vr: 'CS', value: 'RGB' } })],
    ['image-size-invalid', makeRun(us(0x00280010, 0))],
    ['pixel-format-unsupported', makeRun(us(0x00280101, 4))],
    ['pixel-format-unsupported', makeRun(us(0x00280100, 32))],
    ['too-many-frames', makeRun({ 0x00280008: { tag: 0x00280008, vr: 'IS', value: 400 } })],
    ['too-many-frames', makeRun({ 0x00280008: { tag: 0x00280008, vr: 'IS', value: 0 } })],
  ])('%s', (code, bytes) => expect(codeOf(bytes)).toBe(code));
  test('a file cut within its pixels, and a frame that is not there', () => {
    const bytes = makeRun({});
    const cut = bytes.subarray(0, bytes.length - 700);
    expect(codeOf(cut)).toBe('file-truncated');
    // Of a file that was cut after its header was read, the frames that are whole are given, the last one is not.
    const [first, last] = [1, 3].map((number) => decodeXaFrame(cut, read(bytes), number, codecs));
    expect([first!.ok, !last!.ok && last!.failure.code]).toEqual([true, 'pixel-data-truncated']);
    const beyond = decodeXaFrame(bytes, read(bytes), 4, codecs);
    expect(!beyond.ok && beyond.failure.code).toBe('frame-number-invalid');
  });
});

test(`a damaged run never throws: it is read, or refused with a code (seed ${seed})`, () => {
  const whole = makeRun({ 0x00181500: { tag: 0x00181500, vr: 'CS', value: 'DYNAMIC' }, ...ds(0x00181520, '0\\3\\9'), ...ds(0x00181521, '0\\0\\1') });
  const packed = writeXa(run8, CAMERA, LABELS, { kind: 'rle' });
  fc.assert(fc.property(fc.constantFrom(whole, packed), fc.array(fc.tuple(fc.nat(1400), fc.nat(255)), { minLength: 1, maxLength: 12 }), fc.nat(3000), (bytes, hits, cut) => {
    const damaged = bytes.slice(0, bytes.length - (cut % 3 === 0 ? cut : 0));
    for (const [at, value] of hits) damaged[132 + at] = value;
    const parsed = parsePart10(damaged);
    if (!parsed.ok) return;
    const run = readXa(parsed.value);
    if (!run.ok) return;
    readFrameGeometry(run.value, 1);
    const decoded = decodeXaFrame(damaged, run.value, run.value.frameCount, codecs);
    if (decoded.ok) expect(decoded.value).toHaveLength(run.value.rows * run.value.columns);
  }), { ...replay, numRuns: 300 });
});

describe('independent programs', () => {
  const file = join(base, 'run.dcm');
  const hasPydicom = spawnSync('/usr/bin/python3', ['-c', 'import pydicom, numpy']).status === 0;
  test('dciodvfy, pydicom and the compressors are there when the run must be whole', () => {
    const isRequired = (process.env['CI'] ?? '') !== '';
    expect(!isRequired || (hasPydicom && ['dciodvfy', 'dcmcjpeg', 'dcmcjpls'].every(has))).toBe(true);
  });
  test.skipIf(!has('dciodvfy'))('the conformance checker finds no error in runs of 12 and 8 bits, many frames and one', () => {
    for (const pixels of [run12, run8, first]) {
      writeFileSync(file, writeXa(pixels, CAMERA, LABELS));
      const said = spawnSync('dciodvfy', [file], { encoding: 'utf8' });
      expect(`${said.stdout}${said.stderr}`).not.toContain('Error');
      expect(`${said.stdout}${said.stderr}`).toContain('XAImage');
    }
  });
  test.skipIf(!hasPydicom)('pydicom reads the same pixels and angles', () => {
    for (const [pixels, kind] of [[run12, 'explicit-little'], [run8, 'explicit-little'], [run8, 'rle'], [run12, 'rle']] as const) {
      writeFileSync(file, writeXa(pixels, CAMERA, LABELS, { kind }));
      const out = execFileSync('/usr/bin/python3', ['-c', 'import sys,pydicom,json\nd=pydicom.dcmread(sys.argv[1]);a=d.pixel_array\nprint(json.dumps([list(a.shape),int(a.astype("int64").sum()),float(d.PositionerPrimaryAngle),float(d.DistanceSourceToPatient),float(d.ImagerPixelSpacing[0])]))', file], { encoding: 'utf8' });
      expect(JSON.parse(out)).toEqual([[2, 120, 130], [...pixels].reduce((s, v) => s + v, 0), -12.5, 750, 0.616]);
    }
  });
  test.skipIf(!has('dcmcjpeg') || !has('dcmcjpls'))('runs that a DICOM toolkit compressed without loss decode to the same pixels; lossy ones are refused by name', () => {
    for (const pixels of [run12, run8]) {
      writeFileSync(file, writeXa(pixels, CAMERA, LABELS));
      const packed = join(base, 'packed.dcm');
      for (const [program, ...options] of [['dcmcjpeg', '+e1'], ['dcmcjpeg', '+el'], ['dcmcjpls', '+el']] as const) {
        execFileSync(program, [...options, file, packed]);
        expect(frame(readFileSync(packed), 2), `${program} ${options.join(' ')}`).toEqual([...pixels.subarray(first.length)]);
      }
    }
    writeFileSync(file, writeXa(run8, CAMERA, LABELS));
    execFileSync('dcmcjpeg', ['+eb', file, join(base, 'lossy.dcm')]);
    const bytes = readFileSync(join(base, 'lossy.dcm'));
    const decoded = decodeXaFrame(bytes, read(bytes), 1, codecs);
    expect(!decoded.ok && decoded.failure.code).toBe('transfer-syntax-lossy');
  });
});
