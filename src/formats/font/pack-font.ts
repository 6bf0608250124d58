import { zlibSync } from 'fflate';
import { viewOf, type TrueTypeFont } from './parse-font.ts';

/**
 * A WOFF file with the glyphs of one text only, for a page that stands alone.
 * Shape     the same font and text give the same bytes; the licence in the name table stays
 * Source    W3C WOFF 1.0; ISO/IEC 14496-22 for the tables. Kerning is left out: the page sets text without it
 */
export function packFont(font: TrueTypeFont, text: string): Uint8Array {
  const codePoints = [...new Set([...text].map((sign) => sign.codePointAt(0)!))].filter((c) => c <= 0xffff && font.glyphOf(c) !== 0).sort((a, b) => a - b);
  const glyphs = closeOverParts(font, [0, ...codePoints.map(font.glyphOf)]);
  const newOf = new Map(glyphs.map((glyph, i) => [glyph, i]));
  const outlines = glyphs.map((glyph) => renumberParts(font.outlineOf(glyph), newOf));
  const keep = (tag: string): [string, Uint8Array][] => {
    const bytes = font.table(tag);
    return bytes ? [[tag, bytes]] : [];
  };
  const tables: [string, Uint8Array][] = [
    ...keep('OS/2'), ['cmap', writeCharacterMap(codePoints.map((c) => [c, newOf.get(font.glyphOf(c))!] as const))], ...keep('cvt '), ...keep('fpgm'),
    ['glyf', join(outlines)], ['head', change(font.table('head')!, (v) => v.setInt16(50, 1))], ['hhea', change(font.table('hhea')!, (v) => v.setUint16(34, glyphs.length))],
    ['hmtx', writeMetrics(font, glyphs)], ['loca', writePlaces(outlines)], ['maxp', change(font.table('maxp')!, (v) => v.setUint16(4, glyphs.length))],
    ...keep('name'), ['post', change(font.table('post')!.subarray(0, 32), (v) => v.setUint32(0, 0x00030000))], ...keep('prep'),
  ];
  return writeWoff(tables);
}

const PARTS_MORE = 0x20;
/** Parts of a composed glyph: where its glyph number stands, and that number. */
function listParts(outline: Uint8Array): { readonly at: number; readonly glyph: number }[] {
  const view = viewOf(outline);
  if (outline.length < 10 || view.getInt16(0) >= 0) return [];
  const parts: { at: number; glyph: number }[] = [];
  for (let at = 10, flags = PARTS_MORE; flags & PARTS_MORE; ) {
    flags = view.getUint16(at);
    parts.push({ at: at + 2, glyph: view.getUint16(at + 2) });
    at += 4 + (flags & 1 ? 4 : 2) + (flags & 8 ? 2 : flags & 0x40 ? 4 : flags & 0x80 ? 8 : 0);
  }
  return parts;
}

function closeOverParts(font: TrueTypeFont, wanted: readonly number[]): readonly number[] {
  const glyphs = new Set<number>();
  const add = (glyph: number): void => {
    if (glyphs.has(glyph)) return;
    glyphs.add(glyph);
    for (const part of listParts(font.outlineOf(glyph))) add(part.glyph);
  };
  wanted.forEach(add);
  return [...glyphs];
}

/** A copy with the new glyph numbers, padded to four bytes. */
function renumberParts(outline: Uint8Array, newOf: ReadonlyMap<number, number>): Uint8Array {
  const copy = new Uint8Array((outline.length + 3) & ~3);
  copy.set(outline);
  for (const { at, glyph } of listParts(outline)) viewOf(copy).setUint16(at, newOf.get(glyph)!);
  return copy;
}

function change(bytes: Uint8Array, edit: (view: DataView) => void): Uint8Array {
  const copy = new Uint8Array(bytes); // not slice: Node's Buffer would hand out the same memory
  edit(viewOf(copy));
  return copy;
}

function join(parts: readonly Uint8Array[]): Uint8Array {
  const all = new Uint8Array(parts.reduce((n, p) => n + p.length, 0));
  let at = 0;
  for (const part of parts) {
    all.set(part, at);
    at += part.length;
  }
  return all;
}

function writeMetrics(font: TrueTypeFont, glyphs: readonly number[]): Uint8Array {
  const bytes = new Uint8Array(4 * glyphs.length);
  glyphs.forEach((glyph, i) => {
    const outline = font.outlineOf(glyph);
    viewOf(bytes).setUint16(4 * i, font.advanceOf(glyph));
    viewOf(bytes).setInt16(4 * i + 2, outline.length >= 10 ? viewOf(outline).getInt16(2) : 0); // left bearing = xMin
  });
  return bytes;
}

function writePlaces(outlines: readonly Uint8Array[]): Uint8Array {
  const bytes = new Uint8Array(4 * (outlines.length + 1));
  let at = 0;
  outlines.forEach((outline, i) => viewOf(bytes).setUint32(4 * (i + 1), (at += outline.length)));
  return bytes;
}

/** Format 4 with one segment per sign, and the closing one. */
function writeCharacterMap(pairs: readonly (readonly [codePoint: number, glyph: number])[]): Uint8Array {
  const segments = [...pairs.filter(([c]) => c < 0xffff), [0xffff, 0] as const];
  const n = segments.length;
  const bytes = new Uint8Array(12 + 16 + 8 * n);
  const view = viewOf(bytes);
  const power = 2 ** Math.floor(Math.log2(n));
  view.setUint16(2, 1);
  view.setUint16(4, 3);
  view.setUint16(6, 1);
  view.setUint32(8, 12);
  [4, 16 + 8 * n, 0, 2 * n, 2 * power, Math.log2(power), 2 * (n - power)].forEach((v, i) => view.setUint16(12 + 2 * i, v));
  segments.forEach(([c, glyph], i) => {
    view.setUint16(26 + 2 * i, c);
    view.setUint16(28 + 2 * n + 2 * i, c);
    view.setUint16(28 + 4 * n + 2 * i, c === 0xffff ? 1 : (glyph - c) & 0xffff);
  });
  return bytes;
}

function sumTable(bytes: Uint8Array): number {
  const padded = new Uint8Array((bytes.length + 3) & ~3);
  padded.set(bytes);
  let sum = 0;
  for (let i = 0; i < padded.length; i += 4) sum = (sum + viewOf(padded).getUint32(i)) >>> 0;
  return sum;
}

function writeWoff(tables: readonly (readonly [tag: string, bytes: Uint8Array])[]): Uint8Array {
  const packed = tables.map(([, bytes]) => {
    const small = zlibSync(bytes, { level: 9 });
    return small.length < bytes.length ? small : bytes;
  });
  const head = new Uint8Array(44 + 20 * tables.length);
  const view = viewOf(head);
  let at = head.length;
  let plain = 12 + 16 * tables.length;
  tables.forEach(([tag, bytes], i) => {
    const row = 44 + 20 * i;
    [...tag].forEach((sign, k) => view.setUint8(row + k, sign.charCodeAt(0)));
    [at, packed[i]!.length, bytes.length, sumTable(bytes)].forEach((v, k) => view.setUint32(row + 4 + 4 * k, v));
    at += (packed[i]!.length + 3) & ~3;
    plain += (bytes.length + 3) & ~3;
  });
  view.setUint32(0, 0x774f4646); // wOFF
  view.setUint32(4, 0x00010000);
  view.setUint32(8, at);
  view.setUint16(12, tables.length);
  view.setUint32(16, plain);
  view.setUint16(20, 1);
  return join([head, ...packed.map((bytes) => {
    const padded = new Uint8Array((bytes.length + 3) & ~3);
    padded.set(bytes);
    return padded;
  })]);
}
