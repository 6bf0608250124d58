import dicomParser, { type ByteArrayParser, type DataSet, type Element } from 'dicom-parser';
import { fail, succeed, type Failure, type Result } from '../../core/result.ts';
import type { ParseFailureCode, PixelLocation } from './dicom-types.ts';
import { inflateBounded } from '../inflate/inflate-bounded.ts';

/** A data set up to, not including, the value of its pixel data. */
export interface DicomDataset {
  readonly transferSyntaxUid: string;
  readonly hasMetaHeader: boolean;
  readonly isTransferSyntaxGuessed: boolean;
  /** Top-level elements by tag ('x00280010'), group 0002 among them. Read them through read-values.ts. */
  readonly values: DataSet;
  readonly pixelData: PixelLocation | null;
  /** Bytes of the whole file, also when only its head was handed over. */
  readonly fileLength: number;
}

export interface ParseOptions {
  /** Bytes of the whole file when `bytes` is only its head. */
  readonly fileLength?: number;
  /** Further sequences of known length to read, as group x 65536 + element: those of waveforms, reports, ... */
  readonly sequences?: ReadonlySet<number>;
}

type Encoding = 'implicit-le' | 'explicit-le' | 'explicit-be';
interface ParsedBody {
  readonly pixelData: Omit<PixelLocation, 'isDeflated'> | null;
}

const IMPLICIT_LE = '1.2.840.10008.1.2';
const EXPLICIT_LE = '1.2.840.10008.1.2.1';
const EXPLICIT_BE = '1.2.840.10008.1.2.2';
const DEFLATED_LE = '1.2.840.10008.1.2.1.99';
const UNDEFINED_LENGTH = 0xffffffff;
const PIXEL_DATA = 0x7fe00010;
const EXTENDED_OFFSET_TABLE = 0x7fe00001;

/**
 * Sequences whose items are read: functional groups, contrast, DICOMDIR records. All others of known length are
 * stepped over unread, so damage inside them costs nothing.
 */
const READ_SEQUENCES: ReadonlySet<number> = new Set([0x52009229, 0x52009230, 0x00180012, 0x00041220]);
/** VRs with a 4-byte length (PS3.5 table 7.1-1). dicom-parser knows fewer of them: OV, SV and UV came later. */
const LONG_VRS: ReadonlySet<string> = new Set([
  'OB',
  'OD',
  'OF',
  'OL',
  'OV',
  'OW',
  'SQ',
  'SV',
  'UC',
  'UN',
  'UR',
  'UT',
  'UV',
]);

/** Reads of 2 or 4 bytes for one file; a full head takes a few thousand, 20,000 frames of functional groups 6 million. */
const MAX_READS = 8_000_000;
/** Elements outside sequences; a CT file has a few hundred. */
const MAX_TOP_LEVEL_ELEMENTS = 20_000;
const FIRST_INFLATE_BYTES = 1 << 20;
const MAX_INFLATE_HEAD_BYTES = 1 << 26;

/**
 * Bytes of a DICOM file, or of its head, to elements. Takes files without preamble, without meta header or with a
 * wrong transfer syntax (the value representation letters decide), and stops before the pixels.
 *
 * Fails   not-dicom, head-too-short (only with options.fileLength), file-truncated, structure-broken,
 *         structure-too-large, deflate-broken
 * Source  DICOM PS3.5 sections 6.2.2, 7.1-7.5, A.4, A.5; PS3.10 section 7.1; docs/methods/dicom-intake.md
 */
export function parsePart10(
  bytes: Uint8Array,
  options: ParseOptions = {},
): Result<DicomDataset, ParseFailureCode> {
  const fileLength = Math.max(options.fileLength ?? bytes.length, bytes.length);
  const isHead = bytes.length < fileLength;
  const meter = { readsLeft: MAX_READS };
  const elements: { [tag: string]: Element } = {};
  const metaStart = findMetaHeader(bytes);
  if (metaStart === null && !looksLikeDataset(bytes, 0)) {
    return fail(
      'not-dicom',
      'The file does not begin like a DICOM file.',
      'Leave it out; only DICOM CT slices are used.',
      { bytes: fileLength },
    );
  }
  let bodyStart = 0;
  let declaredUid: string | null = null;
  if (metaStart !== null) {
    const meta = parseMetaHeader(bytes, metaStart, elements);
    if (meta === null) return failShort(isHead, bytes.length, fileLength);
    bodyStart = meta.end;
    declaredUid = meta.transferSyntaxUid;
  }

  let body = bytes;
  const isDeflated = declaredUid === DEFLATED_LE;
  for (let limit = FIRST_INFLATE_BYTES; ; limit *= 8) {
    let isBodyHead = isHead;
    if (isDeflated) {
      const inflated = inflateBody(bytes, bodyStart, limit, isHead);
      if (!inflated.ok) return inflated;
      body = inflated.value;
      isBodyHead = isHead || body.length >= bodyStart + limit;
    }
    if (body.length <= bodyStart) return failShort(isHead, bytes.length, fileLength);
    const encoding = chooseEncoding(declaredUid, body, bodyStart);
    const bodyElements = { ...elements };
    const parser = makeMeteredParser(encoding, meter);
    const isRead = (number: number): boolean => READ_SEQUENCES.has(number) || options.sequences?.has(number) === true;
    const parsed = parseBody(body, bodyStart, encoding, parser, bodyElements, isBodyHead, isRead);
    if (!parsed.ok) {
      const canInflateMore = isDeflated && body.length >= bodyStart + limit && limit < MAX_INFLATE_HEAD_BYTES;
      if (parsed.failure.code === 'head-too-short' && canInflateMore) continue;
      return parsed.failure.code === 'head-too-short' && !isHead ? failTooLarge(body.length) : parsed;
    }
    const location = parsed.value.pixelData;
    if (location?.length != null && !isDeflated && location.offset + location.length > fileLength) {
      return failTruncated(fileLength, location.offset + location.length);
    }
    meter.readsLeft = Infinity; // from here on, reads are single values asked for by name
    return succeed({
      transferSyntaxUid:
        declaredUid !== null && isUidFor(declaredUid, encoding) ? declaredUid : uidOf(encoding),
      hasMetaHeader: metaStart !== null,
      isTransferSyntaxGuessed: declaredUid === null || !isUidFor(declaredUid, encoding),
      values: new dicomParser.DataSet(parser, body, bodyElements),
      pixelData: location === null ? null : { ...location, isDeflated },
      fileLength,
    });
  }
}

function inflateBody(
  bytes: Uint8Array,
  bodyStart: number,
  limit: number,
  isHead: boolean,
): Result<Uint8Array, ParseFailureCode> {
  const inflated = inflateBounded(bytes.subarray(bodyStart), {
    kind: 'raw',
    maxBytes: limit,
    atBound: 'stop',
    isPartial: isHead,
  });
  if (!inflated.ok)
    return fail(
      'deflate-broken',
      inflated.failure.message,
      inflated.failure.nextStep,
      inflated.failure.evidence,
    );
  return succeed(prependHead(bytes, bodyStart, inflated.value));
}

/** The meta header is not deflated: offsets count in head + inflated body. */
export function prependHead(bytes: Uint8Array, bodyStart: number, inflated: Uint8Array): Uint8Array {
  const whole = new Uint8Array(bodyStart + inflated.length);
  whole.set(bytes.subarray(0, bodyStart), 0);
  whole.set(inflated, bodyStart);
  return whole;
}

/** First byte after the meta header; 0 when the file has none. Where a deflated body begins. */
export function findBodyStart(bytes: Uint8Array): number {
  const start = findMetaHeader(bytes);
  return start === null ? 0 : (parseMetaHeader(bytes, start, {})?.end ?? 0);
}

function findMetaHeader(bytes: Uint8Array): number | null {
  const isPrefixAt = (at: number): boolean =>
    bytes.length >= at + 4 &&
    bytes[at] === 0x44 &&
    bytes[at + 1] === 0x49 &&
    bytes[at + 2] === 0x43 &&
    bytes[at + 3] === 0x4d;
  if (isPrefixAt(128)) return 132;
  if (isPrefixAt(0)) return 4;
  return bytes.length >= 8 && bytes[0] === 2 && bytes[1] === 0 && hasVrLetters(bytes, 4) ? 0 : null;
}

/** Group 0002, always explicit little endian (PS3.10 7.1). null when it runs past the bytes. */
function parseMetaHeader(
  bytes: Uint8Array,
  start: number,
  elements: { [tag: string]: Element },
): { end: number; transferSyntaxUid: string | null } | null {
  const read = dicomParser.littleEndianByteArrayParser;
  let at = start;
  let transferSyntaxUid: string | null = null;
  // Each pass takes 8 bytes or more, so the loop ends with the bytes.
  while (at + 8 <= bytes.length && read.readUint16(bytes, at) === 2 && hasVrLetters(bytes, at + 4)) {
    const vr = String.fromCharCode(bytes[at + 4]!, bytes[at + 5]!);
    const isLong = LONG_VRS.has(vr);
    if (isLong && at + 12 > bytes.length) return null;
    const length = isLong ? read.readUint32(bytes, at + 8) : read.readUint16(bytes, at + 6);
    const dataOffset = at + (isLong ? 12 : 8);
    if (dataOffset + length > bytes.length) return null;
    const tag = `x0002${read
      .readUint16(bytes, at + 2)
      .toString(16)
      .padStart(4, '0')}`;
    elements[tag] = { tag, vr, length, dataOffset, parser: read };
    if (tag === 'x00020010') {
      const text = readAscii(bytes, dataOffset, Math.min(length, 64));
      transferSyntaxUid = /^[0-9.]{5,64}$/.test(text) ? text : null;
    }
    at = dataOffset + length;
  }
  return { end: at, transferSyntaxUid };
}

function readAscii(bytes: Uint8Array, offset: number, length: number): string {
  let text = '';
  for (let i = offset; i < offset + length && bytes[i] !== 0; i++) text += String.fromCharCode(bytes[i]!);
  return text.trim();
}

function isUpper(byte: number | undefined): boolean {
  return byte !== undefined && byte >= 0x41 && byte <= 0x5a;
}
function hasVrLetters(bytes: Uint8Array, at: number): boolean {
  return isUpper(bytes[at]) && isUpper(bytes[at + 1]);
}

/** A data set without meta header starts with a low even group and a length that stays modest. */
function looksLikeDataset(bytes: Uint8Array, at: number): boolean {
  if (bytes.length < at + 8) return false;
  const little = bytes[at]! | (bytes[at + 1]! << 8);
  const big = (bytes[at]! << 8) | bytes[at + 1]!;
  const isLowGroup = (group: number): boolean => group === 0x0008 || group === 0x0004;
  if (hasVrLetters(bytes, at + 4)) return isLowGroup(little) || isLowGroup(big);
  const length = dicomParser.littleEndianByteArrayParser.readUint32(bytes, at + 4);
  return isLowGroup(little) && length < 4096;
}

/** The first element's letters outvote a wrong transfer syntax UID; compressed syntaxes are explicit little endian. */
function chooseEncoding(declaredUid: string | null, bytes: Uint8Array, at: number): Encoding {
  const isExplicit = hasVrLetters(bytes, at + 4);
  if (!isExplicit) return 'implicit-le';
  const little = bytes[at]! | (bytes[at + 1]! << 8);
  const big = (bytes[at]! << 8) | bytes[at + 1]!;
  if (declaredUid === EXPLICIT_BE) return big <= little ? 'explicit-be' : 'explicit-le';
  return big < little && (big === 0x0008 || big === 0x0004) ? 'explicit-be' : 'explicit-le';
}
function uidOf(encoding: Encoding): string {
  return encoding === 'implicit-le' ? IMPLICIT_LE : encoding === 'explicit-be' ? EXPLICIT_BE : EXPLICIT_LE;
}
function isUidFor(uid: string, encoding: Encoding): boolean {
  if (uid === IMPLICIT_LE) return encoding === 'implicit-le';
  if (uid === EXPLICIT_BE) return encoding === 'explicit-be';
  return encoding === 'explicit-le';
}

class StepLimitReached extends Error {}

/** A byte reader that stops a crafted file after a fixed number of reads, however its elements are laid out. */
function makeMeteredParser(encoding: Encoding, meter: { readsLeft: number }): ByteArrayParser {
  const base =
    encoding === 'explicit-be'
      ? dicomParser.bigEndianByteArrayParser
      : dicomParser.littleEndianByteArrayParser;
  const count = (): void => {
    if (--meter.readsLeft < 0) throw new StepLimitReached();
  };
  return {
    ...base,
    readUint16: (bytes, position) => (count(), base.readUint16(bytes, position)),
    readUint32: (bytes, position) => (count(), base.readUint32(bytes, position)),
  };
}

function parseBody(
  bytes: Uint8Array,
  start: number,
  encoding: Encoding,
  parser: ByteArrayParser,
  elements: { [tag: string]: Element },
  isHead: boolean,
  isReadSequence: (number: number) => boolean,
): Result<ParsedBody, ParseFailureCode> {
  const stream = new dicomParser.ByteStream(parser, bytes, start);
  const warnings: string[] = [];
  const isExplicit = encoding !== 'implicit-le';
  let extendedOffsets: PixelLocation['extendedOffsets'] = null;
  let at = start;
  let elementCount = 0;
  try {
    while (at + 8 <= bytes.length) {
      if (++elementCount > MAX_TOP_LEVEL_ELEMENTS) return failTooLarge(at);
      const element = readElementHead(parser, bytes, at, isExplicit);
      if (element === null) return failShort(isHead, bytes.length, bytes.length);
      const { number, tag, length, dataOffset } = element;
      if (number === PIXEL_DATA) {
        const isEncapsulated = length === UNDEFINED_LENGTH;
        elements[tag] = element;
        return succeed({
          pixelData: {
            offset: dataOffset,
            length: isEncapsulated ? null : length,
            isEncapsulated,
            extendedOffsets,
          },
        });
      }
      if (length === UNDEFINED_LENGTH || isReadSequence(number)) {
        stream.position = dataOffset;
        const shape: Element = { ...element, hadUndefinedLength: length === UNDEFINED_LENGTH };
        if (length !== UNDEFINED_LENGTH && dataOffset + length > bytes.length) {
          return failShort(isHead, bytes.length, dataOffset + length);
        }
        // UN hides an implicit little-endian sequence (PS3.5 6.2.2 note 4).
        if (isExplicit && element.vr !== 'UN') dicomParser.readSequenceItemsExplicit(stream, shape, warnings);
        else dicomParser.readSequenceItemsImplicit(stream, shape);
        if (isHead && stream.position >= bytes.length) return failShort(isHead, bytes.length, bytes.length);
        if (isReadSequence(number)) elements[tag] = shape;
        at = length === UNDEFINED_LENGTH ? stream.position : dataOffset + length;
        continue;
      }
      const end = dataOffset + length;
      if (end > bytes.length) return failShort(isHead, bytes.length, end);
      elements[tag] = element;
      if (number === EXTENDED_OFFSET_TABLE)
        extendedOffsets = { offset: dataOffset, count: Math.floor(length / 8) };
      at = end;
    }
  } catch (problem) {
    return classifyThrow(problem, at, isHead, bytes.length);
  }
  if (isHead) return failShort(true, bytes.length, bytes.length);
  // A few zeros at the end are padding; anything else there is the beginning of an element.
  if (bytes.subarray(at).some((byte) => byte !== 0)) return failShort(false, bytes.length, at + 8);
  return Object.keys(elements).length === 0 ? failBroken(at) : succeed({ pixelData: null });
}

function readElementHead(
  parser: ByteArrayParser,
  bytes: Uint8Array,
  at: number,
  isExplicit: boolean,
): (Element & { number: number }) | null {
  const number = parser.readUint16(bytes, at) * 65536 + parser.readUint16(bytes, at + 2);
  const tag = `x${number.toString(16).padStart(8, '0')}`;
  if (!isExplicit) return { number, tag, length: parser.readUint32(bytes, at + 4), dataOffset: at + 8 };
  const vr = String.fromCharCode(bytes[at + 4]!, bytes[at + 5]!);
  if (!LONG_VRS.has(vr))
    return { number, tag, vr, length: parser.readUint16(bytes, at + 6), dataOffset: at + 8 };
  if (at + 12 > bytes.length) return null;
  return { number, tag, vr, length: parser.readUint32(bytes, at + 8), dataOffset: at + 12 };
}

/** dicom-parser throws strings and errors; a read past the end of a head only means that more is needed. */
function classifyThrow(
  problem: unknown,
  at: number,
  isHead: boolean,
  length: number,
): { readonly ok: false; readonly failure: Failure<ParseFailureCode> } {
  // A stack overflow (RangeError) is how nesting without end shows itself; V8 unwinds it safely.
  if (problem instanceof StepLimitReached || problem instanceof RangeError) return failTooLarge(length);
  return isHead ? failShort(true, length, length) : failBroken(at);
}

function failShort(isHead: boolean, have: number, need: number): ReturnType<typeof classifyThrow> {
  if (!isHead) return failTruncated(have, Math.max(need, have));
  return fail(
    'head-too-short',
    `The first ${have} bytes do not reach the pixel data.`,
    'Read more of the file and parse again.',
    {
      headBytes: have,
    },
  );
}
function failTruncated(have: number, need: number): ReturnType<typeof classifyThrow> {
  return fail(
    'file-truncated',
    `The file ends early: it has ${have} bytes and announces at least ${need}.`,
    'Copy or export the file again from its source.',
    { bytes: have, announcedBytes: need },
  );
}
function failBroken(at: number): ReturnType<typeof classifyThrow> {
  return fail(
    'structure-broken',
    `The DICOM elements cannot be followed beyond byte ${at}.`,
    'Export the file again from its source.',
    { atByte: at },
  );
}
function failTooLarge(length: number): ReturnType<typeof classifyThrow> {
  return fail(
    'structure-too-large',
    `The DICOM structure is nested or long beyond what a CT file needs (${length} bytes read).`,
    'Do not use this file; export it again from its source.',
    { bytes: length, maxReads: MAX_READS },
  );
}
