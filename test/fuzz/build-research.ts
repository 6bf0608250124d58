import type { SampleType } from '../../src/formats/nifti/research-volume.ts';

/** Small NIfTI and NRRD volumes for tests: 2 x 3 x 4 samples 0, 1, 2, ... unless said otherwise. */
export interface TestNifti {
  readonly version?: 1 | 2;
  readonly isLittleEndian?: boolean;
  readonly type?: SampleType;
  /** Overrides the code of `type`. */
  readonly datatype?: number;
  readonly dims?: readonly number[];
  readonly sform?: readonly number[] | null;
  readonly qform?: {
    readonly quaternion: readonly number[];
    readonly offset: readonly number[];
    readonly pixdim: readonly number[];
  };
  readonly slope?: number;
  readonly intercept?: number;
  readonly unit?: number;
  readonly magic?: 'n+1' | 'ni1';
  readonly firstValue?: number;
}

const CODES: Readonly<Record<SampleType, number>> = {
  uint8: 2,
  int16: 4,
  int32: 8,
  float32: 16,
  float64: 64,
  int8: 256,
  uint16: 512,
  uint32: 768,
  int64: 1024,
  uint64: 1280,
};
const WIDTHS: Readonly<Record<SampleType, number>> = {
  int8: 1,
  uint8: 1,
  int16: 2,
  uint16: 2,
  int32: 4,
  uint32: 4,
  int64: 8,
  uint64: 8,
  float32: 4,
  float64: 8,
};

export function encodeSamples(type: SampleType, values: readonly number[], little: boolean): Uint8Array {
  const width = WIDTHS[type];
  const view = new DataView(new ArrayBuffer(values.length * width));
  values.forEach((value, i) => {
    const at = i * width;
    if (type === 'int8' || type === 'uint8') view.setUint8(at, value & 255);
    else if (type === 'int16' || type === 'uint16') view.setUint16(at, value & 0xffff, little);
    else if (type === 'int32' || type === 'uint32') view.setUint32(at, value >>> 0, little);
    else if (type === 'int64' || type === 'uint64') view.setBigInt64(at, BigInt(value), little);
    else if (type === 'float32') view.setFloat32(at, value, little);
    else view.setFloat64(at, value, little);
  });
  return new Uint8Array(view.buffer);
}

export function buildNifti(options: TestNifti): Uint8Array {
  const {
    version = 1,
    isLittleEndian: little = true,
    type = 'int16',
    dims = [2, 3, 4],
    sform,
    qform,
    unit = 2,
  } = options;
  const isV2 = version === 2;
  const offset = isV2 ? 544 : 352;
  const values = Array.from({ length: 24 }, (_, i) => i);
  if (options.firstValue !== undefined) values[0] = options.firstValue;
  const data = encodeSamples(type, values, little);
  const bytes = new Uint8Array(offset + data.length);
  bytes.set(data, offset);
  const view = new DataView(bytes.buffer);
  const real = (v1: number, v2: number, value: number, i = 0): void => {
    if (isV2) view.setFloat64(v2 + 8 * i, value, little);
    else view.setFloat32(v1 + 4 * i, value, little);
  };
  const dim = (i: number, value: number): void => {
    if (isV2) view.setBigInt64(16 + 8 * i, BigInt(value), little);
    else view.setInt16(40 + 2 * i, value, little);
  };
  const magic = options.magic ?? 'n+1';
  view.setInt32(0, isV2 ? 540 : 348, little);
  [...magic].forEach((char, i) => bytes.set([char.charCodeAt(0)], (isV2 ? 4 : 344) + i));
  if (isV2) bytes[6] = 0x32;
  dim(0, dims.length);
  dims.forEach((size, i) => dim(i + 1, size));
  view.setInt16(isV2 ? 12 : 70, options.datatype ?? CODES[type], little);
  if (isV2) view.setBigInt64(168, BigInt(offset), little);
  else view.setFloat32(108, offset, little);
  real(112, 176, options.slope ?? 1);
  real(116, 184, options.intercept ?? 0);
  if (isV2) view.setInt32(500, unit, little);
  else view.setUint8(123, unit);
  const rows = sform === undefined ? [-1, 0, 0, 10, 0, -1, 0, 20, 0, 0, 1, 30] : sform;
  if (isV2) view.setInt32(348, rows === null ? 0 : 1, little);
  else view.setInt16(254, rows === null ? 0 : 1, little);
  rows?.forEach((value, i) => real(280, 400, value, i));
  if (qform) {
    if (isV2) view.setInt32(344, 1, little);
    else view.setInt16(252, 1, little);
    qform.pixdim.forEach((value, i) => real(76, 104, value, i));
    qform.quaternion.forEach((value, i) => real(256, 352, value, i));
    qform.offset.forEach((value, i) => real(268, 376, value, i));
  }
  return bytes;
}

export function buildNrrd(lines: readonly string[], data: Uint8Array): Uint8Array {
  const head = new TextEncoder().encode(['NRRD0005', ...lines, '', ''].join('\n'));
  const bytes = new Uint8Array(head.length + data.length);
  bytes.set(head);
  bytes.set(data, head.length);
  return bytes;
}
