import { nameLandingLimit } from '../../core/deployment/find-landing.ts';
import type { LandingLimit, LandingWindow } from '../../core/deployment/landing-types.ts';
import type { SizeAnswer } from '../../core/device/size-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { LANDING_EN } from '../../core/text/landing-en.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { drawDepthRuler } from './draw-depth-ruler.ts';
import { drawNote } from './draw-doubts.ts';
import { drawDoubtTag } from './draw-fact.ts';
import { drawFigure, drawList, type PageSection } from './draw-section.ts';
import { escapeText } from './escape-text.ts';
import { formatNumber } from './format-number.ts';
import { formatWindow } from './format-window.ts';

const mm = (v: number): string => formatNumber(v, 1);

/** The page that answers: how deep may the inflow edge stand, and which facts bound it? */
export function makeLandingSection(landing: LandingWindow, isTraining: boolean, size: SizeAnswer | undefined): PageSection {
  const ruler = drawFigure('wide', LANDING_EN.rulerTitle, LANDING_EN.rulerCaption, drawDepthRuler(landing, { id: 'ruler', isTraining }));
  // No size may hold alone: then it is said that this window is that of one among several.
  const between = size?.byDevice.find((d) => d.device === landing.device && d.size === null)?.between ?? [];
  const which = { device: landing.device, size: landing.size };
  const about = between.length > 1 ? formatText(LANDING_EN, 'landingForOne', { ...which, list: between.join(', ') }) : formatText(LANDING_EN, 'landingFor', which);
  const values = landing.atValues === null ? '' : landing.atValues.lowMm <= landing.atValues.highMm
    ? formatText(LANDING_EN, 'landingAtValues', { low: mm(landing.atValues.lowMm), high: mm(landing.atValues.highMm) }) : LANDING_EN.landingAtValuesEmpty;
  return {
    id: 'landing', title: LANDING_EN.sectionLanding,
    answer: drawAnswer(landing) + `<p class="soft">${escapeText(about)}</p>`,
    why: ruler + drawLimits(landing.limits),
    doubt: (values ? `<p>${escapeText(values)}</p>` : '') + (landing.reasons.length > 0 ? landing.reasons.map((r) => drawNote(r.code, '', r.text)).join('') : `<p>${escapeText(REPORT_EN.doubtNone)}</p>`),
    next: drawList('acts', [LANDING_EN.nextLimits, ...landing.reasons.map((r) => r.next)]),
  };
}

function drawAnswer(w: LandingWindow): string {
  const words = formatWindow(w);
  if (!words) {
    const c = w.conflict;
    const gap = !c ? '' : c.gapMm === null ? formatText(LANDING_EN, 'landingNoGap', { low: nameLandingLimit(c.low) }) : formatText(LANDING_EN, 'landingGap', { low: nameLandingLimit(c.low), high: nameLandingLimit(c.high), gap: mm(c.gapMm) });
    return `<p class="say">${escapeText(LANDING_EN.landingEmpty)}</p><p>${escapeText(gap)}</p>`;
  }
  const depth = formatText(LANDING_EN, 'landingDepth', { low: words.aimLow, high: words.aimHigh });
  const count = w.limits.filter((l) => !l.isKnown).length;
  const incomplete = w.state === 'incomplete' ? `<p>${drawDoubtTag(formatText(LANDING_EN, 'landingIncomplete', { count, all: w.limits.length }))}</p>` : '';
  const startStop = formatText(LANDING_EN, 'landingStart', { start: words.start, stop: words.stop });
  return `<p class="say">${escapeText(LANDING_EN.landingAnswer)} <span class="number"><span class="value">${escapeText(depth)}</span></span> ${escapeText(LANDING_EN.landingBelow)}</p><p>${escapeText(startStop)}</p>${incomplete}`;
}

function describeBound(l: LandingLimit): string {
  if (l.excludesAll) return LANDING_EN.boundNever;
  if (!l.isKnown) return LANDING_EN.rulerUnknown;
  if (l.lowMm !== null && l.highMm !== null) return formatText(LANDING_EN, 'boundBoth', { low: mm(l.lowMm), high: mm(l.highMm) });
  if (l.lowMm !== null) return formatText(LANDING_EN, 'boundLeast', { mm: mm(l.lowMm) });
  if (l.highMm !== null) return formatText(LANDING_EN, 'boundMost', { mm: mm(l.highMm) });
  return LANDING_EN.boundNone;
}

function drawLimits(limits: readonly LandingLimit[]): string {
  const rows = limits.map((l, i) => {
    const tag = l.status === 'M' ? ` ${drawDoubtTag(LANDING_EN.unverified)}` : '';
    const bound = l.isKnown ? escapeText(describeBound(l)) : drawDoubtTag(describeBound(l));
    return `<tr><th scope="row">${i + 1} ${escapeText(nameLandingLimit(l.code))}</th><td><span class="value">${bound}</span></td><td>${escapeText(l.because)}${tag}</td></tr>`;
  });
  const head = [LANDING_EN.columnLimit, LANDING_EN.columnBound, LANDING_EN.columnBecause].map((h) => `<th scope="col">${escapeText(h)}</th>`).join('');
  return `<table class="limits"><caption>${escapeText(LANDING_EN.limitsTitle)}</caption><thead><tr>${head}</tr></thead><tbody>${rows.join('')}</tbody></table>`;
}
