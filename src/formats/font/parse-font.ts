/** What of a TrueType file is needed to set a line of text and to pack its glyphs. Lengths in font units. */
export interface TrueTypeFont {
  readonly unitsPerEm: number;
  /** Height of a flat capital; digits of the fonts we use are as high. */
  readonly capHeight: number;
  /** From the base line to the top of a line, and to its foot, both positive. */
  readonly ascent: number;
  readonly descent: number;
  readonly glyphCount: number;
  readonly table: (tag: string) => Uint8Array | null;
  /** 0 where the font has no such sign. */
  readonly glyphOf: (codePoint: number) => number;
  readonly advanceOf: (glyph: number) => number;
  /** Outline bytes of a glyph; empty for a blank. */
  readonly outlineOf: (glyph: number) => Uint8Array;
}

/**
 * Reads a TrueType font file.
 * Source    ISO/IEC 14496-22 (Open Font Format): head, hhea, hmtx, maxp, cmap format 4, loca, glyf, OS/2
 * Fails     null for bytes that are no TrueType font with these tables; the fonts are ours, so a caller treats it as a defect
 */
export function parseFont(bytes: Uint8Array): TrueTypeFont | null {
  const file = viewOf(bytes);
  if (bytes.length < 12 || file.getUint32(0) !== 0x00010000) return null;
  const tables = new Map<string, Uint8Array>();
  for (let i = 0; i < file.getUint16(4); i++) {
    const at = 12 + 16 * i;
    if (at + 16 > bytes.length) return null;
    const [offset, length] = [file.getUint32(at + 8), file.getUint32(at + 12)];
    if (offset + length > bytes.length) return null;
    tables.set(String.fromCharCode(...bytes.subarray(at, at + 4)), bytes.subarray(offset, offset + length));
  }
  const [head, hhea, hmtx, maxp, cmap, loca, glyf, os2] = ['head', 'hhea', 'hmtx', 'maxp', 'cmap', 'loca', 'glyf', 'OS/2'].map((tag) => tables.get(tag));
  if (!head || !hhea || !hmtx || !maxp || !cmap || !loca || !glyf || !os2) return null;
  const glyphOf = readCharacterMap(cmap);
  if (!glyphOf) return null;
  const wide = viewOf(hhea).getUint16(34);
  const [metrics, places, isLong] = [viewOf(hmtx), viewOf(loca), viewOf(head).getInt16(50) === 1];
  const placeOf = (glyph: number): number => (isLong ? places.getUint32(4 * glyph) : 2 * places.getUint16(2 * glyph));
  return {
    unitsPerEm: viewOf(head).getUint16(18),
    capHeight: measureTop(glyf, placeOf(glyphOf(0x48))), // H: older OS/2 tables do not say it
    ascent: viewOf(hhea).getInt16(4),
    descent: -viewOf(hhea).getInt16(6),
    glyphCount: viewOf(maxp).getUint16(4),
    table: (tag) => tables.get(tag) ?? null,
    glyphOf,
    advanceOf: (glyph) => metrics.getUint16(4 * Math.min(glyph, wide - 1)),
    outlineOf: (glyph) => glyf.subarray(placeOf(glyph), placeOf(glyph + 1)),
  };
}

export const viewOf = (bytes: Uint8Array): DataView => new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);

/** Width of a text without kerning, as a share of the font size. */
export function measureText(font: TrueTypeFont, text: string): number {
  return [...text].reduce((sum, sign) => sum + font.advanceOf(font.glyphOf(sign.codePointAt(0)!)), 0) / font.unitsPerEm;
}

/** yMax of an outline's box. */
const measureTop = (glyf: Uint8Array, at: number): number => viewOf(glyf).getInt16(at + 8);

/** cmap format 4 (the basic plane), for platform 3 encoding 1. */
function readCharacterMap(cmap: Uint8Array): ((codePoint: number) => number) | null {
  const view = viewOf(cmap);
  let at = -1;
  for (let i = 0; i < view.getUint16(2); i++) {
    const record = 4 + 8 * i;
    if (view.getUint16(record) === 3 && view.getUint16(record + 2) === 1) at = view.getUint32(record + 4);
  }
  if (at < 0 || view.getUint16(at) !== 4) return null;
  const twice = view.getUint16(at + 6);
  const [ends, starts, deltas, ranges] = [at + 14, at + 16 + twice, at + 16 + 2 * twice, at + 16 + 3 * twice];
  return (codePoint) => {
    if (codePoint > 0xffff) return 0;
    for (let k = 0; k < twice; k += 2) {
      if (view.getUint16(ends + k) < codePoint) continue;
      const start = view.getUint16(starts + k);
      if (start > codePoint) return 0;
      const range = view.getUint16(ranges + k);
      if (range === 0) return (codePoint + view.getUint16(deltas + k)) & 0xffff;
      const glyph = view.getUint16(ranges + k + range + 2 * (codePoint - start));
      return glyph === 0 ? 0 : (glyph + view.getUint16(deltas + k)) & 0xffff;
    }
    return 0;
  };
}
