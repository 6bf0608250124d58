import { sql, type Kysely } from 'kysely';
import { formatCanonical } from '../../core/audit/format-canonical.ts';
import { fail, succeed } from '../../core/result.ts';
import { STORE_EN } from '../../core/text/store-en.ts';
import { hashAuditEntry, hashText } from './hash-chain.ts';
import { attempt } from './store-failures.ts';
import type { AuditEntry, CaseStore, DocumentKind, StoredJob } from './store-types.ts';
import type { AuditRow, JobRow, StoreTables } from './tables.ts';

type RecordCalls = Pick<CaseStore, 'addAudit' | 'listAudit' | 'putDocument' | 'readDocument' | 'listDocuments' | 'putJob' | 'findJob' | 'listJobs'>;

/** Audit, documents and jobs. */
export function makeRecordCalls(db: Kysely<StoreTables>, nowMs: () => number): RecordCalls {
  const now = (): string => new Date(nowMs()).toISOString();
  return {
    addAudit: (entry) => attempt(() => db.transaction().execute(async (tx) => {
      const head = await tx.selectFrom('audit_head').selectAll().where('id', '=', 1).forUpdate().executeTakeFirstOrThrow();
      const at = head.at > now() ? head.at : now();
      const link = { ...entry, seq: head.seq + 1, at, prevSha256: head.sha256 };
      const linked: AuditEntry = { ...link, sha256: hashAuditEntry(link) };
      await tx.insertInto('audit').values(writeAuditRow(linked)).execute();
      await tx.updateTable('audit_head').set({ seq: linked.seq, sha256: linked.sha256, at }).where('id', '=', 1).execute();
      return succeed(linked);
    })),
    listAudit: ({ caseId, afterSeq, limit }) => attempt(async () => {
      let chosen = db.selectFrom('audit').selectAll().where('seq', '>', afterSeq);
      if (caseId !== undefined) chosen = chosen.where('case_id', '=', caseId);
      return succeed((await chosen.orderBy('seq').limit(limit).execute()).map(readAuditRow));
    }),

    putDocument: (kind, text) => attempt(async () => {
      const sha256 = hashText(text);
      await db.insertInto('documents').values({ sha256, kind, text, at: now() }).onConflict((oc) => oc.column('sha256').doNothing()).execute();
      return succeed({ sha256 });
    }),
    readDocument: (sha256) => attempt(async () => {
      const row = await db.selectFrom('documents').select(['kind', 'text']).where('sha256', '=', sha256).executeTakeFirst();
      if (!row) return fail('blob-unknown', STORE_EN.blobUnknown, STORE_EN.blobUnknownNext);
      if (hashText(row.text) !== sha256) return fail('blob-damaged', STORE_EN.blobDamaged, STORE_EN.blobDamagedNext, { sha256 });
      return succeed({ kind: row.kind as DocumentKind, text: row.text });
    }),
    listDocuments: (kind) => attempt(async () => succeed(await db.selectFrom('documents').select(['sha256', 'at']).where('kind', '=', kind).orderBy('at').orderBy('sha256').execute())),

    putJob: (job) => attempt(async () => {
      const { job_id: jobId, ...rest } = writeJobRow(job);
      await db.insertInto('jobs').values({ job_id: jobId, ...rest }).onConflict((oc) => oc.column('job_id').doUpdateSet(rest)).execute();
      return succeed(job);
    }),
    findJob: (jobId) => attempt(async () => {
      const row = await db.selectFrom('jobs').selectAll().where('job_id', '=', jobId).executeTakeFirst();
      return succeed(row ? readJobRow(row) : null);
    }),
    listJobs: ({ caseId, states }) => attempt(async () => {
      let chosen = db.selectFrom('jobs').selectAll();
      if (caseId !== undefined) chosen = chosen.where('case_id', '=', caseId);
      if (states !== undefined) chosen = states.length > 0 ? chosen.where('state', 'in', states) : chosen.where(sql<boolean>`false`);
      return succeed((await chosen.orderBy('created_at').orderBy('job_id').execute()).map(readJobRow));
    }),
  };
}

export function readAuditRow(row: AuditRow): AuditEntry {
  return {
    seq: row.seq, at: row.at, by: row.by_whom, kind: row.kind, caseId: row.case_id, data: JSON.parse(row.data) as AuditEntry['data'], prevSha256: row.prev_sha256, sha256: row.sha256,
  };
}
function writeAuditRow(entry: AuditEntry): AuditRow {
  return { seq: entry.seq, at: entry.at, by_whom: entry.by, kind: entry.kind, case_id: entry.caseId, data: formatCanonical(entry.data), prev_sha256: entry.prevSha256, sha256: entry.sha256 };
}
function readJobRow(row: JobRow): StoredJob {
  return {
    jobId: row.job_id, caseId: row.case_id, kind: row.kind as StoredJob['kind'], state: row.state as StoredJob['state'], by: row.by_whom,
    progress: JSON.parse(row.progress) as StoredJob['progress'], failure: row.failure === null ? null : (JSON.parse(row.failure) as StoredJob['failure']),
    ask: JSON.parse(row.ask) as unknown, answer: JSON.parse(row.answer) as unknown, createdAt: row.created_at, changedAt: row.changed_at,
  };
}
function writeJobRow(job: StoredJob): JobRow {
  return {
    job_id: job.jobId, case_id: job.caseId, kind: job.kind, state: job.state, by_whom: job.by, progress: JSON.stringify(job.progress),
    failure: job.failure === null ? null : JSON.stringify(job.failure), ask: JSON.stringify(job.ask ?? null), answer: JSON.stringify(job.answer ?? null),
    created_at: job.createdAt, changed_at: job.changedAt,
  };
}
