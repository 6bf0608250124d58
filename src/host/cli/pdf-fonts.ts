import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { PdfFonts } from '../../formats/pdf/make-document.ts';

const require = createRequire(import.meta.url);
const read = (name: string): Uint8Array => readFileSync(require.resolve(`dejavu-fonts-ttf/ttf/${name}.ttf`));

/** The open fonts that every PDF embeds. */
export function readPdfFonts(): PdfFonts {
  return { serif: read('DejaVuSerif'), sans: read('DejaVuSans'), sansBold: read('DejaVuSans-Bold') };
}
