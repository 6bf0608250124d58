import { signal } from '@preact/signals';
import boldUrl from 'dejavu-fonts-ttf/ttf/DejaVuSansCondensed-Bold.ttf?url';
import plainUrl from 'dejavu-fonts-ttf/ttf/DejaVuSansCondensed.ttf?url';
import { readPageFile } from '../api/call-api.ts';
import { parseFont, type TrueTypeFont } from '../../formats/font/parse-font.ts';
import type { WallFonts } from '../../formats/report/lay-out-wall-card.ts';

/** The letters of the wall with their measures: their heights in mm are known only for a font of our own. Null until read. */
export const wallFonts = signal<WallFonts | null>(null);
const AGAIN_MS = 3000;
let isReading = false;

export async function readWallFonts(): Promise<void> {
  if (isReading || wallFonts.value) return;
  isReading = true;
  const [bold, plain] = await Promise.all([readFace('wall-bold', boldUrl), readFace('wall-plain', plainUrl)]);
  isReading = false;
  if (bold && plain) wallFonts.value = { bold, plain };
  else setTimeout(() => void readWallFonts(), AGAIN_MS);
}

async function readFace(family: string, url: string): Promise<TrueTypeFont | null> {
  try {
    const bytes = await readPageFile(url);
    const font = bytes && parseFont(new Uint8Array(bytes));
    if (!bytes || !font) return null;
    document.fonts.add(await new FontFace(family, bytes).load());
    return font;
  } catch {
    return null; // no server yet: tried again
  }
}
