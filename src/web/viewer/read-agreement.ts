import type { CaseState } from '../../core/case/fold-case.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { readMeasure, READ_MEASURES, type ReadMeasure, type ReadPair } from '../../core/root/compare-readings.ts';
import type { RootSurvey } from '../../core/root/root-types.ts';
import { callApi } from '../api/call-api.ts';

export type Reading = CaseState['readings'][number];

/** The root behind a reading; null when its plan cannot be read or holds no root. */
export async function readReading(caseId: string, reading: Reading): Promise<RootSurvey | null> {
  const answer = await callApi('readPlan', { params: { caseId, sha256: reading.planSha256 } });
  if (!answer.ok) return null;
  const plan = (await answer.value.json().catch(() => null)) as Plan | null;
  return plan?.root ?? null;
}

export interface ReadSet {
  /** Cases read by both. */
  readonly cases: number;
  /** Cases that could not be read. */
  readonly left: number;
  readonly total: number;
  readonly pairs: Readonly<Record<ReadMeasure, readonly ReadPair[]>>;
}
const PAGE = 500;

/**
 * The measures of two readers over all cases that both have read: the newest reading of each counts.
 * Fails     null when the work list cannot be read
 */
export async function collectPairs(readerA: string, readerB: string, report: (done: number, total: number) => void): Promise<ReadSet | null> {
  const list = await callApi('listCases', { query: { limit: PAGE } });
  if (!list.ok) return null;
  const pairs = Object.fromEntries(READ_MEASURES.map((m) => [m, [] as ReadPair[]])) as Record<ReadMeasure, ReadPair[]>;
  let [cases, left] = [0, list.value.total - list.value.cases.length];
  for (const [i, { caseId }] of list.value.cases.entries()) {
    report(i + 1, list.value.total);
    const answer = await callApi('readCase', { params: { caseId } });
    if (!answer.ok) {
      left += 1;
      continue;
    }
    const newest = (by: string): Reading | undefined => answer.value.state.readings.filter((r) => r.by === by).at(-1);
    const [a, b] = [newest(readerA), newest(readerB)];
    if (!a || !b) continue;
    const [rootA, rootB] = await Promise.all([readReading(caseId, a), readReading(caseId, b)]);
    if (!rootA || !rootB) {
      left += 1;
      continue;
    }
    cases += 1;
    for (const measure of READ_MEASURES) {
      const [x, y] = [readMeasure(rootA, measure)?.value ?? null, readMeasure(rootB, measure)?.value ?? null];
      if (x !== null && y !== null) pairs[measure].push({ a: x, b: y });
    }
  }
  return { cases, left, total: list.value.total, pairs };
}
