import { deflateSync } from 'fflate';
import { encodeRleFrame } from './write-rle-frame.ts';
import { concat, encodeElements, encodeHead, UNDEFINED_LENGTH, type Encoding, type WritableElement } from './write-elements.ts';

const PIXEL_DATA = 0x7fe00010;
const LITTLE: Encoding = { isExplicit: true, isBigEndian: false };
/** Root of UUID-derived UIDs (PS3.5 B.2); the implementation's own number is made from the program's name. */
const IMPLEMENTATION_UID = '2.25.154823170956642218073114903377146205889';

/** How pixels leave: native in one of four ways, or one compressed frame each. */
export interface PlainSyntax {
  readonly kind: 'explicit-little' | 'implicit-little' | 'explicit-big' | 'deflated' | 'rle';
}
export interface EncapsulatedSyntax {
  readonly kind: 'encapsulated';
  readonly transferSyntaxUid: string;
  /** Little-endian samples of one frame, 16 bit or bytes as handed over, to its codestream. */
  encodeFrame(samples: Uint8Array): Uint8Array;
}
export type WriteSyntax = PlainSyntax | EncapsulatedSyntax;

function uidOf(syntax: WriteSyntax): string {
  switch (syntax.kind) {
    case 'implicit-little': return '1.2.840.10008.1.2';
    case 'explicit-little': return '1.2.840.10008.1.2.1';
    case 'deflated': return '1.2.840.10008.1.2.1.99';
    case 'explicit-big': return '1.2.840.10008.1.2.2';
    case 'rle': return '1.2.840.10008.1.2.5';
    default: return 'transferSyntaxUid' in syntax ? syntax.transferSyntaxUid : '';
  }
}

function encapsulate(frames: readonly Uint8Array[]): Uint8Array {
  const item = (bytes: Uint8Array): Uint8Array => {
    const head = new DataView(new ArrayBuffer(8));
    head.setUint16(0, 0xfffe, true);
    head.setUint16(2, 0xe000, true);
    head.setUint32(4, bytes.length + (bytes.length % 2), true);
    return concat([new Uint8Array(head.buffer), bytes, new Uint8Array(bytes.length % 2)]);
  };
  const end = Uint8Array.of(0xfe, 0xff, 0xdd, 0xe0, 0, 0, 0, 0);
  return concat([encodeHead(PIXEL_DATA, 'OB', UNDEFINED_LENGTH, LITTLE), item(new Uint8Array(0)), ...frames.map(item), end]);
}

/**
 * A Part 10 file (PS3.10 section 7): preamble, meta group, data set.
 * Shape     `pixels` holds all frames after another, 16 bit per sample, or 8 as bytes; `frames` how many there are
 * Source    PS3.10 7.1, PS3.5 A.1-A.5
 */
export function writePart10(
  dataset: readonly WritableElement[],
  pixels: Uint16Array | Int16Array | Uint8Array,
  frames: number,
  identity: { readonly sopClassUid: string; readonly sopInstanceUid: string },
  syntax: WriteSyntax,
): Uint8Array {
  const isByte = pixels instanceof Uint8Array;
  const native: WritableElement = { tag: PIXEL_DATA, vr: isByte ? 'OB' : 'OW', value: pixels };
  let body: Uint8Array;
  const encode = 'encodeFrame' in syntax ? (frame: Uint8Array): Uint8Array => syntax.encodeFrame(frame) : syntax.kind === 'rle' ? (frame: Uint8Array): Uint8Array => encodeRleFrame(frame, isByte ? 1 : 2) : null;
  if (encode) {
    const bytes = isByte ? pixels : encodeLittle(pixels);
    const size = bytes.length / frames;
    const coded = Array.from({ length: frames }, (_, f) => encode(bytes.subarray(f * size, (f + 1) * size)));
    body = concat([encodeElements(dataset, LITTLE), encapsulate(coded)]);
  } else {
    const encoding: Encoding = { isExplicit: syntax.kind !== 'implicit-little', isBigEndian: syntax.kind === 'explicit-big' };
    body = encodeElements([...dataset, native], encoding);
    if (syntax.kind === 'deflated') body = deflateSync(body, { level: 6 });
    if (body.length % 2 === 1) body = concat([body, new Uint8Array(1)]);
  }
  const meta: WritableElement[] = [
    { tag: 0x00020001, vr: 'OB', value: Uint8Array.of(0, 1) },
    { tag: 0x00020002, vr: 'UI', value: identity.sopClassUid },
    { tag: 0x00020003, vr: 'UI', value: identity.sopInstanceUid },
    { tag: 0x00020010, vr: 'UI', value: uidOf(syntax) },
    { tag: 0x00020012, vr: 'UI', value: IMPLEMENTATION_UID },
    { tag: 0x00020013, vr: 'SH', value: 'TRINADIR' },
  ];
  const group = encodeElements(meta, LITTLE);
  const length = encodeElements([{ tag: 0x00020000, vr: 'UL', value: group.length }], LITTLE);
  const preamble = new Uint8Array(132);
  preamble.set([0x44, 0x49, 0x43, 0x4d], 128);
  return concat([preamble, length, group, body]);
}

function encodeLittle(pixels: Uint16Array | Int16Array): Uint8Array {
  const out = new Uint8Array(pixels.length * 2);
  const view = new DataView(out.buffer);
  for (let i = 0; i < pixels.length; i++) view.setUint16(i * 2, pixels[i]! & 0xffff, true);
  return out;
}
