import type { Plan } from '../../core/case/plan-types.ts';
import type { CutRole, PlanCuts, RootCut } from '../../core/root/cut-types.ts';
import type { RootSurvey } from '../../core/root/root-types.ts';
import { FADE_MM, isContourByHand } from '../../core/root/use-contour.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { drawCalciumChart } from './draw-calcium-chart.ts';
import { drawCalciumScore } from './draw-calcium-score.ts';
import { drawCut, nameCut } from './draw-cut.ts';
import { collectDoubts, drawDoubts, drawNote, nextOfDoubt } from './draw-doubts.ts';
import { drawReason, drawWords } from './draw-fact.ts';
import { drawLevelsChart } from './draw-levels-chart.ts';
import { drawRingSheet, SHEET_STEP_MM } from './draw-ring-sheet.ts';
import { drawFigure, drawList, type PageSection } from './draw-section.ts';
import { drawCuspTable, drawDepositTable, drawFactTable, drawLevelsTable, drawRootTables } from './draw-tables.ts';
import { drawUnrolledMap } from './draw-unrolled-map.ts';
import { escapeText } from './escape-text.ts';
import { formatFact, formatNumber } from './format-number.ts';
import { listPlanFacts, type NamedFact } from './list-plan-facts.ts';

/**
 * The page that answers: how wide is the ring, and what does the root look like? `cuts` null: the CT itself stands beside
 * it and its marks can be moved there.
 */
export function makeRootSection(plan: Plan, cuts: PlanCuts | null): PageSection {
  const messages = plan.messages.filter((m) => m.section === 'root' || m.section === 'calcium');
  const facts = listPlanFacts(plan).filter((f) => f.path.startsWith('root.'));
  const doubts = collectDoubts(facts);
  const { root } = plan;
  const notes = messages.map((m) => drawNote(m.code, '', m.text)).join('');
  const nexts = [...messages.map((m) => m.next), ...doubts.map(nextOfDoubt)];
  if (!root) {
    return {
      id: 'root', title: REPORT_EN.sectionRoot,
      answer: `<p class="say">${escapeText(REPORT_EN.rootAbsent)}</p>${messages.map((m) => `<p>${escapeText(m.text)}</p>`).join('')}`,
      why: `<p>${escapeText(REPORT_EN.rootAbsentNext)}</p>`,
      doubt: notes || `<p>${escapeText(REPORT_EN.doubtNone)}</p>`,
      next: drawList('acts', [...nexts, ...(nexts.length > 0 ? [] : [REPORT_EN.nextMark])]),
    };
  }
  return {
    id: 'root', title: REPORT_EN.sectionRoot,
    answer: drawAnswer(root),
    why: drawPictures(root, cuts, plan.training) + `<p class="soft hint">${escapeText(REPORT_EN.openHint)}</p>` + drawRootTables(root, facts) +
      drawCalcium(root, facts, plan.training) + drawCalciumScore(root.calciumScore, facts) + drawLevelsTable(root.levels),
    doubt: drawList('plain', drawLimits(root)) + drawDoubts(doubts) + notes,
    next: drawList('acts', [REPORT_EN.nextLook, cuts ? REPORT_EN.nextMark : REPORT_EN.nextMarkHere, ...nexts]),
  };
}

function drawAnswer(root: RootSurvey): string {
  const fact = root.basalRing.perimeterDiameterMm;
  const words = formatFact(fact);
  if (!words) return `<p class="say">${escapeText(REPORT_EN.rootRefused)}</p>${fact.reasons.map(drawReason).join('')}`;
  return `<p class="say">${escapeText(REPORT_EN.rootAnswer)} <span class="number">${drawWords(fact, words)}</span></p>`;
}

/** What would change the answer, and by how much. */
function drawLimits(root: RootSurvey): readonly string[] {
  const { tiltUncertaintyDeg: tilt, nadirUncertaintyMm: nadir } = root.basalPlane;
  const said: string[] = [];
  if (Number.isFinite(tilt)) said.push(formatText(REPORT_EN, 'doubtTilt', { deg: formatNumber(tilt, 1) }));
  if ([nadir.R, nadir.L, nadir.N].every((mm) => Number.isFinite(mm))) {
    said.push(formatText(REPORT_EN, 'doubtNadir', { r: formatNumber(nadir.R, 1), l: formatNumber(nadir.L, 1), n: formatNumber(nadir.N, 1) }));
  }
  const words = formatFact(root.basalRing.perimeterDiameterMm);
  if (words) said.push(formatText(REPORT_EN, 'doubtRing', { interval: words.interval.replace(/[()]/g, '') }));
  return said;
}

function drawPictures(root: RootSurvey, cuts: PlanCuts | null, isTraining: boolean): string {
  const picture = (id: string) => ({ id, isTraining });
  const absent = (text: string): string => `<p class="absent">${escapeText(text)}</p>`;
  const figureOf = (cut: RootCut): string => {
    const svg = drawCut(cut, picture(`cut-${cut.role}`));
    return svg ? `<figure class="cut-figure"><figcaption><b>${escapeText(nameCut(cut))}</b></figcaption>${svg}</figure>` : '';
  };
  const rowOf = (kind: string, roles: readonly CutRole[]): string => {
    const figures = (cuts?.cuts ?? []).filter((c) => roles.includes(c.role)).map(figureOf).join('');
    return figures === '' ? '' : `<div class="${kind}">${figures}</div>`;
  };
  const sheet = drawRingSheet(root, picture('sheet'));
  const map = drawUnrolledMap(root, picture('map'));
  const chart = drawLevelsChart(root, picture('chart'));
  const byHand = isContourByHand(root.basalRing) ? ` ${formatText(REPORT_EN, 'sheetByHandCaption', { fade: FADE_MM })}` : '';
  const sheetCaption = formatText(REPORT_EN, 'sheetCaption', { step: SHEET_STEP_MM }) + byHand;
  const hasCuts = (cuts?.cuts.length ?? 0) > 0;
  const basal = hasCuts ? `<div>${rowOf('cut-main', ['basal'])}<p class="caption">${escapeText(REPORT_EN.cutsCaption)}</p></div>` : '';
  return (
    `<div class="rings">${sheet ? drawFigure('sheet-figure', REPORT_EN.sheetTitle, sheetCaption, sheet) : absent(REPORT_EN.sheetAbsent)}${basal}</div>` +
    (hasCuts ? rowOf('cut-row', ['nadir-R', 'nadir-L', 'nadir-N']) + rowOf('cut-row', ['outflow', 'sinus']) : cuts ? absent(REPORT_EN.cutsAbsent) : '') +
    (map ? drawFigure('wide', REPORT_EN.mapTitle, REPORT_EN.mapCaption, map) : absent(REPORT_EN.mapAbsent)) +
    (chart ? drawFigure('wide', REPORT_EN.chartTitle, REPORT_EN.chartCaption, chart) : absent(REPORT_EN.chartAbsent))
  );
}

function drawCalcium(root: RootSurvey, facts: readonly NamedFact[], isTraining: boolean): string {
  const { calcium } = root;
  if (!calcium) return `<p class="absent">${escapeText(REPORT_EN.calciumAbsent)}</p>`;
  const own = facts.filter((f) => f.path.startsWith('root.calcium.'));
  const caption = formatText(REPORT_EN, 'calciumCaption', { threshold: formatNumber(calcium.thresholdHu, 0) });
  return (
    `<div class="calcium">${drawFigure('bars', REPORT_EN.calciumTitle, caption, drawCalciumChart(calcium, { id: 'calcium', isTraining }))}` +
    `<div>${drawFactTable(REPORT_EN.tableCalcium, own.filter((f) => f.of === undefined))}${drawDepositTable(calcium)}</div></div>` +
    drawCuspTable(REPORT_EN.tableCalciumByCusp, own, ['calciumByCusp', 'calciumOutflowByCusp'])
  );
}
