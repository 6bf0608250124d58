import { sql, type Kysely, type Transaction } from 'kysely';
import type { CaseEvent, CaseEventKind, NewCaseEvent } from '../../core/case/case-events.ts';
import { applyEvent, emptyCase, type CaseState } from '../../core/case/fold-case.ts';
import { describePlanState, listMissing } from '../../core/case/list-missing.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { formatCanonical } from '../../core/audit/format-canonical.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { STORE_EN } from '../../core/text/store-en.ts';
import { CHAIN_START, hashEvent } from './hash-chain.ts';
import { attempt, isTaken } from './store-failures.ts';
import type { AppendRequest, CaseLine, CaseStore, StoreFailureCode } from './store-types.ts';
import type { CaseRow, EventRow, StoreTables } from './tables.ts';

/** Raise it when fold-case.ts, list-missing.ts or makeCaseRow answers differently for the same events: stored rows are then remade. */
export const FOLD_VERSION = 7;
const AFTER_ALL_DAYS = '9999-99-99';
/** PostgreSQL text cannot hold it. */
const NUL = '\u0000';
const CASE_ID = /^[a-z0-9][a-z0-9-]{3,63}$/;
type Db = Kysely<StoreTables> | Transaction<StoreTables>;

export const failCaseUnknown = () => fail('case-unknown' as const, STORE_EN.caseUnknown, STORE_EN.caseUnknownNext);
const failEvent = (why: string) => fail('event-invalid' as const, formatText(STORE_EN, 'eventInvalid', { why }), STORE_EN.eventInvalidNext, { why });
const failChanged = (seq: number, expectSeq: number) => fail('case-changed' as const, formatText(STORE_EN, 'caseChanged', { seq, expectSeq }), STORE_EN.caseChangedNext, { seq, expectSeq });

/** Cases and their events. `nowMs` is the server's clock; a clock that steps back never puts an event before the last one. */
export function makeCaseCalls(db: Kysely<StoreTables>, nowMs: () => number): Pick<CaseStore, 'append' | 'readState' | 'listEvents' | 'listCases'> {
  return {
    append: (request) => attempt(() => appendEvents(db, request, nowMs)),
    readState: (caseId) => attempt(async () => {
      const row = await db.selectFrom('cases').select(['state', 'fold_version']).where('case_id', '=', caseId).executeTakeFirst();
      return row ? succeed(JSON.parse(row.state) as CaseState) : failCaseUnknown();
    }),
    listEvents: (caseId, afterSeq) => attempt(async () => {
      const rows = await db.selectFrom('events').selectAll().where('case_id', '=', caseId).where('seq', '>', afterSeq).orderBy('seq').execute();
      if (rows.length === 0 && !(await db.selectFrom('cases').select('case_id').where('case_id', '=', caseId).executeTakeFirst())) return failCaseUnknown();
      return succeed(rows.map(readEventRow));
    }),
    listCases: (ask) => attempt(() => listCaseLines(db, ask)),
  };
}

async function appendEvents(db: Kysely<StoreTables>, request: AppendRequest, nowMs: () => number): Promise<Result<readonly CaseEvent[], StoreFailureCode>> {
  const { caseId, expectSeq, events } = request;
  if (!CASE_ID.test(caseId)) return failEvent('number of the case');
  if (events.length === 0) return failEvent('no event');
  try {
    return await db.transaction().execute(async (tx) => {
      const row = await tx.selectFrom('cases').select(['seq', 'sha256', 'changed_at', 'state']).where('case_id', '=', caseId).forUpdate().executeTakeFirst();
      if (!row && expectSeq !== 0) return failCaseUnknown();
      if (row && row.seq !== expectSeq && !(await areTapsOnly(tx, caseId, expectSeq, row.seq))) return failChanged(row.seq, expectSeq);
      const before = row ? (JSON.parse(row.state) as CaseState) : emptyCase(caseId);
      const nowIso = new Date(nowMs()).toISOString();
      const at = row && row.changed_at > nowIso ? row.changed_at : nowIso;
      const linked = linkEvents(request, { seq: row?.seq ?? 0, sha256: row?.sha256 ?? CHAIN_START }, at);
      if (!linked.ok) return linked;
      const state = linked.value.reduce(applyEvent, before);
      const line = await makeCaseRow(tx, state);
      if (row) await tx.updateTable('cases').set(line).where('case_id', '=', caseId).execute();
      else await tx.insertInto('cases').values(line).execute();
      await tx.insertInto('events').values(linked.value.map(writeEventRow)).execute();
      return succeed(linked.value);
    });
  } catch (problem) {
    if (isTaken(problem)) return failChanged(1, expectSeq); // another writer opened the same case at the same moment
    throw problem;
  }
}

/** Whether nothing but taps of the room stands behind the event a writer has seen: nobody at a desk need have seen those. */
async function areTapsOnly(db: Db, caseId: string, expectSeq: number, seq: number): Promise<boolean> {
  if (expectSeq < 1 || expectSeq > seq) return false;
  const other = await db.selectFrom('events').select('seq').where('case_id', '=', caseId).where('seq', '>', expectSeq).where('kind', '<>', 'room.logged').limit(1).executeTakeFirst();
  return other === undefined;
}

/** New events as links of the chain behind `head`. */
export function linkEvents({ caseId, by, events }: AppendRequest, head: { readonly seq: number; readonly sha256: string }, at: string): Result<readonly CaseEvent[], StoreFailureCode> {
  const linked: CaseEvent[] = [];
  let prevSha256 = head.sha256;
  for (const [k, event] of events.entries()) {
    const seq = head.seq + 1 + k;
    const problem = checkEvent(event, seq);
    if (problem !== null) return failEvent(problem);
    const link = { caseId, seq, at, by, kind: event.kind as CaseEventKind, data: event.data, supersedes: event.supersedes ?? null, prevSha256 };
    try {
      prevSha256 = hashEvent(link as Omit<CaseEvent, 'sha256'>);
    } catch {
      return failEvent('a value that JSON cannot hold'); // the canonical form has no place for undefined or NaN
    }
    linked.push({ ...link, sha256: prevSha256 });
  }
  return succeed(linked);
}

function checkEvent(event: NewCaseEvent, seq: number): string | null {
  if ((event.kind === 'case.opened') !== (seq === 1)) return 'a case is opened once, by its first event';
  const { supersedes = null } = event;
  if (supersedes !== null && !(Number.isInteger(supersedes) && supersedes > 0 && supersedes < seq)) return 'it supersedes no earlier event';
  if (event.kind === 'case.opened' && event.data.label.includes(NUL)) return 'a sign that cannot be stored';
  return null;
}

export function readEventRow(row: EventRow): CaseEvent {
  const { case_id, seq, at, by_whom, kind, data, supersedes, prev_sha256, sha256 } = row;
  return { caseId: case_id, seq, at, by: by_whom, kind: kind as CaseEventKind, data: JSON.parse(data) as CaseEvent['data'], supersedes, prevSha256: prev_sha256, sha256 };
}
export function writeEventRow(event: CaseEvent): EventRow {
  const { caseId, seq, at, by, kind, data, supersedes, prevSha256, sha256 } = event;
  return { case_id: caseId, seq, at, by_whom: by, kind, data: formatCanonical(data), supersedes, prev_sha256: prevSha256, sha256, entry_id: readEntryId(event) };
}
/** The tap's own number; null for what is no tap. */
export const readEntryId = ({ kind, data }: Pick<CaseEvent, 'kind' | 'data'>): string | null => (kind === 'room.logged' ? (data as CaseEvent<'room.logged'>['data']).entryId : null);

/** A case's row for its state: what the work list shows, made from state and newest plan alone. */
export async function makeCaseRow(db: Db, state: CaseState): Promise<CaseRow> {
  const stored = state.plan ? await db.selectFrom('documents').select('text').where('sha256', '=', state.plan.planSha256).executeTakeFirst() : undefined;
  const plan = stored ? (JSON.parse(stored.text) as Plan) : null;
  return {
    case_id: state.caseId, seq: state.seq, sha256: state.sha256, label: state.label, procedure_on: state.procedureOn, sort_on: state.procedureOn ?? AFTER_ALL_DAYS,
    training: state.training || plan?.training === true, changed_at: state.changedAt, plan_state: describePlanState(state),
    missing: `|${listMissing(state, plan).join('|')}|`, state: JSON.stringify(state), fold_version: FOLD_VERSION,
  };
}

const escapeLike = (text: string): string => text.replace(/[\\%_]/g, (sign) => `\\${sign}`);

/** Searches labels and case numbers only: a patient's name would stand in the address of the request. */
async function listCaseLines(db: Kysely<StoreTables>, ask: Parameters<CaseStore['listCases']>[0]): Promise<Result<{ readonly cases: readonly CaseLine[]; readonly total: number }, StoreFailureCode>> {
  const { find, missing, afterCaseId, limit } = ask;
  let chosen = db.selectFrom('cases');
  if (find !== undefined && find !== '') {
    if (find.includes(NUL)) return succeed({ cases: [], total: 0 });
    const like = `%${escapeLike(find)}%`;
    chosen = chosen.where((eb) => eb.or([eb('label', 'ilike', like), eb('case_id', 'ilike', like)]));
  }
  if (missing !== undefined && missing !== '') chosen = chosen.where('missing', 'like', `%|${escapeLike(missing.replaceAll(NUL, ''))}|%`);
  const { total } = await chosen.select(sql<number>`count(*)::int`.as('total')).executeTakeFirstOrThrow();
  let page = chosen;
  if (afterCaseId !== undefined) {
    const after = await db.selectFrom('cases').select(['sort_on', 'case_id']).where('case_id', '=', afterCaseId).executeTakeFirst();
    if (!after) return failCaseUnknown();
    page = page.where(sql<boolean>`(sort_on, case_id) > (${after.sort_on}, ${after.case_id})`);
  }
  const rows = await page
    .select(['case_id', 'label', 'procedure_on', 'training', 'seq', 'changed_at', 'missing', 'plan_state'])
    .select(sql<boolean>`exists (select 1 from jobs where jobs.case_id = cases.case_id and jobs.kind = 'plan' and jobs.state in ('waiting', 'running'))`.as('is_planning'))
    .orderBy('sort_on').orderBy('case_id').limit(limit).execute();
  return succeed({ total, cases: rows.map((row) => ({
    caseId: row.case_id, label: row.label, procedureOn: row.procedure_on, training: row.training, seq: row.seq, changedAt: row.changed_at,
    missing: row.missing.split('|').filter((code) => code !== ''), planState: row.is_planning ? 'planning' : (row.plan_state as CaseLine['planState']),
  })) });
}
