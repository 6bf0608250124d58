import type { Kysely } from 'kysely';
import type { CaseEventData } from '../../core/case/case-events.ts';
import { applyEvent, emptyCase, foldCase } from '../../core/case/fold-case.ts';
import { formatCanonical } from '../../core/audit/format-canonical.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { checkFrozen } from '../../core/room/check-frozen.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { STORE_EN } from '../../core/text/store-en.ts';
import { FOLD_VERSION, makeCaseRow, readEntryId, readEventRow } from './case-calls.ts';
import { CHAIN_START, hashAuditEntry, hashEvent, hashText } from './hash-chain.ts';
import { readAuditRow } from './record-calls.ts';
import { attempt } from './store-failures.ts';
import type { CaseStore, StoreFailureCode } from './store-types.ts';
import type { EventRow, StoreTables } from './tables.ts';

const ROWS_AT_ONCE = 500;
const DOCUMENTS_AT_ONCE = 20;
const failBroken = (what: string, evidence: Readonly<Record<string, string | number>>) => fail('chain-broken' as const, formatText(STORE_EN, 'chainBroken', { what }), STORE_EN.chainBrokenNext, evidence);

/**
 * Reads everything again: each event and audit entry against the one in front of it and its own hash, each document
 * against its hash, each case against what its events give, each plan that a case names for being there, and each
 * frozen plan for being in its one form and holding the plan that it names.
 * Fails     chain-broken (names the first place)
 * Limits    finds what was changed, left out or put in; who can write the database can make a whole new chain. Keep the
 *           last hash elsewhere (backup, paper) to find that.
 */
export function makeVerifyCall(db: Kysely<StoreTables>): Pick<CaseStore, 'verifyChains'> {
  return {
    verifyChains: () => attempt(async () => {
      const documents = await verifyDocuments(db);
      if (!documents.ok) return documents;
      const cases = await verifyCases(db);
      if (!cases.ok) return cases;
      const audit = await verifyAudit(db);
      return audit.ok ? succeed({ ...cases.value, auditEntries: audit.value, documents: documents.value }) : audit;
    }),
  };
}

async function verifyCases(db: Kysely<StoreTables>): Promise<Result<{ readonly cases: number; readonly events: number }, StoreFailureCode>> {
  let [cases, events, after] = [0, 0, ''];
  for (;;) {
    const heads = await db.selectFrom('cases').select(['case_id', 'seq', 'sha256', 'state', 'fold_version']).where('case_id', '>', after).orderBy('case_id').limit(ROWS_AT_ONCE).execute();
    for (const head of heads) {
      after = head.case_id;
      const caseId = head.case_id;
      let [prevSha256, prevAt, state] = [CHAIN_START, '', emptyCase(caseId)];
      const found = await db.selectFrom('events').selectAll().where('case_id', '=', caseId).orderBy('seq').execute();
      if (found.length > head.seq) {
        // Events written since the head was read moved the head with them; what stands behind the head was put there.
        const { seq } = await db.selectFrom('cases').select('seq').where('case_id', '=', caseId).executeTakeFirstOrThrow();
        if (seq < found.length) return failBroken(`the end of case ${caseId}`, { caseId, seq: found.length });
      }
      const rows = found.slice(0, head.seq);
      for (const [k, row] of rows.entries()) {
        const event = readEventRow(row);
        const isLink = event.seq === k + 1 && event.prevSha256 === prevSha256 && event.at >= prevAt && hashEvent(event) === event.sha256 && readEntryId(event) === row.entry_id;
        if (!isLink) return failBroken(`event ${k + 1} of case ${caseId}`, { caseId, seq: k + 1 });
        [prevSha256, prevAt, state] = [event.sha256, event.at, applyEvent(state, event)];
      }
      if (rows.length !== head.seq || prevSha256 !== head.sha256) return failBroken(`the end of case ${caseId}`, { caseId, seq: rows.length });
      if (head.fold_version === FOLD_VERSION && formatCanonical(state) !== formatCanonical(JSON.parse(head.state))) return failBroken(`the state of case ${caseId}`, { caseId, seq: head.seq });
      for (const sha256 of [state.plan?.planSha256, state.plan?.surveySha256]) {
        if (!sha256) continue;
        const found = await db.selectFrom('documents').select('sha256').where('sha256', '=', sha256).executeTakeFirst();
        if (!found) return failBroken(`the plan of case ${caseId} is missing`, { caseId, sha256 });
      }
      const frozen = await verifyFrozen(db, caseId, rows);
      if (!frozen.ok) return frozen;
      cases++;
      events += rows.length;
    }
    if (heads.length < ROWS_AT_ONCE) return succeed({ cases, events });
  }
}

/** Every plan that a case froze, the amended ones too: there, in its one form, and holding the plan that it names. */
async function verifyFrozen(db: Kysely<StoreTables>, caseId: string, rows: readonly EventRow[]): Promise<Result<null, StoreFailureCode>> {
  const textOf = async (sha256: string, kind: string): Promise<string | null> =>
    (await db.selectFrom('documents').select('text').where('sha256', '=', sha256).where('kind', '=', kind).executeTakeFirst())?.text ?? null;
  for (const row of rows) {
    if (row.kind !== 'plan.frozen') continue;
    const { frozenSha256, planSha256, amends, differences } = readEventRow(row).data as CaseEventData['plan.frozen'];
    const text = await textOf(frozenSha256, 'frozen');
    const problem = text === null ? 'is missing' : checkFrozen(text, { caseId, planSha256, amends, differences }, await textOf(planSha256, 'plan'));
    if (problem !== null) return failBroken(`the plan frozen by event ${row.seq} of case ${caseId} ${problem}`, { caseId, seq: row.seq, sha256: frozenSha256 });
  }
  return succeed(null);
}

async function verifyAudit(db: Kysely<StoreTables>): Promise<Result<number, StoreFailureCode>> {
  const head = await db.selectFrom('audit_head').selectAll().where('id', '=', 1).executeTakeFirst();
  if (!head) return failBroken('the end of the audit record', {});
  let [seq, prevSha256] = [0, CHAIN_START];
  for (;;) {
    const rows = await db.selectFrom('audit').selectAll().where('seq', '>', seq).where('seq', '<=', head.seq).orderBy('seq').limit(ROWS_AT_ONCE).execute();
    for (const row of rows) {
      const entry = readAuditRow(row);
      if (entry.seq !== seq + 1 || entry.prevSha256 !== prevSha256 || hashAuditEntry(entry) !== entry.sha256) return failBroken(`audit entry ${seq + 1}`, { seq: seq + 1 });
      [seq, prevSha256] = [entry.seq, entry.sha256];
    }
    if (rows.length < ROWS_AT_ONCE) break;
  }
  const last = await db.selectFrom('audit').select('seq').orderBy('seq', 'desc').limit(1).executeTakeFirst();
  const now = await db.selectFrom('audit_head').select('seq').where('id', '=', 1).executeTakeFirstOrThrow();
  const isWhole = seq === head.seq && prevSha256 === head.sha256 && (last?.seq ?? 0) <= now.seq;
  return isWhole ? succeed(seq) : failBroken('the end of the audit record', { seq });
}

async function verifyDocuments(db: Kysely<StoreTables>): Promise<Result<number, StoreFailureCode>> {
  let [count, after] = [0, ''];
  for (;;) {
    const rows = await db.selectFrom('documents').select(['sha256', 'text']).where('sha256', '>', after).orderBy('sha256').limit(DOCUMENTS_AT_ONCE).execute();
    for (const { sha256, text } of rows) if (hashText(text) !== sha256) return failBroken('a stored document', { sha256 });
    count += rows.length;
    if (rows.length < DOCUMENTS_AT_ONCE) return succeed(count);
    after = rows.at(-1)!.sha256;
  }
}

/** Remakes the rows of cases whose state an older fold made; gives how many. */
export async function rebuildCases(db: Kysely<StoreTables>): Promise<number> {
  const stale = await db.selectFrom('cases').select('case_id').where('fold_version', '<>', FOLD_VERSION).execute();
  for (const { case_id: caseId } of stale) {
    await db.transaction().execute(async (tx) => {
      await tx.selectFrom('cases').select('seq').where('case_id', '=', caseId).forUpdate().execute();
      const rows = await tx.selectFrom('events').selectAll().where('case_id', '=', caseId).orderBy('seq').execute();
      await tx.updateTable('cases').set(await makeCaseRow(tx, foldCase(caseId, rows.map(readEventRow)))).where('case_id', '=', caseId).execute();
    });
  }
  return stale.length;
}
