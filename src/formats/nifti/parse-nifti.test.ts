import { createHash } from 'node:crypto';
import { gzipSync } from 'fflate';
import { describe, expect, test } from 'vitest';
import { hasOutsideData, readFacts, readOutside } from '../../../test/fuzz/outside-data.ts';
import { buildNifti, type TestNifti } from '../../../test/fuzz/build-research.ts';
import { expectAllWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { isNifti, parseNifti } from './parse-nifti.ts';
import type { ResearchVolume, SampleType } from './research-volume.ts';

const FLOAT32: Tolerance = { relative: 1e-6, absolute: 1e-6, from: 'header numbers are float32, 24 bits' };

function parsed(bytes: Uint8Array): ResearchVolume {
  const result = parseNifti(bytes);
  if (!result.ok) throw new Error(`${result.failure.code}: ${result.failure.message}`);
  return result.value;
}
function codeOf(bytes: Uint8Array): string {
  const result = parseNifti(bytes);
  return result.ok ? 'ok' : result.failure.code;
}

describe('parseNifti', () => {
  const types: SampleType[] = [
    'int8',
    'uint8',
    'int16',
    'uint16',
    'int32',
    'uint32',
    'int64',
    'uint64',
    'float32',
    'float64',
  ];
  for (const version of [1, 2] as const) {
    for (const isLittleEndian of [true, false]) {
      test(`reads every sample type, NIfTI-${version}, ${isLittleEndian ? 'little' : 'big'} endian, packed and plain`, () => {
        for (const type of types) {
          const file = buildNifti({ version, isLittleEndian, type });
          for (const bytes of [file, gzipSync(file)]) {
            const { volume, format } = parsed(bytes);
            expect([...volume.samplesHu], type).toEqual(Array.from({ length: 24 }, (_, i) => i));
            expect(volume.dims).toEqual([2, 3, 4]);
            expect(format).toBe(`nifti-${version}`);
          }
        }
      });
    }
  }

  test('turns the RAS sform into LPS', () => {
    const { volume } = parsed(buildNifti({ sform: [-1.5, 0, 0, 71, 0, -1.5, 0, 255, 0, 0, 2, 540] }));
    expect(volume.lpsFromVoxel.rows).toEqual([1.5, 0, 0, -71, 0, 1.5, 0, -255, 0, 0, 2, 540]);
    expect(volume.spacingMm).toEqual([1.5, 1.5, 2]);
  });

  test('builds the affine of an oblique, left-handed qform as nibabel 5.0 does', () => {
    const qform = {
      quaternion: [0.22894864, -0.13243055, 0.119647264],
      offset: [-50, 20, 7],
      pixdim: [-1, 0.4, 0.5, 0.75],
    } as const;
    const ras = [
      0.37451735, -0.144814738, 0.149002008, -50, 0.06734012, 0.433267053, 0.352401704, 20, 0.123296665,
      0.203244562, -0.645067005, 7,
    ];
    for (const version of [1, 2] as const) {
      const { volume } = parsed(buildNifti({ version, sform: null, qform }));
      expectAllWithin(
        volume.lpsFromVoxel.rows,
        ras.map((value, i) => (i < 8 ? -value : value)),
        FLOAT32,
      );
    }
  });

  test('applies slope and intercept, clips to 16 bits and counts, and marks NaN as padding', () => {
    const scaled = parsed(buildNifti({ type: 'uint8', slope: 100, intercept: -1024 })).volume.samplesHu;
    expect([...scaled.subarray(0, 3)]).toEqual([-1024, -924, -824]);
    expect(parsed(buildNifti({ type: 'int16', slope: 10000, intercept: 0 })).clippedCount).toBe(20);
    expect([...parsed(buildNifti({ slope: 0, intercept: 50 })).volume.samplesHu.subarray(0, 2)]).toEqual([
      0, 1,
    ]);
    const holed = parsed(buildNifti({ type: 'float32', firstValue: NaN }));
    expect(holed).toMatchObject({ notFiniteCount: 1, volume: { paddingHu: -1024 } });
    expect(holed.volume.samplesHu[0]).toBe(-1024);
  });

  test('takes lengths in metres and micrometres to mm, and says when no unit is stated', () => {
    expect(
      parsed(buildNifti({ unit: 1, sform: [-0.001, 0, 0, 0, 0, -0.001, 0, 0, 0, 0, 0.002, 0.5] })).volume
        .lpsFromVoxel.rows[11],
    ).toBe(500);
    expect(parsed(buildNifti({ unit: 2 })).missing).not.toContain('length-unit-missing');
    expect(parsed(buildNifti({ unit: 0 })).missing).toContain('length-unit-missing');
  });

  test('says what a CT header would have told', () => {
    expect(parsed(buildNifti({})).missing).toEqual(
      expect.arrayContaining(['phase-missing', 'kernel-missing', 'hu-not-declared', 'patient-missing']),
    );
  });

  test.each([
    ['not-nifti', new Uint8Array(1000)],
    ['not-nifti', gzipSync(new Uint8Array(1000))],
    ['orientation-missing', buildNifti({ sform: null })],
    ['orientation-missing', buildNifti({ sform: [1, 0, 0, 0, 1, 0, 0, 0, 0, 0, 1, 0] })],
    ['data-detached', buildNifti({ magic: 'ni1' })],
    ['volume-not-3d', buildNifti({ dims: [2, 3, 4, 5] })],
    ['volume-not-3d', buildNifti({ dims: [2, 3] })],
    ['header-broken', buildNifti({ dims: [2, -3, 4] })],
    ['volume-too-large', buildNifti({ dims: [30000, 30000, 2] })],
    ['data-type-unsupported', buildNifti({ datatype: 128 })],
    ['data-truncated', buildNifti({}).subarray(0, -1)],
    ['deflate-broken', gzipSync(buildNifti({})).subarray(0, -9)],
    ['deflate-broken', gzipSync(buildNifti({ dims: [30000, 30000, 1] }))],
  ] as const)('refuses with %s (%#)', (code, bytes) => {
    expect(codeOf(bytes)).toBe(code);
  });

  test('a packed header that announces a large volume costs no memory', () => {
    const options: TestNifti = { dims: [1000, 1000, 1000] };
    expect(codeOf(gzipSync(buildNifti(options)))).toBe('deflate-broken');
  });
});

describe.skipIf(!hasOutsideData)('parseNifti on outside volumes (nibabel values)', () => {
  interface Fact {
    sum?: number;
    voxelSumInt64?: number;
    affine?: number[][];
    affineRAS?: number[][];
    shape: number[];
    samples?: { i: number; j: number; k: number; hu: number }[];
    sha256RawLittleEndianFortranOrder?: string;
  }
  const check = (path: string, fact: Fact): ResearchVolume => {
    const bytes = readOutside(path);
    expect(isNifti(bytes)).toBe(true);
    const research = parsed(bytes);
    const { samplesHu, dims, lpsFromVoxel } = research.volume;
    expect(dims).toEqual(fact.shape);
    expect(samplesHu.reduce((sum, hu) => sum + hu, 0)).toBe(fact.voxelSumInt64 ?? fact.sum);
    const ras = (fact.affineRAS ?? fact.affine)!.slice(0, 3).flat();
    expectAllWithin(
      lpsFromVoxel.rows,
      ras.map((value, i) => (i < 8 ? -value : value)),
      FLOAT32,
    );
    for (const { i, j, k, hu } of fact.samples ?? [])
      expect(samplesHu[(k * dims[1] + j) * dims[0] + i]).toBe(hu);
    return research;
  };

  test('the contrast chest CT: every voxel, the affine and the sample points', () => {
    const fact = readFacts<{ ct: Fact }>('ct-thoracic-cta-root').ct;
    const { samplesHu } = check('ct-thoracic-cta-root/ct.nii.gz', fact).volume;
    const raw = new Uint8Array(samplesHu.buffer, samplesHu.byteOffset, samplesHu.byteLength);
    expect(createHash('sha256').update(raw).digest('hex')).toBe(fact.sha256RawLittleEndianFortranOrder);
  });

  test('the two volumes without contrast, one of them in 32-bit integers', () => {
    const facts = readFacts<Record<string, Fact>>('ct-noncontrast-negative');
    for (const name of ['ct.nii.gz', 'ct_small.nii.gz'])
      check(`ct-noncontrast-negative/${name}`, facts[name]!);
  });
});
