import type { Plan } from '../../core/case/plan-types.ts';
import type { PlanCuts } from '../../core/root/cut-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { FACT_MEANINGS_EN, FACT_NAMES_EN } from '../../core/text/facts-en.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { drawSection, type PageSection } from './draw-section.ts';
import { escapeText } from './escape-text.ts';
import { listPlanFacts } from './list-plan-facts.ts';
import { makeReleaseSection } from './make-release-section.ts';
import { makeRootSection } from './make-root-section.ts';
import { makeLandingSection } from './make-landing-section.ts';
import { makeScanSection } from './make-scan-section.ts';
import { makeSizeSection } from './make-size-section.ts';
import { makeViewsSection } from './make-views-section.ts';
import { drawPageCss } from './page-style.ts';

/**
 * plan.html: one file without script and without any request, for screen, dark room and paper.
 *
 * Shape     HTML text; the same plan and cuts give the same bytes
 * Fails     never: what the plan refuses or lacks is said in words
 * Source    docs/methods/pictures.md
 */
export function drawPlanPage(plan: Plan, cuts: PlanCuts): string {
  const sections = listSections(plan, cuts);
  const lines = sections.map((s) => `<li><a href="#${s.id}">${escapeText(s.title)}</a></li>`).join('');
  const training = plan.training ? escapeText(HOUSE_EN.training) : '';
  const footer = `${plan.training ? `${HOUSE_EN.training}. ` : ''}${HOUSE_EN.caution}`;
  const made = formatText(REPORT_EN, 'made', { by: plan.madeBy, at: plan.madeAt, files: plan.inputs.files });
  return (
    '<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width,initial-scale=1">' +
    `<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'">` +
    `<meta name="referrer" content="no-referrer"><title>${escapeText(REPORT_EN.title)}</title><style>${drawPageCss(footer)}</style></head><body>` +
    `<a class="skip" href="#main">${escapeText(REPORT_EN.skip)}</a>` +
    (training ? `<div class="watermark" aria-hidden="true">${training}</div>` : '') +
    `<div class="sheet"><header><h1>${escapeText(REPORT_EN.title)}</h1><p class="soft">${escapeText(made)}</p>` +
    (training ? `<p class="training-banner">${training}</p>` : '') +
    `<nav aria-label="${escapeText(REPORT_EN.caseLine)}"><ol>${lines}</ol></nav></header>` +
    `<main id="main" tabindex="-1">${sections.map(drawSection).join('')}${drawMissing(plan, sections)}${drawMeanings(plan)}${drawOrigin(plan)}</main></div></body></html>\n`
  );
}

/** The pages this plan has, in the order of the case line. A further page is one more entry here. */
export function listSections(plan: Plan, cuts: PlanCuts): readonly PageSection[] {
  const { root, size, landing, views, release, training } = plan;
  return [
    makeScanSection(plan), makeRootSection(plan, cuts),
    ...(size && root ? [makeSizeSection(size, root, training)] : []),
    ...(landing ? [makeLandingSection(landing, training, size)] : []),
    ...(views ? [makeViewsSection(views, training)] : []),
    ...(release ? [makeReleaseSection(release, root, training)] : []),
  ];
}

/** Messages that belong to no page of this plan. */
function drawMissing(plan: Plan, sections: readonly PageSection[]): string {
  const shown = new Set([...sections.map((s) => s.id), 'calcium']);
  const messages = plan.messages.filter((m) => !shown.has(m.section));
  if (messages.length === 0) return '';
  const notes = messages.map((m) =>
    `<p data-code="${escapeText(m.code)}">${escapeText(m.text)}</p><ul class="acts"><li>${escapeText(m.next)}</li></ul>`).join('');
  return `<section class="page close" aria-labelledby="missing-name"><h2 id="missing-name">${escapeText(REPORT_EN.sectionMissing)}</h2><p>${escapeText(REPORT_EN.missingIntro)}</p>${notes}</section>`;
}

function drawMeanings(plan: Plan): string {
  const keys = [...new Set(listPlanFacts(plan).map((f) => f.key))];
  const rows = keys.map((key) => `<dt>${escapeText(FACT_NAMES_EN[key])}</dt><dd>${escapeText(FACT_MEANINGS_EN[key])}</dd>`).join('');
  return `<section class="page" aria-labelledby="meanings-name"><h2 id="meanings-name">${escapeText(REPORT_EN.sectionMeanings)}</h2><dl>${rows}</dl></section>`;
}

function drawOrigin(plan: Plan): string {
  const { inputs, scan } = plan;
  const rows: readonly (readonly [string, string | null | undefined])[] = [
    [REPORT_EN.originVersion, plan.madeBy], [REPORT_EN.originAt, plan.madeAt],
    [REPORT_EN.originFiles, String(inputs.files)], [REPORT_EN.originBytes, String(inputs.bytes)],
    [REPORT_EN.originHash, inputs.sha256],
    [REPORT_EN.originSeries, scan.seriesUid ?? REPORT_EN.notSaid],
    [REPORT_EN.originFrame, scan.frameOfReferenceUid ?? REPORT_EN.notSaid],
    [REPORT_EN.originLandmarks, inputs.landmarksSha256], [REPORT_EN.originDevices, inputs.devicesSha256],
    [REPORT_EN.originPatient, inputs.patientSha256],
  ];
  const list = rows.map(([name, text]) => (text ? `<dt>${escapeText(name)}</dt><dd>${escapeText(text)}</dd>` : '')).join('');
  return `<section class="page close" aria-labelledby="origin-name"><h2 id="origin-name">${escapeText(REPORT_EN.sectionOrigin)}</h2><dl>${list}</dl><p class="caution">${escapeText(HOUSE_EN.caution)}</p></section>`;
}
