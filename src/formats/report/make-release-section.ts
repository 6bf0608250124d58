import { WORLDS, type ReleaseForecast } from '../../core/release/release-types.ts';
import type { RootSurvey } from '../../core/root/root-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RELEASE_EN } from '../../core/text/release-en.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import type { Fact } from '../../core/units/fact.ts';
import { drawNote } from './draw-doubts.ts';
import { drawForecastStrip } from './draw-forecast-strip.ts';
import { drawFrameInRing } from './draw-frame-in-ring.ts';
import { drawFigure, drawList, type PageSection } from './draw-section.ts';
import { escapeText } from './escape-text.ts';
import { formatNumber, isAnswered } from './format-number.ts';

/** A depth in whole mm; above the plane in words. */
const nameDepth = (mm: number): string => formatText(RELEASE_EN, Math.round(mm) < 0 ? 'depthAbove' : 'depthBelow', { mm: whole(Math.abs(mm)) });
const whole = (v: number): string => formatNumber(Math.round(v), 0);

/** The page that answers: what will this frame tend to do in this root while it flares? No percentage, no advice. */
export function makeReleaseSection(release: ReleaseForecast, root: RootSurvey | undefined, isTraining: boolean): PageSection {
  const strip = drawForecastStrip(release, { id: 'strip', isTraining });
  const sheet = root && release.expectedFrame ? drawFrameInRing(root, release.expectedFrame, { id: 'frame', isTraining }) : null;
  const note = formatText(RELEASE_EN, 'modelNote', { releases: release.releases, seed: release.seed });
  return {
    id: 'release', title: RELEASE_EN.sectionRelease,
    answer: drawAnswer(release),
    why: (strip ? drawFigure('wide', RELEASE_EN.stripTitle, RELEASE_EN.stripCaption, strip) : '') + (sheet ? drawFigure('sheet-figure narrow', RELEASE_EN.sheetTitle, RELEASE_EN.sheetCaption, sheet) : '') + drawList('plain', listWhy(release)) + drawWhatIfs(release) + `<p class="soft">${escapeText(note)}</p>`,
    doubt: release.refusals.map((r) => drawNote(r.code, '', r.text)).join('') + drawDoubts(release),
    next: drawList('acts', [...release.refusals.map((r) => r.next), RELEASE_EN.nextWatch, RELEASE_EN.nextNone]),
  };
}

/** One sentence for the chosen start; whole millimetres. */
function drawAnswer(r: ReleaseForecast): string {
  const mm = formatNumber(r.startMm, 1);
  const middle = r.sweep.find((s) => s.startMm === r.startMm)?.worlds.middle;
  if (r.answer === 'cannot say') {
    return `<p class="say"><span class="number"><span class="value">${escapeText(RELEASE_EN.cannotSay)}</span></span></p><p>${escapeText(formatText(RELEASE_EN, 'cannotSayFrom', { mm }))}</p>`;
  }
  const depth = middle && isAnswered(middle.finalDepthMm)
    ? formatText(RELEASE_EN, 'expect', { low: whole(middle.finalDepthMm.low), high: whole(middle.finalDepthMm.high) }) : RELEASE_EN.expectOpen;
  const word = RELEASE_EN[`verdict-${r.answer}`];
  return `<p class="say">${escapeText(formatText(RELEASE_EN, 'answerFrom', { mm }))} <span class="number"><span class="value">${escapeText(word)}</span></span></p><p>${escapeText(depth)}</p>`;
}

const band = (f: Fact, digits: number): { mid: string; low: string; high: string } | null =>
  isAnswered(f) ? { mid: formatNumber(f.value, digits), low: formatNumber(f.low, digits), high: formatNumber(f.high, digits) } : null;

function listWhy(r: ReleaseForecast): string[] {
  const said: string[] = [];
  const middle = r.sweep.find((s) => s.startMm === r.startMm)?.worlds.middle;
  if (middle) {
    const margin = band(middle.holdingMarginN, 0);
    said.push(margin ? formatText(RELEASE_EN, 'holding', margin) : formatText(RELEASE_EN, 'holdingNone', { why: middle.holdingMarginN.reasons[0]?.text ?? '' }));
  }
  const need = band(r.frictionNeeded, 2);
  if (need) said.push(formatText(RELEASE_EN, 'friction', need));
  if (r.sweep.length > 0) {
    const tip = r.tippingDepthMm ? band(r.tippingDepthMm, 0) : null;
    said.push(tip ? formatText(RELEASE_EN, 'tipping', tip) : RELEASE_EN.tippingNone);
    const list = (of: ReleaseForecast['repellingDepthMm']): string => WORLDS.map((w) => {
      const world = RELEASE_EN[`world-${w}`];
      return of[w] === null ? formatText(RELEASE_EN, 'depthNone', { world }) : formatText(RELEASE_EN, 'depthSome', { world, mm: nameDepth(of[w]) });
    }).join(', ');
    said.push(formatText(RELEASE_EN, 'repelling', { list: list(r.repellingDepthMm) }), formatText(RELEASE_EN, 'diving', { list: list(r.divingDepthMm) }));
    if (!r.isReachContiguous) said.push(RELEASE_EN.notContiguous);
  }
  const frame = r.expectedFrame;
  if (frame) {
    for (const [key, ring] of [['frameInflow', frame.facts?.inflow], ['frameWaist', frame.facts?.waist]] as const) {
      const [mean, ratio] = ring ? [band(ring.meanDiameterMm, 1), band(ring.minOverMaxRatio, 2)] : [null, null];
      if (mean && ratio) said.push(formatText(RELEASE_EN, key, { mean: mean.mid, low: mean.low, high: mean.high, ratio: ratio.mid, ratioLow: ratio.low, ratioHigh: ratio.high }));
    }
    const widest = frame.facts ? band(frame.facts.largestGapMm, 1) : null;
    if (widest) said.push(formatText(RELEASE_EN, 'gapBand', widest));
    if (frame.gaps.length === 0) said.push(formatText(RELEASE_EN, 'gapNone', { mm: '0.1' }));
    for (const g of frame.gaps) said.push(formatText(RELEASE_EN, 'gap', { gap: formatNumber(g.gapMm, 1), cusp: g.cusp, from: whole(g.fromDeg), to: whole(g.toDeg), height: formatNumber(g.heightMm, 0) }));
  }
  if (r.recapture) said.push(formatText(RELEASE_EN, 'recapture', { percent: whole(100 * r.recapture.unsheathedRatio), mm: whole(r.recapture.uncoveredMm) }));
  return said;
}

/** What each world says for the chosen start, and what widens the band: an answer never stands without them. */
function drawDoubts(r: ReleaseForecast): string {
  const here = r.sweep.find((s) => s.startMm === r.startMm)?.worlds;
  const worlds = here ? [formatText(RELEASE_EN, 'byWorld', { gripping: here.gripping.answer, middle: here.middle.answer, slippery: here.slippery.answer })] : [];
  const said = [...worlds, ...listDrivers(r)];
  if (said.length > 0) return drawList('plain', said);
  return r.refusals.length > 0 ? '' : `<p>${escapeText(REPORT_EN.doubtNone)}</p>`;
}

function listDrivers(r: ReleaseForecast): string[] {
  const top = r.drivers.slice(0, 2).map((d) => formatText(RELEASE_EN, 'driver', { input: d.input, mm: formatNumber(d.effectMm, 1) }));
  return top.length > 0 ? [formatText(RELEASE_EN, 'drivers', { list: top.join(', ') })] : [];
}

/** The what-ifs of the middle world as a table; a change within the Monte-Carlo noise is said to be none. */
function drawWhatIfs({ whatIfs }: ReleaseForecast): string {
  if (!whatIfs || whatIfs.length === 0) return '';
  const head = [RELEASE_EN.columnChange, RELEASE_EN.columnMove, RELEASE_EN.columnMargin, RELEASE_EN.columnAnswer].map((h) => `<th scope="col">${escapeText(h)}</th>`).join('');
  const signed = (v: number): string => `${v > 0.05 ? '+' : ''}${formatNumber(v, 1)}`;
  const rows = whatIfs.map(({ code, worlds: { middle } }) => {
    const { low, mid, high } = middle.changeMm;
    const move = middle.isVisible ? formatText(RELEASE_EN, 'moveBand', { mid: signed(mid), low: signed(low), high: signed(high) }) : RELEASE_EN.noVisible;
    const margin = Number.isFinite(middle.marginChangeN) ? `${signed(middle.marginChangeN)} N` : '–';
    const answer = middle.answer === 'cannot say' ? RELEASE_EN.cannotSay : RELEASE_EN[`verdict-${middle.answer}`];
    return `<tr><th scope="row">${escapeText(RELEASE_EN[`what-${code}`])}</th><td>${escapeText(move)}</td><td>${escapeText(margin)}</td><td>${escapeText(answer)}</td></tr>`;
  });
  return `<table><caption>${escapeText(RELEASE_EN.whatIfTitle)}</caption><thead><tr>${head}</tr></thead><tbody>${rows.join('')}</tbody></table><p class="soft">${escapeText(RELEASE_EN.whatIfNote)}</p>`;
}
