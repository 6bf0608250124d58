import { unzlibSync } from 'fflate';
import { describe, expect, test } from 'vitest';
import { FONT_FILES } from '../../../test/support/wall-fonts.ts';
import { packFont } from './pack-font.ts';
import { measureText, parseFont, viewOf, type TrueTypeFont } from './parse-font.ts';

const font = parseFont(FONT_FILES.wallBold)!;

/** The packed WOFF as the plain font file it stands for. */
function unpack(woff: Uint8Array): TrueTypeFont {
  const view = viewOf(woff);
  const count = view.getUint16(12);
  const tables = Array.from({ length: count }, (_, i) => {
    const row = 44 + 20 * i;
    const [at, packed, plain] = [view.getUint32(row + 4), view.getUint32(row + 8), view.getUint32(row + 12)];
    const bytes = woff.subarray(at, at + packed);
    return { tag: woff.subarray(row, row + 4), bytes: packed === plain ? bytes : unzlibSync(bytes) };
  });
  const file = new Uint8Array(12 + 16 * count + tables.reduce((n, t) => n + ((t.bytes.length + 3) & ~3), 0));
  const out = viewOf(file);
  out.setUint32(0, 0x00010000);
  out.setUint16(4, count);
  let at = 12 + 16 * count;
  tables.forEach(({ tag, bytes }, i) => {
    file.set(tag, 12 + 16 * i);
    out.setUint32(12 + 16 * i + 8, at);
    out.setUint32(12 + 16 * i + 12, bytes.length);
    file.set(bytes, at);
    at += (bytes.length + 3) & ~3;
  });
  return parseFont(file)!;
}

describe('parseFont', () => {
  test('reads the measures of the font', () => {
    expect([font.unitsPerEm, font.capHeight]).toEqual([2048, 1493]);
    expect(font.glyphOf(0x41)).toBeGreaterThan(0);
    expect(font.glyphOf(0xe000)).toBe(0);
    expect(font.glyphOf(0x1f600)).toBe(0);
    expect(measureText(font, '00')).toBeCloseTo(2 * measureText(font, '0'), 12);
  });
  test('gives null for bytes that are no such font', () => {
    expect(parseFont(new Uint8Array(0))).toBeNull();
    expect(parseFont(new TextEncoder().encode('OTTO and no more than that'))).toBeNull();
    expect(parseFont(FONT_FILES.wallBold.subarray(0, 40))).toBeNull();
    expect(parseFont(FONT_FILES.wallBold.subarray(0, 60_000))).toBeNull();
  });
});

describe('packFont', () => {
  const text = 'CANNOT SAY 1.0–4.6 äé…';
  test('keeps each sign of the text with its width and outline, and no other', () => {
    const packed = unpack(packFont(font, text));
    for (const sign of text) {
      const code = sign.codePointAt(0)!;
      const [was, is] = [font.glyphOf(code), packed.glyphOf(code)];
      expect(packed.advanceOf(is), sign).toBe(font.advanceOf(was));
      const [a, b] = [font.outlineOf(was), packed.outlineOf(is)];
      expect(b.length - a.length, sign).toBeLessThan(4);
      if (a.length > 0 && viewOf(a).getInt16(0) >= 0) expect(Buffer.from(b.subarray(0, a.length)).equals(Buffer.from(a)), sign).toBe(true);
    }
    expect(packed.glyphOf('Q'.charCodeAt(0))).toBe(0);
    expect(packed.glyphCount).toBeLessThan(40);
    expect(packed.capHeight).toBeGreaterThan(0);
  });
  test('takes the parts of a composed sign along', () => {
    const composed = font.outlineOf(font.glyphOf(0xe9)); // é
    expect(viewOf(composed).getInt16(0)).toBe(-1);
    const packed = unpack(packFont(font, 'Hé'));
    expect(packed.glyphCount).toBeGreaterThanOrEqual(5); // none, H, é, e, accent
    const at = 12;
    const part = viewOf(packed.outlineOf(packed.glyphOf(0xe9))).getUint16(at);
    expect(part).toBeLessThan(packed.glyphCount);
    expect(packed.outlineOf(part).length).toBeGreaterThan(0);
  });
  test('is the same for the same signs, small, and leaves the font as it was', () => {
    const before = Buffer.from(FONT_FILES.wallBold).toString('base64');
    const [one, two] = [packFont(font, 'SAY 12'), packFont(font, '21 YAS')];
    expect(Buffer.from(one).equals(Buffer.from(two))).toBe(true);
    expect(one.length).toBeLessThan(30_000);
    expect(Buffer.from(FONT_FILES.wallBold).toString('base64') === before).toBe(true);
  });
});
