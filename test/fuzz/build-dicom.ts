/** Small DICOM files, built element by element, for tests. */
export type Value = string | Uint8Array | readonly Elements[];
/** [tag, VR, value]; numbers are handed over as bytes (u16, f64). */
export type Elements = readonly (readonly [tag: number, vr: string, value: Value])[];
export type TestEncoding = 'implicit-le' | 'explicit-le' | 'explicit-be';

const LONG_VRS = new Set(['OB', 'OW', 'OV', 'SQ', 'UN', 'UT', 'UC', 'UR']);
const SYNTAX: Record<TestEncoding, string> = {
  'implicit-le': '1.2.840.10008.1.2',
  'explicit-le': '1.2.840.10008.1.2.1',
  'explicit-be': '1.2.840.10008.1.2.2',
};

export function joinBytes(parts: readonly Uint8Array[]): Uint8Array {
  const whole = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}

export function u16(...values: number[]): Uint8Array {
  const bytes = new Uint8Array(values.length * 2);
  values.forEach((value, i) => new DataView(bytes.buffer).setUint16(i * 2, value & 0xffff, true));
  return bytes;
}
export function u32(...values: number[]): Uint8Array {
  const bytes = new Uint8Array(values.length * 4);
  values.forEach((value, i) => new DataView(bytes.buffer).setUint32(i * 4, value >>> 0, true));
  return bytes;
}
export function f64(value: number): Uint8Array {
  const bytes = new Uint8Array(8);
  new DataView(bytes.buffer).setFloat64(0, value, true);
  return bytes;
}
const SWAP_BYTES: Readonly<Record<string, number>> = { US: 2, SS: 2, OW: 2, UL: 4, SL: 4, FL: 4, FD: 8 };

export function encodeElements(
  elements: Elements,
  encoding: TestEncoding = 'explicit-le',
  hasUndefinedLengths = false,
): Uint8Array {
  const isBig = encoding === 'explicit-be';
  const number = (bytes: Uint8Array): Uint8Array => (isBig ? bytes.slice().reverse() : bytes);
  const tagBytes = (tag: number): Uint8Array =>
    joinBytes([number(u16(tag >>> 16)), number(u16(tag & 0xffff))]);
  const parts: Uint8Array[] = [];
  for (const [tag, vr, value] of elements) {
    let body: Uint8Array;
    let length: number | null = null;
    if (typeof value === 'string') {
      const padded = value.length % 2 === 0 ? value : `${value}${vr === 'UI' ? '\0' : ' '}`;
      body = Uint8Array.from(padded, (char) => char.charCodeAt(0));
    } else if (value instanceof Uint8Array) {
      body = isBig ? swap(value, SWAP_BYTES[vr] ?? 1) : value;
    } else {
      const items = value.map((item) => {
        const inner = encodeElements(item, encoding, hasUndefinedLengths);
        return hasUndefinedLengths
          ? joinBytes([tagBytes(0xfffee000), u32(0xffffffff), inner, tagBytes(0xfffee00d), u32(0)])
          : joinBytes([tagBytes(0xfffee000), number(u32(inner.length)), inner]);
      });
      body = joinBytes(hasUndefinedLengths ? [...items, tagBytes(0xfffee0dd), u32(0)] : items);
      if (hasUndefinedLengths) length = 0xffffffff;
    }
    const size = length ?? body.length;
    parts.push(tagBytes(tag));
    if (encoding === 'implicit-le') parts.push(u32(size));
    else {
      parts.push(Uint8Array.from(vr, (char) => char.charCodeAt(0)));
      parts.push(LONG_VRS.has(vr) ? joinBytes([u16(0), number(u32(size))]) : number(u16(size)));
    }
    parts.push(body);
  }
  return joinBytes(parts);
}

function swap(bytes: Uint8Array, width: number): Uint8Array {
  const out = bytes.slice();
  for (let at = 0; at + width <= out.length; at += width) out.subarray(at, at + width).reverse();
  return out;
}

/** Preamble, meta header, then `body` as it is. */
export function wrapPart10(body: Uint8Array, transferSyntaxUid: string): Uint8Array {
  const meta = encodeElements([[0x00020010, 'UI', transferSyntaxUid]]);
  return joinBytes([
    new Uint8Array(128),
    Uint8Array.from('DICM', (c) => c.charCodeAt(0)),
    encodeElements([[0x00020000, 'UL', u32(meta.length)]]),
    meta,
    body,
  ]);
}

export interface TestSlice {
  readonly rows?: number;
  readonly columns?: number;
  readonly pixels?: Uint8Array;
  /** Elements that replace those of the same tag, or are added in tag order. */
  readonly change?: Elements;
  readonly without?: readonly number[];
}

export const BASE_ELEMENTS: Elements = [
  [0x00080008, 'CS', 'ORIGINAL\\PRIMARY\\AXIAL'],
  [0x00080016, 'UI', '1.2.840.10008.5.1.4.1.1.2'],
  [0x00080018, 'UI', '1.2.3.4'],
  [0x00080060, 'CS', 'CT'],
  [0x0008103e, 'LO', 'Root thin'],
  [0x00100010, 'PN', 'Test^Phantom'],
  [0x00100020, 'LO', 'P1'],
  [0x00180050, 'DS', '0.75'],
  [0x00180060, 'DS', '100'],
  [0x00185100, 'CS', 'HFS'],
  [0x0020000d, 'UI', '1.2.3'],
  [0x0020000e, 'UI', '1.2.3.1'],
  [0x00200013, 'IS', '7'],
  [0x00200032, 'DS', '-10.5\\-20.25\\30'],
  [0x00200037, 'DS', '1\\0\\0\\0\\1\\0'],
  [0x00200052, 'UI', '1.2.3.9'],
  [0x00280002, 'US', u16(1)],
  [0x00280004, 'CS', 'MONOCHROME2'],
  [0x00280010, 'US', u16(4)],
  [0x00280011, 'US', u16(6)],
  [0x00280030, 'DS', '0.5\\0.4'],
  [0x00280100, 'US', u16(16)],
  [0x00280101, 'US', u16(16)],
  [0x00280102, 'US', u16(15)],
  [0x00280103, 'US', u16(1)],
  [0x00281052, 'DS', '-1024'],
  [0x00281053, 'DS', '1'],
];

/** A classic CT slice of 4 x 6 pixels, stored value = index unless `pixels` says otherwise. */
export function makeSliceElements(options: TestSlice = {}): Elements {
  const rows = options.rows ?? 4;
  const columns = options.columns ?? 6;
  const pixels = options.pixels ?? u16(...Array.from({ length: rows * columns }, (_, i) => i));
  const byTag = new Map<number, Elements[number]>();
  const all: Elements = [
    ...BASE_ELEMENTS,
    [0x00280010, 'US', u16(rows)],
    [0x00280011, 'US', u16(columns)],
    [0x7fe00010, 'OW', pixels],
    ...(options.change ?? []),
  ];
  for (const element of all) byTag.set(element[0], element);
  for (const tag of options.without ?? []) byTag.delete(tag);
  return [...byTag.values()].sort((a, b) => a[0] - b[0]);
}

export function buildSlice(
  options: TestSlice = {},
  encoding: TestEncoding = 'explicit-le',
  hasUndefinedLengths = false,
): Uint8Array {
  return wrapPart10(
    encodeElements(makeSliceElements(options), encoding, hasUndefinedLengths),
    SYNTAX[encoding],
  );
}

/** Encapsulated pixel data: offset table (may be empty), fragments, end marker. Goes last in a data set. */
export function encapsulate(offsets: readonly number[], fragments: readonly Uint8Array[]): Uint8Array {
  const item = (body: Uint8Array): Uint8Array => joinBytes([u16(0xfffe, 0xe000), u32(body.length), body]);
  return joinBytes([
    u16(0x7fe0, 0x0010),
    Uint8Array.of(0x4f, 0x42, 0, 0),
    u32(0xffffffff),
    item(u32(...offsets)),
    ...fragments.map(item),
    u16(0xfffe, 0xe0dd),
    u32(0),
  ]);
}
