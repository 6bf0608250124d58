import { describe, expect, test } from 'vitest';
import {
  buildSlice,
  encodeElements,
  f64,
  makeSliceElements,
  u16,
  u32,
  wrapPart10,
  type Elements,
  type TestSlice,
} from '../../../test/fuzz/build-dicom.ts';
import { hasOutsideData, readFacts, readOutside } from '../../../test/fuzz/outside-data.ts';
import { expectAllWithin, expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import type { CtSliceHeader } from './dicom-types.ts';
import { parsePart10 } from './parse-part10.ts';
import { readCtSlices } from './read-ct-slice.ts';
import { findPhaseInText } from './read-phase.ts';

const ROUNDING: Tolerance = { relative: 1e-12, absolute: 1e-12, from: 'one normalisation in float64' };

function readAll(bytes: Uint8Array): readonly CtSliceHeader[] {
  const dataset = parsePart10(bytes);
  if (!dataset.ok) throw new Error(dataset.failure.message);
  const slices = readCtSlices(dataset.value);
  if (!slices.ok) throw new Error(slices.failure.message);
  return slices.value;
}
const readOne = (options: TestSlice): CtSliceHeader => readAll(buildSlice(options))[0]!;
function refusalOf(options: TestSlice): string {
  const dataset = parsePart10(buildSlice(options));
  if (!dataset.ok) return dataset.failure.code;
  const slices = readCtSlices(dataset.value);
  return slices.ok ? 'none' : slices.failure.code;
}

describe('readCtSlices, one frame', () => {
  test('reads place, spacing, rescale and identity of a classic slice', () => {
    const header = readOne({});
    expect(header).toMatchObject({
      modality: 'CT',
      seriesUid: '1.2.3.1',
      frameOfReferenceUid: '1.2.3.9',
      patientPosition: 'HFS',
      frameCount: 1,
      rows: 4,
      columns: 6,
      pixelSpacingMm: [0.5, 0.4],
      sliceThicknessMm: 0.75,
      rescaleSlope: 1,
      rescaleIntercept: -1024,
      kvp: 100,
      instanceNumber: 7,
      positionLps: [-10.5, -20.25, 30],
      gaps: ['phase-missing'],
    });
  });

  test('names each thing that is missing, and guesses none', () => {
    const header = readOne({
      without: [
        0x00200032, 0x00200037, 0x00280030, 0x00281052, 0x00200052, 0x0020000e, 0x00180050, 0x00100010,
        0x00100020,
      ],
    });
    expect(header).toMatchObject({
      positionLps: null,
      rowDirLps: null,
      pixelSpacingMm: null,
      frameOfReferenceUid: null,
      patientKey: null,
    });
    expect([...header.gaps].sort()).toEqual([
      'frame-of-reference-missing',
      'orientation-missing',
      'patient-missing',
      'phase-missing',
      'pixel-spacing-missing',
      'position-missing',
      'rescale-missing',
      'series-uid-missing',
      'slice-thickness-missing',
    ]);
  });

  test('takes no spacing, position or slope that is not a number above the least', () => {
    for (const text of ['0\\0.4', '0.5', 'NaN\\0.4', '1e999\\0.4', '-0.5\\0.4', '0.5,0.4']) {
      expect(readOne({ change: [[0x00280030, 'DS', text]] }).pixelSpacingMm, text).toBeNull();
    }
    expect(readOne({ change: [[0x00200032, 'DS', '1\\2']] }).positionLps).toBeNull();
    expect(readOne({ change: [[0x00281053, 'DS', '0']] }).gaps).toContain('rescale-missing');
    expect(readOne({ change: [[0x00281054, 'LO', 'OD']] }).gaps).toContain('rescale-not-hu');
  });

  test('makes rounded directions orthonormal and refuses skewed ones', () => {
    const header = readOne({ change: [[0x00200037, 'DS', '1\\0\\0\\0\\0.9272\\-0.3746']] });
    const { rowDirLps: row, columnDirLps: column } = header;
    expectWithin(Math.hypot(...column!), 1, ROUNDING);
    expectWithin(row![0] * column![0] + row![1] * column![1] + row![2] * column![2], 0, ROUNDING);
    const skew = readOne({ change: [[0x00200037, 'DS', '1\\0\\0\\0.5\\0.8\\0']] });
    expect(skew.rowDirLps).toBeNull();
    expect(skew.gaps).toContain('orientation-not-orthonormal');
  });

  test('reads the padding value by the sign of the pixels, whatever its VR says', () => {
    const change: Elements = [[0x00280120, 'US', u16(63536)]];
    expect(readOne({ change }).encoding.paddingStored).toBe(-2000);
    expect(readOne({ change: [...change, [0x00280103, 'US', u16(0)]] }).encoding.paddingStored).toBe(63536);
  });

  test('gives the same patient key for the same person in other spelling, and another for another', () => {
    const key = (id: string, name: string): string | null =>
      readOne({
        change: [
          [0x00100020, 'LO', id],
          [0x00100010, 'PN', name],
        ],
      }).patientKey;
    expect(key('p1 ', 'test^phantom^^')).toBe(key('P1', 'Test^Phantom'));
    expect(key('P2', 'Test^Phantom')).not.toBe(key('P1', 'Test^Phantom'));
  });

  test('says whether contrast is declared, denied or not mentioned', () => {
    expect(readOne({}).isContrastDeclared).toBeNull();
    expect(readOne({ change: [[0x00180010, 'LO', 'Iohexol 350']] }).isContrastDeclared).toBe(true);
    expect(readOne({ change: [[0x00180010, 'LO', 'NONE']] }).isContrastDeclared).toBe(false);
  });

  test('decodes the series description by its character set', () => {
    const utf8 = String.fromCharCode(...new TextEncoder().encode('Wurzel dünn 75 %'));
    const header = readOne({
      change: [
        [0x00080005, 'CS', 'ISO_IR 192'],
        [0x0008103e, 'LO', utf8],
      ],
    });
    expect(header.seriesDescription).toBe('Wurzel dünn 75 %');
    expect(header).toMatchObject({ phasePercent: 75, phaseSource: 'series-text' });
  });

  test.each([
    ['no-pixel-data', { without: [0x7fe00010] }],
    ['not-ct', { change: [[0x00080060, 'CS', 'MR']] as Elements }],
    [
      'not-greyscale',
      {
        change: [
          [0x00280002, 'US', u16(3)],
          [0x00280004, 'CS', 'RGB'],
        ] as Elements,
      },
    ],
    ['image-size-invalid', { change: [[0x00280010, 'US', u16(0)]] as Elements }],
    [
      'image-size-invalid',
      {
        change: [
          [0x00280010, 'US', u16(16384)],
          [0x00280011, 'US', u16(16384)],
        ] as Elements,
      },
    ],
    [
      'pixel-format-unsupported',
      {
        change: [
          [0x00280100, 'US', u16(32)],
          [0x00280101, 'US', u16(32)],
        ] as Elements,
      },
    ],
    [
      'pixel-format-unsupported',
      {
        change: [
          [0x00280101, 'US', u16(8)],
          [0x00280102, 'US', u16(7)],
        ] as Elements,
      },
    ],
    ['pixel-format-unsupported', { change: [[0x00280102, 'US', u16(3)]] as Elements }],
    ['too-many-frames', { change: [[0x00280008, 'IS', '2']] as Elements }],
    ['too-many-frames', { change: [[0x00280008, 'IS', '0']] as Elements }],
    ['too-many-frames', { change: [[0x00280008, 'IS', '999999999']] as Elements }],
  ])('refuses with %s', (code, options) => {
    expect(refusalOf(options)).toBe(code);
  });
});

describe('readPhase', () => {
  test('takes the nominal percentage first, then text, then trigger time over the R-R interval', () => {
    const trigger: Elements = [
      [0x00181060, 'DS', '300'],
      [0x00181062, 'IS', '1000'],
    ];
    expect(readOne({ change: trigger })).toMatchObject({
      phasePercent: 30,
      phaseSource: 'derived',
      triggerTimeMs: 300,
    });
    const text: Elements = [[0x0008103e, 'LO', 'CTA 0.6 BestSyst 35 %']];
    expect(readOne({ change: [...trigger, ...text] })).toMatchObject({
      phasePercent: 35,
      phaseSource: 'series-text',
    });
    expect(readOne({ change: [...trigger, ...text, [0x00209241, 'FD', f64(40)]] })).toMatchObject({
      phasePercent: 40,
      phaseSource: 'nominal-percentage',
    });
    expect(
      readOne({
        change: [
          [0x00181060, 'DS', '300'],
          [0x00181088, 'IS', '60'],
        ],
      }).phasePercent,
    ).toBe(30);
  });

  test.each([
    ['TAVI 0.75 Bv40 30%', 30],
    ['Cardiac 75.0%', 75],
    ['BestDiast 72 %', 72],
    ['ASIR 40%', null],
    ['Root ASiR-V 50% 35%', 35],
    ['SS20% 45%', 45],
    ['iDose 30%', null],
    ['30% and 75%', null],
    ['150%', null],
    ['contrast 50% saline', null],
    ['no phase', null],
    ['0%', 0],
    ['SSF 75%', 75],
    ['Recon 30-80%', null],
    ['Classic 35%', 35],
    ['IR 3 BestSyst 35%', 35],
  ])('reads %s as %s', (text, percent) => {
    expect(findPhaseInText(text)).toBe(percent);
  });
});

describe('readCtSlices, several frames', () => {
  const enhanced = (perFrame: readonly Elements[], shared: Elements): Uint8Array => {
    const elements = makeSliceElements({
      pixels: new Uint8Array(48 * perFrame.length),
      change: [
        [0x00080016, 'UI', '1.2.840.10008.5.1.4.1.1.2.1'],
        [0x00280008, 'IS', String(perFrame.length)],
        [0x52009229, 'SQ', [shared]],
        [0x52009230, 'SQ', perFrame],
      ],
      without: [0x00200032, 0x00200037, 0x00280030, 0x00281052, 0x00281053, 0x00180050],
    });
    return wrapPart10(encodeElements(elements), '1.2.840.10008.1.2.1');
  };
  const shared: Elements = [
    [0x00189329, 'SQ', [[[0x00089007, 'CS', 'ORIGINAL\\PRIMARY\\VOLUME\\NONE']]]],
    [0x00209116, 'SQ', [[[0x00200037, 'DS', '1\\0\\0\\0\\1\\0']]]],
    [
      0x00289110,
      'SQ',
      [
        [
          [0x00180050, 'DS', '0.6'],
          [0x00280030, 'DS', '0.4\\0.4'],
        ],
      ],
    ],
    [
      0x00289145,
      'SQ',
      [
        [
          [0x00281052, 'DS', '-8192'],
          [0x00281053, 'DS', '1'],
          [0x00281054, 'LO', 'HU'],
        ],
      ],
    ],
  ];
  const frame = (zMm: number, percent: number): Elements => [
    [
      0x00189118,
      'SQ',
      [
        [
          [0x00209153, 'FD', f64(percent * 8)],
          [0x00209241, 'FD', f64(percent)],
        ],
      ],
    ],
    [0x00209111, 'SQ', [[[0x00209128, 'UL', u32(percent > 50 ? 2 : 1)]]]],
    [0x00209113, 'SQ', [[[0x00200032, 'DS', `-80\\-90\\${zMm}`]]]],
  ];

  test('takes geometry from the frame, what is common from the shared groups', () => {
    const headers = readAll(enhanced([frame(10, 30), frame(10.6, 30), frame(10, 75)], shared));
    expect(headers.map((header) => header.positionLps![2])).toEqual([10, 10.6, 10]);
    expect(headers.map((header) => header.phasePercent)).toEqual([30, 30, 75]);
    expect(headers.map((header) => header.temporalPositionIndex)).toEqual([1, 1, 2]);
    expect(headers.map((header) => header.frameIndex)).toEqual([0, 1, 2]);
    for (const header of headers) {
      expect(header).toMatchObject({
        rescaleIntercept: -8192,
        pixelSpacingMm: [0.4, 0.4],
        sliceThicknessMm: 0.6,
        imageType: ['ORIGINAL', 'PRIMARY', 'VOLUME', 'NONE'],
        gaps: [],
      });
    }
  });

  test('lets a frame overrule the shared group', () => {
    const own: Elements = [
      ...frame(10, 30),
      [
        0x00289145,
        'SQ',
        [
          [
            [0x00281052, 'DS', '-1000'],
            [0x00281053, 'DS', '2'],
          ],
        ],
      ],
    ];
    const headers = readAll(enhanced([own, frame(10.6, 30)], shared));
    expect(headers.map((header) => [header.rescaleSlope, header.rescaleIntercept])).toEqual([
      [2, -1000],
      [1, -8192],
    ]);
  });

  test('says which frames lack a group instead of borrowing from a neighbour', () => {
    const headers = readAll(enhanced([frame(10, 30), []], shared));
    expect(headers[1]!.positionLps).toBeNull();
    expect(headers[1]!.gaps).toContain('position-missing');
  });
});

describe.skipIf(!hasOutsideData)('readCtSlices on outside files (dicom-torture, pydicom values)', () => {
  interface Fact {
    rows: number;
    cols: number;
    pixelSpacing: number[];
    sliceThickness: number;
    gantryTiltDeg: number;
    imagePosition: number[];
    imageOrientation: number[];
    modality?: string;
  }
  const facts = hasOutsideData ? readFacts<{ files: Record<string, Fact> }>('dicom-torture').files : {};
  const DECIMALS: Tolerance = {
    relative: 1e-6,
    absolute: 1e-6,
    from: 'facts are rounded to 7 digits; directions renormalised',
  };

  test('reads the tilted series: tilt, position and thickness of all eight slices', () => {
    const names = Object.keys(facts).filter((name) => name.startsWith('tilt-variable-spacing/'));
    expect(names.length).toBe(8);
    for (const name of names) {
      const header = readAll(readOutside(`dicom-torture/${name}`))[0]!;
      const fact = facts[name]!;
      expect(header.gantryTiltDeg).toBe(18.5);
      expect(header.sliceThicknessMm).toBe(fact.sliceThickness);
      expectAllWithin(header.positionLps!, fact.imagePosition, DECIMALS);
      expectAllWithin([...header.rowDirLps!, ...header.columnDirLps!], fact.imageOrientation, DECIMALS);
    }
  });

  test('reads three positions from the legacy-converted object, the same as its three single slices', () => {
    const frames = readAll(readOutside('dicom-torture/multiframe/legacy_converted_enhanced_ct_23x38x3.dcm'));
    const singles = [1, 2, 3].map(
      (k) => readAll(readOutside(`dicom-torture/multiframe/ct_23x38_slice_${k}.dcm`))[0]!,
    );
    expect(frames.map((header) => header.positionLps)).toEqual(singles.map((header) => header.positionLps));
    expect(frames.map((header) => header.instanceNumber)).toEqual([1, 2, 3]);
    expect(frames[0]).toMatchObject({
      rows: 38,
      columns: 23,
      pixelSpacingMm: [0.7, 0.7],
      sliceThicknessMm: 2.5,
    });
  });

  test.each([
    ['edge/MR_truncated.dcm', 'file-truncated'],
    ['edge/no_meta.dcm', 'not-dicom'],
    ['edge/meta_missing_tsyntax.dcm', 'not-ct'],
    ['edge/badVR.dcm', 'not-ct'],
    ['edge/UN_sequence.dcm', 'no-pixel-data'],
    ['edge/ExplVR_BigEnd.dcm', 'not-ct'],
    ['edge/sr_deflated.dcm', 'no-pixel-data'],
    ['edge/sr_no_pixel_data.dcm', 'no-pixel-data'],
    ['seg-sr/seg_liver_3frames.dcm', 'not-ct'],
    ['waveform/ecg_12lead.dcm', 'no-pixel-data'],
    ['us-regions/us_3regions_rle_palette.dcm', 'not-ct'],
    ['transfer-syntaxes/ct_JPEGProcess1__1.2.840.10008.1.2.4.50.dcm', 'pixel-format-unsupported'],
  ])('refuses %s with %s', (name, code) => {
    const dataset = parsePart10(readOutside(`dicom-torture/${name}`));
    const slices = dataset.ok ? readCtSlices(dataset.value) : dataset;
    expect(slices.ok ? 'none' : slices.failure.code).toBe(code);
  });
});
