import { gzipSync } from 'fflate';
import { describe, expect, test } from 'vitest';
import { buildNrrd, encodeSamples } from '../../../test/fuzz/build-research.ts';
import type { ResearchVolume, SampleType } from '../nifti/research-volume.ts';
import { isNrrd, parseNrrd } from './parse-nrrd.ts';

const SAMPLES = Array.from({ length: 24 }, (_, i) => i);
const FIELDS: Readonly<Record<string, string>> = {
  type: 'short',
  dimension: '3',
  space: 'left-posterior-superior',
  sizes: '2 3 4',
  'space directions': '(0.5,0,0) (0,0.5,0) (0,0,-0.75)',
  kinds: 'domain domain domain',
  endian: 'little',
  encoding: 'raw',
  'space origin': '(-10,-20,30)',
  'space units': '"mm" "mm" "mm"',
};
function file(
  change: Readonly<Record<string, string | null>> = {},
  data: Uint8Array = encodeSamples('int16', SAMPLES, true),
): Uint8Array {
  const fields = Object.entries({ ...FIELDS, ...change }).flatMap(([key, value]) =>
    value === null ? [] : [`${key}: ${value}`],
  );
  return buildNrrd(['# a comment', ...fields, 'key:=value'], data);
}
function parsed(bytes: Uint8Array): ResearchVolume {
  const result = parseNrrd(bytes);
  if (!result.ok) throw new Error(`${result.failure.code}: ${result.failure.message}`);
  return result.value;
}
function codeOf(bytes: Uint8Array): string {
  const result = parseNrrd(bytes);
  return result.ok ? 'ok' : result.failure.code;
}

describe('parseNrrd', () => {
  test('reads grid and samples of an LPS volume', () => {
    const { volume, missing } = parsed(file());
    expect([...volume.samplesHu]).toEqual(SAMPLES);
    expect(volume).toMatchObject({ dims: [2, 3, 4], spacingMm: [0.5, 0.5, 0.75], paddingHu: null });
    expect(volume.lpsFromVoxel.rows).toEqual([0.5, 0, 0, -10, 0, 0.5, 0, -20, 0, 0, -0.75, 30]);
    expect(missing).toContain('phase-missing');
    expect(isNrrd(file())).toBe(true);
  });

  test('gives the same grid from RAS and LAS axes once their signs are turned', () => {
    const ras = file({
      space: 'RAS',
      'space directions': '(-0.5,0,0) (0,-0.5,0) (0,0,-0.75)',
      'space origin': '(10,20,30)',
    });
    const las = file({
      space: 'left-anterior-superior',
      'space directions': '(0.5,0,0) (0,-0.5,0) (0,0,-0.75)',
      'space origin': '(-10,20,30)',
    });
    expect(parsed(ras).volume).toEqual(parsed(file()).volume);
    expect(parsed(las).volume).toEqual(parsed(file()).volume);
  });

  test('reads every type in both byte orders, raw and gzip', () => {
    const names: [string, SampleType][] = [
      ['signed char', 'int8'],
      ['uchar', 'uint8'],
      ['short', 'int16'],
      ['unsigned short', 'uint16'],
      ['int', 'int32'],
      ['uint32_t', 'uint32'],
      ['long long', 'int64'],
      ['ulonglong', 'uint64'],
      ['float', 'float32'],
      ['double', 'float64'],
    ];
    for (const [name, type] of names) {
      for (const endian of ['little', 'big']) {
        const data = encodeSamples(type, SAMPLES, endian === 'little');
        expect([...parsed(file({ type: name, endian }, data)).volume.samplesHu], name).toEqual(SAMPLES);
        expect(
          [...parsed(file({ type: name, endian, encoding: 'gzip' }, gzipSync(data))).volume.samplesHu],
          name,
        ).toEqual(SAMPLES);
      }
    }
  });

  test('takes data from the end for byte skip -1, and Windows line ends', () => {
    const padded = new Uint8Array([9, 9, 9, ...encodeSamples('int16', SAMPLES, true)]);
    expect([...parsed(file({ 'byte skip': '-1' }, padded)).volume.samplesHu]).toEqual(SAMPLES);
    const lines = Object.entries(FIELDS).map(([key, value]) => `${key}: ${value}\r`);
    expect([...parsed(buildNrrd(lines, encodeSamples('int16', SAMPLES, true))).volume.samplesHu]).toEqual(
      SAMPLES,
    );
  });

  test('says when origin or unit are not stated', () => {
    const { missing, volume } = parsed(file({ 'space origin': null, 'space units': null }));
    expect(missing).toEqual(expect.arrayContaining(['origin-missing', 'length-unit-missing']));
    expect(volume.lpsFromVoxel.rows[3]).toBe(0);
  });

  test.each([
    ['not-nrrd', new Uint8Array(100)],
    ['header-broken', new TextEncoder().encode('NRRD0005\ntype: short\n')],
    ['header-broken', file({ sizes: '2 3' })],
    ['header-broken', file({ sizes: '2 3 x' })],
    ['header-broken', file({ sizes: '2 3 -4' })],
    ['header-broken', file({ endian: null })],
    ['header-broken', file({ 'byte skip': '-5' })],
    ['header-broken', file({ 'space units': '"furlong" "mm" "mm"' })],
    ['volume-not-3d', file({ dimension: '4', sizes: '2 3 2 2' })],
    ['volume-too-large', file({ sizes: '60000 60000 9' })],
    ['data-type-unsupported', file({ type: 'block' })],
    ['orientation-missing', file({ space: null })],
    ['orientation-missing', file({ 'space directions': 'none (1,0,0) (0,1,0)' })],
    ['orientation-missing', file({ 'space directions': '(1,0,0) (1,0,0) (0,0,1)' })],
    ['data-truncated', file().subarray(0, -1)],
    ['data-detached', file({ 'data file': 'elsewhere.raw' })],
    ['encoding-unsupported', file({ encoding: 'bzip2' })],
    [
      'deflate-broken',
      file({ encoding: 'gzip' }, gzipSync(encodeSamples('int16', SAMPLES, true)).subarray(0, -9)),
    ],
    ['deflate-broken', file({ encoding: 'gzip', sizes: '1000 1000 1000' }, gzipSync(new Uint8Array(48)))],
  ] as const)('refuses with %s (%#)', (code, bytes) => {
    expect(codeOf(bytes)).toBe(code);
  });
});
