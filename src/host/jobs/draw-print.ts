import type { Plan } from '../../core/case/plan-types.ts';
import type { LogDocument } from '../../core/room/log-document.ts';
import { NO_CUTS } from '../../core/root/cut-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { writeHuddlePdf } from '../../formats/pdf/write-huddle-pdf.ts';
import { writeLogPdf } from '../../formats/pdf/write-log-pdf.ts';
import { writePlanPdf } from '../../formats/pdf/write-plan-pdf.ts';
import { writeResultPdf } from '../../formats/pdf/write-result-pdf.ts';
import { writeWallPdf } from '../../formats/pdf/write-wall-pdf.ts';
import { parsePlan } from '../../formats/plan/parse-plan.ts';
import { parseSurveyDocument } from '../../formats/plan/parse-survey-document.ts';
import { listWallCards } from '../../formats/report/list-wall-cards.ts';
import type { HuddleCase } from '../../formats/report/make-huddle-section.ts';
import type { ResultSheet } from '../../formats/report/make-result-sheet.ts';
import { PRINTS_EN } from '../../core/text/prints-en.ts';
import { readPdfFonts, readWallFonts } from '../cli/pdf-fonts.ts';

/** What is printed: a stored plan, the log of a room, or a verdict that was shown. */
export type PrintAsk = PlanPrintAsk | { readonly name: 'log'; readonly log: LogDocument } | { readonly name: 'result'; readonly sheet: ResultSheet };
interface PlanPrintAsk {
  readonly name: 'plan' | 'huddle' | 'wall';
  /** As stored: plan.json and the survey document, whose cuts the plan shows. */
  readonly planText: string;
  readonly surveyText: string | null;
  /** What the huddle sheet says of the case; not needed for the others. */
  readonly about: HuddleCase;
}

/**
 * A PDF of a stored plan, of the log of a room or of a verdict. The same documents give the same bytes.
 * Fails     as parsePlan and parseSurveyDocument; print-empty
 */
export async function drawPrint(ask: PrintAsk): Promise<Result<Uint8Array, string>> {
  if (ask.name === 'result') return succeed(await writeResultPdf(ask.sheet, readPdfFonts()));
  if (ask.name === 'log') return succeed(await writeLogPdf(ask.log, readPdfFonts()));
  const read = parsePlan(ask.planText);
  if (!read.ok) return read;
  const plan: Plan = read.value;
  const fonts = readPdfFonts();
  if (ask.name === 'huddle') return succeed(await writeHuddlePdf(plan, ask.about, fonts));
  if (ask.name === 'wall') {
    const cards = listWallCards(plan);
    if (cards.length === 0) return fail('print-empty', PRINTS_EN.nothingForWall, PRINTS_EN.nothingForWallNext);
    return succeed(await writeWallPdf(cards, readWallFonts(fonts), fonts, plan.madeAt));
  }
  const survey = ask.surveyText === null ? null : parseSurveyDocument(ask.surveyText);
  if (survey && !survey.ok) return survey;
  return succeed(await writePlanPdf(plan, survey?.value.cuts ?? NO_CUTS, fonts));
}
