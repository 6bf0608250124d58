import type { CaseEventData } from '../../core/case/case-events.ts';
import { succeed, type Result } from '../../core/result.ts';
import type { OpenedCase } from './case-file-types.ts';
import { checkShownGrades } from './check-shown-grades.ts';
import { listNamedDocuments } from './list-named-documents.ts';
import { failMissing } from './open-case-folder.ts';
import { failBroken } from './parse-case.ts';
import { checkFrozenText } from './read-case-documents.ts';

export interface VerifiedCase {
  readonly caseId: string;
  readonly events: number;
  readonly documents: number;
  readonly frozen: number;
  /** Last hash of the chain: kept elsewhere (paper, another machine), it shows later that nothing was made anew. */
  readonly sha256: string;
}

/**
 * Reads a whole case again. Its chain was checked when it was opened; here every document that an event names must be there
 * with its hash, every other document must have the hash it is called by, and each frozen plan must be in its one form, of
 * this case, and hold the plan that its event names. Nobody may have been shown the verdict, or others' grades, before their own.
 * Fails     document-missing, document-damaged, chain-broken, grade-breach
 */
export async function verifyCase(opened: OpenedCase): Promise<Result<VerifiedCase, string>> {
  const kinds = new Map(listNamedDocuments(opened.events).map(({ sha256, kind }) => [sha256, kind]));
  const all = new Set([...kinds.keys(), ...(await opened.listDocuments())]);
  for (const sha256 of all) {
    const read = await opened.readDocument(sha256);
    if (!read.ok) return read.failure.code === 'document-missing' ? failMissing(sha256, kinds.get(sha256)) : read;
  }
  const frozen = opened.events.filter((e) => e.kind === 'plan.frozen');
  for (const { seq, data } of frozen) {
    const { frozenSha256, planSha256, amends, differences } = data as CaseEventData['plan.frozen'];
    const read = await opened.readDocument(frozenSha256);
    if (!read.ok) return read;
    const plan = await opened.readDocument(planSha256);
    if (!plan.ok) return plan;
    const problem = checkFrozenText(read.value, { caseId: opened.caseId, planSha256, amends, differences }, plan.value);
    if (problem !== null) return failBroken(`the frozen plan of event ${seq} ${problem}`, { seq });
  }
  const inOrder = await checkShownGrades(opened.events, opened.readDocument);
  if (!inOrder.ok) return inOrder;
  return succeed({ caseId: opened.caseId, events: opened.events.length, documents: all.size, frozen: frozen.length, sha256: opened.state.sha256 });
}
