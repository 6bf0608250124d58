import { parseDocument } from 'htmlparser2';
import type { LogDocument } from '../../core/room/log-document.ts';
import { makeLogSection } from '../report/make-log-section.ts';
import { drawBlocks, putText, startFlow } from './draw-flow.ts';
import { makePdf, type PdfFonts } from './make-document.ts';
import { drawFeet } from './write-plan-pdf.ts';

/**
 * The log of the room on paper (A4).
 * Shape     the same log and fonts give the same bytes
 */
export function writeLogPdf(log: LogDocument, fonts: PdfFonts): Promise<Uint8Array> {
  const section = makeLogSection(log);
  return makePdf({ title: section.title, madeAt: log.asOf }, fonts, (doc) => {
    const flow = startFlow(doc);
    putText(flow, section.title, { size: 20, after: 2 });
    for (const part of [section.about, section.doubt, section.tables]) {
      drawBlocks(flow, parseDocument(part, { lowerCaseAttributeNames: false }).children);
      flow.y += 4;
    }
    drawFeet(doc, log.training);
  });
}
