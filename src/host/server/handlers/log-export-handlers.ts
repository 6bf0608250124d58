import { formatCanonical } from '../../../core/audit/format-canonical.ts';
import { makeLogDocument, type LogDocument } from '../../../core/room/log-document.ts';
import type { FrozenDocument } from '../../../core/room/frozen-types.ts';
import { succeed, type Result } from '../../../core/result.ts';
import { writeLogFhir } from '../../../formats/fhir/write-log-fhir.ts';
import { writeLogCsv } from '../../../formats/report/write-log-csv.ts';
import type { PrintAsk } from '../../jobs/draw-print.ts';
import { WorkerPool } from '../../jobs/worker-pool.ts';
import type { CaseStore } from '../../storage/store-types.ts';
import { noteAudit } from '../door.ts';
import type { Handlers } from '../handler-types.ts';
import { drawInThread } from './print-handlers.ts';

const TYPES = { csv: 'text/csv; charset=utf-8', pdf: 'application/pdf', fhir: 'application/fhir+json; charset=utf-8' } as const;
const ENDINGS = { csv: 'csv', pdf: 'pdf', fhir: 'fhir.json' } as const;

/** The log of the room, handed over. */
export const makeLogExportHandlers = (makePool: () => WorkerPool = () => new WorkerPool(1, { isQuiet: true })): Pick<Handlers, 'exportLog'> => ({
  async exportLog({ params: { caseId, format }, caller }, { store, version }) {
    const log = await readLogDocument(store, caseId, version);
    if (!log.ok) return log;
    const written: Result<Uint8Array | string, string> = format === 'pdf' ? await drawInThread(makePool(), { name: 'log', log: log.value } satisfies PrintAsk) : succeed(format === 'csv' ? writeLogCsv(log.value) : formatCanonical(writeLogFhir(log.value)));
    if (!written.ok) return written;
    const noted = await noteAudit(store, caller!.personId, 'export.made', { what: `log ${format}`, seq: log.value.lastSeq }, caseId);
    if (!noted.ok) return noted;
    return succeed(new Response(written.value as string | Uint8Array<ArrayBuffer>, {
      headers: { 'Content-Type': TYPES[format], 'Content-Disposition': `attachment; filename="room-log-${caseId.slice(0, 8)}-${log.value.lastSeq}.${ENDINGS[format]}"`, 'Cache-Control': 'no-store' },
    }));
  },
});

/** Everything an export of the log says. Fails: as the store. A frozen document that is damaged is named by audit verify; the log is given without it. */
async function readLogDocument(store: CaseStore, caseId: string, madeBy: string): Promise<Result<LogDocument, string>> {
  const state = await store.readState(caseId);
  if (!state.ok) return state;
  const events = await store.listRecords(caseId, 0);
  if (!events.ok) return events;
  const people = await store.listPeople();
  if (!people.ok) return people;
  const stored = state.value.frozen ? await store.readDocument(state.value.frozen.frozenSha256) : null;
  const frozen = stored?.ok ? (JSON.parse(stored.value.text) as FrozenDocument) : null;
  const names = new Map(people.value.map((p) => [p.personId, p.displayName]));
  const cards = new Map((frozen?.rescue.cards ?? []).map((c) => [c.id, c.title]));
  // Taps that came between the two readings are in the next export.
  const upTo = events.value.filter((e) => e.seq <= state.value.seq);
  return succeed(makeLogDocument(state.value, upTo, frozen, { nameOf: (id) => names.get(id) ?? id, nameCard: (id) => cards.get(id) ?? id }, madeBy));
}
