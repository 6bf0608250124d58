import { parseDocument } from 'htmlparser2';
import type PDFDocument from 'pdfkit';
import type { Plan } from '../../core/case/plan-types.ts';
import type { PlanCuts } from '../../core/root/cut-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { listSections } from '../report/draw-plan-page.ts';
import { breakPage, drawBlocks, putHeading, putText, startFlow } from './draw-flow.ts';
import { makePdf, type PdfFonts } from './make-document.ts';

/**
 * plan.pdf: the same sections and pictures as plan.html, for paper (A4), text as text and pictures as vectors.
 * Shape     the same plan, cuts and fonts give the same bytes
 * Source    docs/methods/pictures.md
 */
export function writePlanPdf(plan: Plan, cuts: PlanCuts, fonts: PdfFonts): Promise<Uint8Array> {
  return makePdf({ title: REPORT_EN.title, madeAt: plan.madeAt }, fonts, (doc) => {
    const flow = startFlow(doc);
    putText(flow, REPORT_EN.title, { size: 20, after: 2 });
    putText(flow, formatText(REPORT_EN, 'made', { by: plan.madeBy, at: plan.madeAt, files: plan.inputs.files }), { font: 'sans', size: 8, colour: '#5a5346', after: 10 });
    listSections(plan, cuts).forEach((section, i) => {
      if (i > 0) breakPage(flow);
      putText(flow, section.title, { size: 18, after: 6 });
      for (const kind of ['answer', 'why', 'doubt', 'next'] as const) {
        putHeading(flow, REPORT_EN[kind]);
        drawBlocks(flow, parseDocument(section[kind], { lowerCaseAttributeNames: false }).children);
        flow.y += 6;
      }
    });
    drawFeet(doc, plan.training);
  });
}

/** Caution, page number and, for training, the mark on every page. */
export function drawFeet(doc: PDFDocument, isTraining: boolean): void {
  const { start, count } = doc.bufferedPageRange();
  for (let page = start; page < start + count; page++) {
    doc.switchToPage(page);
    const foot = `${isTraining ? `${HOUSE_EN.training}. ` : ''}${HOUSE_EN.caution}`;
    const width = doc.page.width - 84;
    doc.font('sans').fontSize(7).fillColor('#444', 1).text(foot, 42, doc.page.height - 48, { width: width - 60 });
    doc.text(`${page - start + 1} / ${count}`, 42, doc.page.height - 48, { width, align: 'right', lineBreak: false });
    if (isTraining) {
      doc.save().translate(doc.page.width / 2, doc.page.height / 2).rotate(-55);
      doc.font('sans').fontSize(44).fillColor('#211d17', 0.06);
      doc.text(HOUSE_EN.training, -doc.widthOfString(HOUSE_EN.training) / 2, -22, { lineBreak: false }).restore();
    }
  }
}
