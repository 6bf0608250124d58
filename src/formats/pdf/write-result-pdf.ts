import { parseDocument } from 'htmlparser2';
import { REPORT_EN } from '../../core/text/report-en.ts';
import type { ResultSheet } from '../report/make-result-sheet.ts';
import { drawBlocks, putHeading, putText, startFlow } from './draw-flow.ts';
import { makePdf, type PdfFonts } from './make-document.ts';
import { drawFeet } from './write-plan-pdf.ts';

/**
 * The result of a case for paper (A4): the verdict that was shown, and what was decided over it.
 * Shape     the same sheet and fonts give the same bytes
 * Source    docs/methods/verdict.md
 */
export function writeResultPdf(sheet: ResultSheet, fonts: PdfFonts): Promise<Uint8Array> {
  return makePdf({ title: sheet.title, madeAt: sheet.madeAt }, fonts, (doc) => {
    const flow = startFlow(doc);
    putText(flow, sheet.title, { size: 13, after: 2 }); // the word below is the largest thing on the sheet
    putText(flow, sheet.about, { font: 'sans', size: 8, colour: '#5a5346', after: 8 });
    for (const kind of ['answer', 'why', 'doubt', 'next'] as const) {
      putHeading(flow, REPORT_EN[kind]);
      drawBlocks(flow, parseDocument(sheet[kind], { lowerCaseAttributeNames: false }).children);
      flow.y += 6;
    }
    drawFeet(doc, sheet.isTraining);
  });
}
