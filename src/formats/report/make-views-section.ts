import { nameView } from '../../core/projection/camera-view.ts';
import type { ChosenView, PlanViews } from '../../core/projection/view-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { LANDING_EN } from '../../core/text/landing-en.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { drawNote } from './draw-doubts.ts';
import { drawDoubtTag } from './draw-fact.ts';
import { drawFigure, drawList, type PageSection } from './draw-section.ts';
import { drawViewMap } from './draw-view-map.ts';
import { escapeText } from './escape-text.ts';
import { formatNumber } from './format-number.ts';

const nameRole = (role: ChosenView['role']): string => LANDING_EN[`role-${role}`];

/** The page that answers: which camera angle shows the depth truly? */
export function makeViewsSection(views: PlanViews, isTraining: boolean): PageSection {
  const map = drawViewMap(views, { id: 'views-map', isTraining });
  const notes = views.reasons.map((r) => drawNote(r.code, '', r.text)).join('') + views.without.map((r) => drawNote(r.code, '', `${nameRole(r.role)}: ${r.text}`)).join('');
  const tilt = views.errorMap ? formatText(LANDING_EN, 'viewsParallax', { mm: formatNumber(10 * Math.sin((views.errorMap.tilt95Deg * Math.PI) / 180), 1) }) : '';
  return {
    id: 'views', title: LANDING_EN.sectionViews,
    answer: drawAnswer(views),
    why: (map ? drawFigure('wide', LANDING_EN.mapTitle, LANDING_EN.mapCaption, map) : '') + drawViews(views),
    doubt: `${views.offered ? `<p>${escapeText(LANDING_EN.viewsStarting)}</p><p>${escapeText(tilt)}</p>` : ''}${notes}` || `<p>${escapeText(REPORT_EN.doubtNone)}</p>`,
    next: drawList('acts', [...(views.offered ? [LANDING_EN.nextConfirm] : []), ...views.reasons.map((r) => r.next), ...views.without.map((r) => `${nameRole(r.role)}: ${r.next}`)]),
  };
}

function drawAnswer(views: PlanViews): string {
  const start = views.chosen.find((v) => v.role === 'start');
  if (!start) return `<p class="say">${escapeText(LANDING_EN.viewsWithheld)}</p>${views.reasons.map((r) => `<p>${escapeText(r.text)}</p>`).join('')}`;
  const within = formatText(LANDING_EN, 'viewsWithin', { deg: formatNumber(start.withinDeg, 0) });
  const reach = start.reach ? '' : `<p>${drawDoubtTag(LANDING_EN.viewsNotReach)} ${escapeText(describeInstead(start))}</p>`;
  return `<p class="say">${escapeText(LANDING_EN.viewsAnswer)} <span class="number"><span class="value">${escapeText(nameView(start))}</span> <span class="interval">${escapeText(within)}</span></span></p>${reach}`;
}

const describeInstead = (v: ChosenView): string => (v.instead ? formatText(LANDING_EN, 'viewsInstead', { view: nameView(v.instead), away: formatNumber(v.instead.awayDeg, 0) }) : '');

function drawViews(views: PlanViews): string {
  if (views.chosen.length === 0) return `<p class="absent">${escapeText(LANDING_EN.viewsNone)}</p>`;
  const head = [LANDING_EN.columnView, LANDING_EN.columnAngle, LANDING_EN.columnFor, LANDING_EN.columnError].map((h) => `<th scope="col">${escapeText(h)}</th>`).join('');
  const rows = views.chosen.map((v, i) => {
    const reach = !views.reachLimits ? LANDING_EN.reachUnknown : v.reach ? LANDING_EN.reachYes : LANDING_EN.reachNo;
    const { value, low, high } = v.depthPerRadius;
    const error = `<span class="value">${escapeText(formatNumber(10 * value, 1))} mm</span> <span class="interval">(${escapeText(`${formatNumber(10 * low, 1)}–${formatNumber(10 * high, 1)}`)})</span>`;
    const angle = `<span class="value">${escapeText(nameView(v))}</span> <span class="interval">${escapeText(formatText(LANDING_EN, 'viewsWithin', { deg: formatNumber(v.withinDeg, 0) }))}</span><br>${v.reach ? escapeText(reach) : `${drawDoubtTag(reach)} ${escapeText(describeInstead(v))}`}`;
    return `<tr><th scope="row">${i + 1} ${escapeText(nameRole(v.role))}</th><td>${angle}</td><td>${escapeText(v.why)}</td><td data-name="${escapeText(LANDING_EN.columnError)}">${error}</td></tr>`;
  });
  return `<table class="views"><caption>${escapeText(LANDING_EN.viewsTitle)}</caption><thead><tr>${head}</tr></thead><tbody>${rows.join('')}</tbody></table>`;
}
