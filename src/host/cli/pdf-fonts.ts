import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { parseFont } from '../../formats/font/parse-font.ts';
import type { PdfFonts } from '../../formats/pdf/make-document.ts';
import type { WallFonts } from '../../formats/report/lay-out-wall-card.ts';

const require = createRequire(import.meta.url);
const read = (name: string): Uint8Array => readFileSync(require.resolve(`dejavu-fonts-ttf/ttf/${name}.ttf`));

/** The open fonts that every PDF embeds. */
export function readPdfFonts(): PdfFonts {
  return { serif: read('DejaVuSerif'), sans: read('DejaVuSans'), sansBold: read('DejaVuSans-Bold'), wallPlain: read('DejaVuSansCondensed'), wallBold: read('DejaVuSansCondensed-Bold') };
}

/** The same wall fonts with their measures, for setting the cards. */
export function readWallFonts(files: PdfFonts): WallFonts {
  const [bold, plain] = [parseFont(files.wallBold), parseFont(files.wallPlain)];
  if (!bold || !plain) throw new Error('The fonts of the wall cards cannot be read.'); // they come with the package
  return { bold, plain };
}
