import type { LevelRing, RootCalcium, RootSurvey } from '../../core/root/root-types.ts';
import { CUSPS } from '../../core/root/root-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { FACT_MEANINGS_EN, FACT_NAMES_EN } from '../../core/text/facts-en.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { drawDoubtTag, drawFact, drawReason, drawSource, drawWords, wordFact } from './draw-fact.ts';
import { escapeText } from './escape-text.ts';
import { formatHeight, formatNumber } from './format-number.ts';
import { nameFact, type FactKey, type NamedFact } from './list-plan-facts.ts';

/** Two columns: what, and the value; one row per fact. */
export function drawFactTable(caption: string, facts: readonly NamedFact[]): string {
  if (facts.length === 0) return '';
  const rows = facts.map((f) => `<tr><th scope="row">${escapeText(nameFact(f))}</th><td>${drawFact(f)}</td></tr>`).join('');
  return (
    `<table class="facts"><caption>${escapeText(caption)}</caption><thead><tr><th scope="col">${escapeText(REPORT_EN.columnWhat)}</th>` +
    `<th scope="col">${escapeText(REPORT_EN.columnValue)}</th></tr></thead><tbody>${rows}</tbody></table>`
  );
}

/** One row per kind of fact, one column per cusp, then what has no cusp. */
export function drawCuspTable(caption: string, facts: readonly NamedFact[], keys: readonly FactKey[]): string {
  const rows = keys.map((key) => {
    const cells = CUSPS.map((cusp) => {
      const named = facts.find((f) => f.key === key && f.of === cusp);
      return `<td>${named ? drawFact(named) : drawDoubtTag(REPORT_EN.refused)}</td>`;
    });
    return facts.some((f) => f.key === key) ? `<tr><th scope="row">${escapeText(FACT_NAMES_EN[key])}</th>${cells.join('')}</tr>` : '';
  }).join('');
  if (rows === '') return '';
  const heads = [REPORT_EN.cuspR, REPORT_EN.cuspL, REPORT_EN.cuspN].map((name) => `<th scope="col">${escapeText(name)}</th>`).join('');
  return (
    `<div class="scroll" tabindex="0" role="region" aria-label="${escapeText(caption)}"><table class="cusps"><caption>${escapeText(caption)}</caption>` +
    `<thead><tr><th scope="col">${escapeText(REPORT_EN.columnWhat)}</th>${heads}</tr></thead><tbody>${rows}</tbody></table></div>`
  );
}

const LEVEL_KEYS = [
  ['areaMm2', 'ringArea'], ['perimeterMm', 'ringPerimeter'], ['minDiameterMm', 'ringMin'], ['maxDiameterMm', 'ringMax'],
] as const;

/** All rings by height, behind a summary; meanings stand at the column heads, the source at the end of each row. */
export function drawLevelsTable(levels: readonly LevelRing[]): string {
  if (levels.length === 0) return '';
  const heads = LEVEL_KEYS.map(([, key]) =>
    `<th scope="col"><abbr title="${escapeText(FACT_MEANINGS_EN[key])}">${escapeText(FACT_NAMES_EN[key])}</abbr></th>`).join('');
  // From the aorta down to the ventricle: the table stands as the root does.
  const rows = levels.map((level, i) => ({ level, i })).reverse().map(({ level, i }) => {
    const cells = LEVEL_KEYS.map(([field, key]) => {
      const named: NamedFact = { path: `root.levels.${i}.${field}`, key, fact: level[field] };
      const words = wordFact(named);
      return `<td data-path="${named.path}">${words ? drawWords(named.fact, words) : drawDoubtTag(REPORT_EN.refused)}</td>`;
    }).join('');
    const reasons = [...new Set(LEVEL_KEYS.flatMap(([field]) => level[field].reasons.map(drawReason)))].join('');
    const source = `<details class="fact"><summary>${escapeText(REPORT_EN.source)}</summary><div class="inside">${reasons}<p class="soft">${drawSource(level.areaMm2)}</p></div></details>`;
    return `<tr><th scope="row">${escapeText(level.heightMm === 0 ? REPORT_EN.onPlane : formatHeight(level.heightMm))}</th>${cells}<td>${source}</td></tr>`;
  }).join('');
  return (
    `<details class="levels"><summary>${escapeText(formatText(REPORT_EN, 'tableLevelsOpen', { count: levels.length }))}</summary>` +
    `<div class="scroll" tabindex="0" role="region" aria-label="${escapeText(REPORT_EN.tableLevels)}"><table><caption>${escapeText(REPORT_EN.tableLevels)}</caption>` +
    `<thead><tr><th scope="col">${escapeText(REPORT_EN.columnHeight)}</th>${heads}<th scope="col">${escapeText(REPORT_EN.columnSource)}</th></tr></thead><tbody>${rows}</tbody></table></div></details>`
  );
}

export function drawDepositTable(calcium: RootCalcium): string {
  if (calcium.deposits.length === 0) return `<p>${escapeText(REPORT_EN.depositNone)}</p>`;
  const rows = calcium.deposits.map((d) =>
    `<tr><th scope="row">${escapeText(d.cusp)}</th><td>${escapeText(formatHeight(d.heightMm))}</td><td>${formatNumber(d.volumeMm3, 0)} mm³</td><td>${formatNumber(d.protrusionMm, 1)} mm</td></tr>`).join('');
  const heads = [REPORT_EN.depositCusp, REPORT_EN.depositHeight, REPORT_EN.depositVolume, REPORT_EN.depositProtrusion];
  return (
    `<table class="deposits"><caption>${escapeText(REPORT_EN.calciumDeposits)}</caption><thead><tr>${heads.map((h) => `<th scope="col">${escapeText(h)}</th>`).join('')}</tr></thead>` +
    `<tbody>${rows}</tbody></table><p class="soft">${escapeText(REPORT_EN.depositNote)}</p>`
  );
}

/** The tables of the root, in the order of the page; every fact of `root` is in exactly one of them. */
export function drawRootTables(root: RootSurvey, facts: readonly NamedFact[]): string {
  const under = (...prefixes: string[]): NamedFact[] => facts.filter((f) => prefixes.some((p) => f.path.startsWith(p)));
  const drop = (list: readonly NamedFact[]): NamedFact[] => list.map(({ path, key, fact }) => ({ path, key, fact }));
  const outflow = formatText(REPORT_EN, 'tableOutflow', { height: formatHeight(root.outflowTract.heightMm) });
  return (
    `<div class="tables">${drawFactTable(REPORT_EN.tableRing, under('root.basalRing.', 'root.angulationDeg'))}` +
    drawFactTable(outflow, drop(under('root.outflowTract.'))) +
    drawFactTable(REPORT_EN.tableAorta, under('root.sinotubularJunction.', 'root.ascendingAorta.')) +
    drawFactTable(REPORT_EN.tableSeptum, under('root.septum.', 'root.membranousSeptum.')) +
    drawFactTable(REPORT_EN.tableCoronaries, under('root.coronaries.', 'root.leaflets.')) +
    `</div>${drawCuspTable(REPORT_EN.tableSinuses, under('root.sinuses.'), ['sinusWidth', 'sinusHeight'])}`
  );
}
