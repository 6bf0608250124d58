import { fail, succeed, type Result } from '../../core/result.ts';
import type { DecodeFailureCode, PixelEncoding } from './dicom-types.ts';

interface Fragment {
  /** Of the item tag, which the offset tables count from. */
  readonly itemAt: number;
  readonly dataAt: number;
  readonly length: number;
}
interface FragmentTable {
  readonly fragments: readonly Fragment[];
  readonly basicOffsets: readonly number[];
  /** First byte after the basic offset table: what all offsets count from (PS3.5 A.4). */
  readonly baseAt: number;
}

const ITEM = 0xfffee000;
const SEQUENCE_END = 0xfffee0dd;

/**
 * The compressed bytes of one frame of encapsulated pixel data, its fragments joined.
 * Order of trust: one fragment per frame; extended offset table; basic offset table; codestream start markers.
 *
 * Fails   fragments-broken, pixel-data-truncated, frame-missing
 * Source  DICOM PS3.5 A.4, PS3.3 C.7.6.3.1.8 (extended offset table)
 */
export function findFrameBytes(
  bytes: Uint8Array,
  encoding: PixelEncoding,
  frameIndex: number,
): Result<Uint8Array, DecodeFailureCode> {
  const table = scanFragments(bytes, encoding.pixelData.offset);
  if (!table.ok) return table;
  const groups = groupFragments(bytes, table.value, encoding);
  const own = groups?.[frameIndex];
  if (own === undefined) {
    return fail(
      'frame-missing',
      `Frame ${frameIndex + 1} of ${encoding.frameCount} cannot be found among ${table.value.fragments.length} fragments.`,
      'Export the series again, uncompressed or with an offset table.',
      { frame: frameIndex + 1, frames: encoding.frameCount, fragments: table.value.fragments.length },
    );
  }
  return succeed(joinFragments(bytes, own));
}

function readUint32(bytes: Uint8Array, at: number): number {
  return (bytes[at]! | (bytes[at + 1]! << 8) | (bytes[at + 2]! << 16) | (bytes[at + 3]! << 24)) >>> 0;
}
/** Tag as one number, group first; items are always little endian here (PS3.5 A.4). */
function readItemTag(bytes: Uint8Array, at: number): number {
  return (bytes[at]! | (bytes[at + 1]! << 8)) * 65536 + (bytes[at + 2]! | (bytes[at + 3]! << 8));
}

function scanFragments(bytes: Uint8Array, start: number): Result<FragmentTable, DecodeFailureCode> {
  if (start + 8 > bytes.length || readItemTag(bytes, start) !== ITEM) {
    return fail(
      'fragments-broken',
      'The compressed pixel data does not begin with an offset table item.',
      'Export the file again from its source.',
      { atByte: start },
    );
  }
  const tableLength = readUint32(bytes, start + 4);
  const baseAt = start + 8 + tableLength;
  if (baseAt > bytes.length) return failTruncated(bytes.length, baseAt);
  const basicOffsets: number[] = [];
  for (let at = start + 8; at + 4 <= baseAt; at += 4) basicOffsets.push(readUint32(bytes, at));
  const fragments: Fragment[] = [];
  let at = baseAt;
  // Each pass takes 8 bytes or more: at most bytes / 8 fragments.
  while (at + 8 <= bytes.length) {
    const tag = readItemTag(bytes, at);
    if (tag === SEQUENCE_END) return succeed({ fragments, basicOffsets, baseAt });
    if (tag !== ITEM) break;
    const length = readUint32(bytes, at + 4);
    if (at + 8 + length > bytes.length) return failTruncated(bytes.length, at + 8 + length);
    fragments.push({ itemAt: at, dataAt: at + 8, length });
    at += 8 + length;
  }
  // The end marker is missing but every fragment is whole: the frames can be had.
  if (at >= bytes.length - 1 && fragments.length > 0) return succeed({ fragments, basicOffsets, baseAt });
  return fail(
    'fragments-broken',
    `The compressed pixel data cannot be followed beyond byte ${at}.`,
    'Export the file again from its source.',
    { atByte: at },
  );
}

function failTruncated(have: number, need: number): Result<never, DecodeFailureCode> {
  return fail(
    'pixel-data-truncated',
    `The file ends inside the pixel data: ${have} bytes, at least ${need} announced.`,
    'Copy or export the file again from its source.',
    { bytes: have, announcedBytes: need },
  );
}

function groupFragments(
  bytes: Uint8Array,
  table: FragmentTable,
  encoding: PixelEncoding,
): readonly (readonly Fragment[])[] | null {
  const { fragments, basicOffsets, baseAt } = table;
  const { frameCount } = encoding;
  if (frameCount === 1) return fragments.length === 0 ? null : [fragments];
  if (fragments.length === frameCount) return fragments.map((fragment) => [fragment]);
  const extended = readExtendedOffsets(bytes, encoding);
  const starts = [extended, basicOffsets].find((offsets) => offsets.length === frameCount);
  const byTable =
    starts === undefined
      ? null
      : groupByStarts(fragments, new Set(starts.map((offset) => baseAt + offset)), frameCount);
  if (byTable !== null) return byTable;
  const marked = fragments
    .filter((fragment) => startsCodestream(bytes, fragment))
    .map((fragment) => fragment.itemAt);
  return groupByStarts(fragments, new Set(marked), frameCount);
}

function readExtendedOffsets(bytes: Uint8Array, encoding: PixelEncoding): readonly number[] {
  const place = encoding.pixelData.extendedOffsets;
  if (place === null || place.count !== encoding.frameCount || place.offset + place.count * 8 > bytes.length)
    return [];
  return Array.from({ length: place.count }, (_, i) => {
    const at = place.offset + i * 8;
    return readUint32(bytes, at) + readUint32(bytes, at + 4) * 4294967296;
  });
}

/** null unless exactly frameCount fragments are starts, the first of them among them. */
function groupByStarts(
  fragments: readonly Fragment[],
  starts: ReadonlySet<number>,
  frameCount: number,
): readonly (readonly Fragment[])[] | null {
  const groups: Fragment[][] = [];
  for (const fragment of fragments) {
    if (starts.has(fragment.itemAt)) groups.push([]);
    const current = groups.at(-1);
    if (current === undefined) return null;
    current.push(fragment);
  }
  return groups.length === frameCount ? groups : null;
}

/** JPEG and JPEG-LS SOI (FF D8 FF), JPEG 2000 and HTJ2K SOC + SIZ (FF 4F FF 51). */
function startsCodestream(bytes: Uint8Array, { dataAt, length }: Fragment): boolean {
  if (length < 4 || bytes[dataAt] !== 0xff || bytes[dataAt + 2] !== 0xff) return false;
  return bytes[dataAt + 1] === 0xd8 || (bytes[dataAt + 1] === 0x4f && bytes[dataAt + 3] === 0x51);
}

function joinFragments(bytes: Uint8Array, fragments: readonly Fragment[]): Uint8Array {
  if (fragments.length === 1)
    return bytes.subarray(fragments[0]!.dataAt, fragments[0]!.dataAt + fragments[0]!.length);
  const joined = new Uint8Array(fragments.reduce((sum, fragment) => sum + fragment.length, 0));
  let at = 0;
  for (const { dataAt, length } of fragments) {
    joined.set(bytes.subarray(dataAt, dataAt + length), at);
    at += length;
  }
  return joined;
}
