import { parseDocument } from 'htmlparser2';
import type { Plan } from '../../core/case/plan-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { HUDDLE_EN } from '../../core/text/huddle-en.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { makeHuddleSection, type HuddleCase } from '../report/make-huddle-section.ts';
import { drawBlocks, putHeading, putText, startFlow } from './draw-flow.ts';
import { makePdf, type PdfFonts } from './make-document.ts';
import { drawFeet } from './write-plan-pdf.ts';

/**
 * The huddle sheet for paper (A4): what the page shows, with room to write.
 * Shape     the same plan, case and fonts give the same bytes
 * Source    docs/methods/pictures.md
 */
export function writeHuddlePdf(plan: Plan, about: HuddleCase, fonts: PdfFonts): Promise<Uint8Array> {
  return makePdf({ title: HUDDLE_EN.title, madeAt: plan.madeAt }, fonts, (doc) => {
    const flow = startFlow(doc);
    const section = makeHuddleSection(plan, about);
    putText(flow, section.title, { size: 20, after: 2 });
    putText(flow, formatText(REPORT_EN, 'made', { by: plan.madeBy, at: plan.madeAt, files: plan.inputs.files }), { font: 'sans', size: 8, colour: '#5a5346', after: 8 });
    for (const kind of ['answer', 'why', 'doubt', 'next'] as const) {
      putHeading(flow, REPORT_EN[kind]);
      drawBlocks(flow, parseDocument(section[kind], { lowerCaseAttributeNames: false }).children);
      flow.y += 6;
    }
    drawFeet(doc, plan.training);
  });
}
