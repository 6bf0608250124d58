import { WALL_EN } from '../../core/text/wall-en.ts';
import { CARD_MM, layOutWallCard, type CardSheet, type WallFonts } from '../report/lay-out-wall-card.ts';
import type { WallCard } from '../report/list-wall-cards.ts';
import { makePdf, POINTS_PER_MM, type PdfFonts } from './make-document.ts';
import type PDFDocument from 'pdfkit';

/**
 * wall.pdf: one card per page, A3 landscape, black on white, at the places of wall.html.
 * Shape     the same cards, fonts and `madeAt` give the same bytes; at least one card
 * Source    docs/methods/pictures.md
 */
export function writeWallPdf(cards: readonly WallCard[], fonts: WallFonts, files: PdfFonts, madeAt: string): Promise<Uint8Array> {
  return makePdf({ title: WALL_EN.title, madeAt }, files, (doc) => {
    for (const card of cards) {
      doc.addPage({ size: [CARD_MM.width * POINTS_PER_MM, CARD_MM.height * POINTS_PER_MM], margin: 0 });
      doc.save().scale(POINTS_PER_MM);
      drawSheet(doc, layOutWallCard(card, fonts), fonts);
      doc.restore();
    }
  });
}

/** The page is scaled: from here on one unit is a millimetre. */
function drawSheet(doc: PDFDocument, { card, texts, ruleMm, strip }: CardSheet, fonts: WallFonts): void {
  const box = (): unknown => doc.rect(strip.leftMm, strip.topMm, strip.widthMm, strip.heightMm);
  if (card.mark === 'stop') {
    box();
    doc.fillColor('#000', 1).fill();
  }
  if (card.mark === 'doubt') {
    doc.save();
    box();
    doc.clip();
    doc.strokeColor('#000', 1).lineWidth(4);
    for (let y = strip.topMm - strip.widthMm; y < strip.topMm + strip.heightMm + strip.widthMm; y += 9.9) doc.moveTo(strip.leftMm - 2, y).lineTo(strip.leftMm + strip.widthMm + 2, y + strip.widthMm + 4);
    doc.stroke();
    doc.restore();
    box();
    doc.lineWidth(0.8).strokeColor('#000', 1).stroke();
  }
  doc.lineWidth(0.8).strokeColor('#000', 1).moveTo(texts[0]!.leftMm, ruleMm).lineTo(CARD_MM.width - 12, ruleMm).stroke();
  for (const t of texts) {
    const font = fonts[t.font];
    // pdfkit places the top of the line at y: the base line lies the font's ascender below it.
    doc.font(`wall-${t.font}`).fontSize(t.fontMm).fillColor('#000', 1);
    doc.text(t.text, t.leftMm, t.baselineMm - (font.ascent / font.unitsPerEm) * t.fontMm, { lineBreak: false, features: { kern: false, liga: false } });
  }
}
