import { TRAINING_TABLE } from '../../../core/device/training-table.ts';
import { fail, succeed, type Result } from '../../../core/result.ts';
import { formatText } from '../../../core/text/catalogue.ts';
import { SERVER_EN } from '../../../core/text/server-en.ts';
import { TABLES_EN } from '../../../core/text/tables-en.ts';
import { WHOLE_TRAINING_RULES } from '../../../core/verdict/result-rules.ts';
import { parseDeviceTable } from '../../../formats/tables/parse-device-table.ts';
import { parseRescueCards } from '../../../formats/tables/parse-rescue.ts';
import { parseRhythmRules } from '../../../formats/tables/parse-rhythm-rules.ts';
import { parseRules } from '../../../formats/tables/parse-rules.ts';
import { isChangedAfterSigning } from '../../cli/signed-hash.ts';
import type { CaseStore, DocumentKind, StoreFailureCode } from '../../storage/store-types.ts';
import { noteAudit } from '../door.ts';
import type { Handlers } from '../handler-types.ts';

export type TableRoute = 'listTables' | 'addTable' | 'readTable';
const KINDS = ['devices', 'rules', 'rescue', 'rhythm-rules'] as const satisfies readonly DocumentKind[];
const KIND_OF: Readonly<Record<string, (typeof KINDS)[number]>> = { 'trinadir.rules/1': 'rules', 'trinadir.rescue/1': 'rescue', 'trinadir.rhythm-rules/1': 'rhythm-rules' };
const PARSE: Readonly<Record<(typeof KINDS)[number], (body: unknown) => Result<{ readonly signedBy: string }>>> = { devices: parseDeviceTable, rules: parseRules, rescue: parseRescueCards, 'rhythm-rules': parseRhythmRules };
/** As `trinadir sign` writes it, so that a table has one hash as file and as document. */
const formatTable = (content: unknown): string => `${JSON.stringify(content, null, 1)}\n`;

/** The bundled training table and rules, so that they can be chosen like a hospital's own. Stored by content: once. */
export async function keepTrainingTables(store: CaseStore): Promise<Result<{ readonly devicesSha256: string; readonly rulesSha256: string }, StoreFailureCode>> {
  const devices = await store.putDocument('devices', formatTable(TRAINING_TABLE));
  if (!devices.ok) return devices;
  const rules = await store.putDocument('rules', formatTable(WHOLE_TRAINING_RULES));
  return rules.ok ? succeed({ devicesSha256: devices.value.sha256, rulesSha256: rules.value.sha256 }) : rules;
}

/** Device tables, rule sets, rescue cards and rhythm rules of the hospital. A table is never changed: a corrected one is another document. */
export const TABLE_HANDLERS: Pick<Handlers, TableRoute> = {
  async listTables(_call, { store }) {
    const tables = [];
    for (const kind of KINDS) {
      const listed = await store.listDocuments(kind);
      if (!listed.ok) return listed;
      for (const { sha256 } of listed.value) {
        const read = await store.readDocument(sha256);
        if (!read.ok) return read;
        const { hospital, signedBy, signedAt, training } = JSON.parse(read.value.text) as { hospital?: string; signedBy?: string; signedAt?: string; training?: boolean };
        tables.push({ kind, sha256, hospital: hospital ?? '', signedBy: signedBy ?? '', signedAt: signedAt ?? '', training: training === true, isSigned: (signedBy ?? '').trim() !== '' });
      }
    }
    return succeed(tables);
  },

  async addTable({ body, caller }, { store }) {
    const kind = KIND_OF[String((body as { format?: unknown } | null)?.format)] ?? 'devices';
    const checked = PARSE[kind](body);
    if (!checked.ok) return checked;
    if (isChangedAfterSigning(body)) return fail('table-changed', TABLES_EN.changed, TABLES_EN.changedNext);
    if (checked.value.signedBy.trim() === '') return fail('table-not-signed', SERVER_EN.tableNotSigned, SERVER_EN.tableNotSignedNext);
    const kept = await store.putDocument(kind, formatTable(body));
    if (!kept.ok) return kept;
    const noted = await noteAudit(store, caller!.personId, 'table.added', { kind, sha256: kept.value.sha256 });
    return noted.ok ? kept : noted;
  },

  async readTable({ params: { sha256 } }, { store }) {
    const read = await store.readDocument(sha256);
    if (!read.ok) return read;
    if (!KINDS.some((kind) => kind === read.value.kind)) return fail('document-wrong-kind', formatText(SERVER_EN, 'documentWrongKind', { kind: 'table' }), SERVER_EN.documentWrongKindNext);
    return succeed(new Response(read.value.text, { headers: { 'Content-Type': 'application/json; charset=utf-8' } }));
  },
};
