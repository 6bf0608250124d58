import type { DataSet } from 'dicom-parser';
import type { CtSliceHeader } from './dicom-types.ts';
import { readDecimal, readDouble, readItem, readLocalText } from './read-values.ts';

export type PhaseReading = Pick<CtSliceHeader, 'phasePercent' | 'phaseSource' | 'triggerTimeMs'>;

/** "ASIR 40%", "strength 3 50 %": percentages of a reconstruction blend, not of the heart cycle. */
const BLEND_WORDS =
  /(?:\b(?:asir|admire|safire|idose|imr|irt?|mbir|veo|blend|strength|dose|contrast|saline)[\s\d.:=V-]{0,8}|\bss)$/i;
/** "30-80 %" names a range of phases, not the one of this picture. */
const RANGE_START = /\d\s?[-–]\s?$/;

/**
 * Phase of the heart cycle, % of the R-R interval, from the first place that tells it: Nominal Percentage of Cardiac
 * Phase (0020,9241); a single percentage in the series description or image comments; trigger time over R-R interval.
 * Private elements are not read.
 *
 * Frames  of an enhanced object hand over their functional groups in `groups`, nearest first
 */
export function readPhase(values: DataSet, groups: readonly DataSet[]): PhaseReading {
  const sync = groups.map((group) => readItem(group, 'x00189118')).find((item) => item !== null) ?? null;
  const triggerTimeMs =
    readDecimal(values, 'x00181060') ??
    (sync === null ? null : (readDouble(sync, 'x00209153') ?? readDouble(sync, 'x00209252')));
  const nominal = (sync === null ? null : readDouble(sync, 'x00209241')) ?? readDouble(values, 'x00209241');
  if (nominal !== null && nominal >= 0 && nominal <= 100) {
    return { phasePercent: nominal, phaseSource: 'nominal-percentage', triggerTimeMs };
  }
  for (const tag of ['x0008103e', 'x00204000', 'x00181030']) {
    const phasePercent = findPhaseInText(readLocalText(values, tag) ?? '');
    if (phasePercent !== null) return { phasePercent, phaseSource: 'series-text', triggerTimeMs };
  }
  const rrMs = readRrInterval(values, sync);
  if (triggerTimeMs !== null && rrMs !== null && triggerTimeMs >= 0 && triggerTimeMs <= rrMs) {
    return { phasePercent: (100 * triggerTimeMs) / rrMs, phaseSource: 'derived', triggerTimeMs };
  }
  return { phasePercent: null, phaseSource: null, triggerTimeMs };
}

function readRrInterval(values: DataSet, sync: DataSet | null): number | null {
  const nominal = readDecimal(values, 'x00181062') ?? (sync === null ? null : readDouble(sync, 'x00209251'));
  if (nominal !== null && nominal > 0) return nominal;
  const beatsPerMinute = readDecimal(values, 'x00181088');
  return beatsPerMinute !== null && beatsPerMinute > 0 ? 60000 / beatsPerMinute : null;
}

/** The one percentage of 0-100 in a text that is no reconstruction blend; null when none or several differ. */
export function findPhaseInText(text: string): number | null {
  const found = new Set<number>();
  for (const match of text.matchAll(/(?<![\d.])(\d{1,3}(?:\.\d{1,2})?)\s?%/g)) {
    const percent = Number(match[1]);
    const before = text.slice(0, match.index);
    if (percent <= 100 && !BLEND_WORDS.test(before) && !RANGE_START.test(before)) found.add(percent);
  }
  return found.size === 1 ? [...found][0]! : null;
}
