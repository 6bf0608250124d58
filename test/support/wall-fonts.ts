import { readPdfFonts, readWallFonts } from '../../src/host/cli/pdf-fonts.ts';

export const FONT_FILES = readPdfFonts();
export const WALL_FONTS = readWallFonts(FONT_FILES);
