import type { SizeAnswer, SizeCandidate } from '../../core/device/size-types.ts';
import type { RootSurvey } from '../../core/root/root-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { LANDING_EN } from '../../core/text/landing-en.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { drawNote } from './draw-doubts.ts';
import { drawFigure, drawList, type PageSection } from './draw-section.ts';
import { drawSizeLadder } from './draw-size-ladder.ts';
import { escapeText } from './escape-text.ts';
import { formatNumber, formatShare } from './format-number.ts';

/** The page that answers: which size of the hospital's table fits this ring, and how sure is that? */
export function makeSizeSection(size: SizeAnswer, root: RootSurvey, isTraining: boolean): PageSection {
  const ladder = drawSizeLadder(size, root.basalRing.perimeterMm, { id: 'ladder', isTraining });
  const { hospital, signedBy, signedAt } = size.table;
  return {
    id: 'size', title: LANDING_EN.sectionSize,
    answer: drawAnswer(size),
    why: (ladder ? drawFigure('wide', LANDING_EN.ladderTitle, LANDING_EN.ladderCaption, ladder) : '') + drawCandidates(size.candidates) +
      `<p class="soft">${escapeText(formatText(LANDING_EN, 'sizeTable', { hospital, by: signedBy, at: signedAt }))} ${escapeText(LANDING_EN.sizeOrder)}</p>`,
    doubt: size.doubt.length > 0 ? size.doubt.map((d) => drawNote(d.code, '', d.text)).join('') : `<p>${escapeText(REPORT_EN.doubtNone)}</p>`,
    next: drawList('acts', [...describeSecond(size), LANDING_EN.nextSize, ...size.next]),
  };
}

function drawAnswer(size: SizeAnswer): string {
  if (size.candidates.length === 0) return `<p class="say">${escapeText(LANDING_EN.sizeNoRing)}</p>`;
  const lines = size.byDevice.filter((d) => d.device !== size.answer?.device).map((d) => {
    if (d.size !== null) return formatText(LANDING_EN, 'sizeOther', { device: d.device, size: d.size });
    return d.between.length > 0 ? formatText(LANDING_EN, 'sizeBetween', { device: d.device, sizes: d.between.join(' / ') }) : formatText(LANDING_EN, 'sizeNoFit', { device: d.device });
  });
  const others = lines.map((l) => `<p>${escapeText(l)}</p>`).join('');
  if (!size.answer) return `<p class="say">${escapeText(LANDING_EN.sizeNone)}</p>${others}`;
  const { device, size: label } = size.answer;
  const share = size.candidates.find((c) => c.device === device && c.size === label)!.fitProbability;
  return (
    `<p class="say">${escapeText(formatText(LANDING_EN, 'sizeAnswer', { device }))} <span class="number"><span class="value">${escapeText(formatText(LANDING_EN, 'sizeLabel', { size: label }))}</span> ` +
    `<span class="interval">${escapeText(formatText(LANDING_EN, 'sizeShare', { share: formatShare(share) }))}</span></span></p>${others}`
  );
}

function describeSecond(size: SizeAnswer): readonly string[] {
  return size.byDevice.flatMap((d) => {
    const { same, neighbours } = d.second;
    if (same === null) return neighbours.length > 0 ? [formatText(LANDING_EN, 'sizeSecondBetween', { device: d.device, sizes: neighbours.join(', ') })] : [];
    const size1 = `${d.device} ${same}`;
    return [neighbours.length > 0 ? formatText(LANDING_EN, 'sizeSecond', { size: size1, neighbours: neighbours.join(', ') }) : formatText(LANDING_EN, 'sizeSecondAlone', { size: size1 })];
  });
}

function drawCandidates(candidates: readonly SizeCandidate[]): string {
  if (candidates.length === 0) return '';
  const head = [LANDING_EN.columnSize, LANDING_EN.columnFit, LANDING_EN.columnOverPerimeter, LANDING_EN.columnOverArea, LANDING_EN.columnVotes, LANDING_EN.columnLimits, LANDING_EN.columnVerdict];
  const percent = (v: number, [low, high]: readonly [number, number]): string => `<span class="value">${escapeText(formatNumber(v, 0))} %</span> <span class="interval">(${escapeText(`${formatNumber(low, 0)} to ${formatNumber(high, 0)}`)})</span>`;
  const vote = (v: boolean): string => (v ? LANDING_EN.yes : LANDING_EN.no);
  const rows = candidates.map((c) => {
    const open = c.limits.slice(3).filter((l) => l.state !== 'holds').map((l) => `${l.code.replaceAll('-', ' ')}: ${l.state}`);
    const cells = [
      escapeText(formatShare(c.fitProbability)), percent(c.oversizeByPerimeterPercent, c.oversizeByPerimeter95), percent(c.oversizeByAreaPercent, c.oversizeByArea95),
      escapeText(`${vote(c.votes.perimeter)} / ${vote(c.votes.area)} / ${vote(c.votes.diameters)}`), escapeText(open.length > 0 ? open.join('; ') : LANDING_EN.allHold), escapeText(c.verdict),
    ];
    return `<tr><th scope="row">${escapeText(c.device)} ${escapeText(c.size)}</th>${cells.map((x) => `<td>${x}</td>`).join('')}</tr>`;
  });
  return `<div class="scroll" tabindex="0" role="region" aria-label="${escapeText(LANDING_EN.candidatesTitle)}"><table class="wide-table"><caption>${escapeText(LANDING_EN.candidatesTitle)}</caption><thead><tr>${head.map((h) => `<th scope="col">${escapeText(h)}</th>`).join('')}</tr></thead><tbody>${rows.join('')}</tbody></table></div>`;
}
