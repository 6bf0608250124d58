import type { LogDocument, LogRow } from '../../core/room/log-document.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';

const COLUMNS = [
  'at', 'within_ms', 'standing', 'what', 'kind', 'by', 'place', 'corrects', 'entry_id', 'logged_at', 'page_clock', 'page_monotonic_ms', 'added_ms', 'page', 'count', 'seq', 'sha256', 'data',
] as const;

/**
 * The log as a table, one line per record, replaced and taken-back ones too.
 * Shape     RFC 4180: UTF-8 with byte order mark, lines end with CR LF, first line names the columns. Times ISO 8601 UTC.
 *           `data` is the entry as JSON, so that nothing the words leave out is lost. The last line says what the table is for.
 * Limits    text that a spreadsheet would take for a formula gets an apostrophe in front
 */
export function writeLogCsv(log: LogDocument): string {
  const lines = [COLUMNS.map(String), ...log.rows.map(listCells), listFoot(log)];
  return `\ufeff${lines.map((cells) => `${cells.map(quoteCell).join(',')}\r\n`).join('')}`;
}

function listCells({ record, at, loggedAt, sha256, words, whoLogged }: LogRow): readonly string[] {
  return [
    at, record.offset === null ? '' : String(record.offset.withinMs), record.standing, guardText(words), record.entry?.is ?? 'taken back', guardText(whoLogged), record.place, record.corrects ?? '', record.entryId,
    loggedAt, record.clientAt, String(record.monotonicMs), record.offset === null ? '' : String(record.offset.addedMs), record.clientId, String(record.count), String(record.seq), sha256,
    record.entry === null ? '' : JSON.stringify(record.entry),
  ];
}

/** The last line: intended use, and where the log ends in the case's chain. */
function listFoot(log: LogDocument): readonly string[] {
  const of: Readonly<Partial<Record<(typeof COLUMNS)[number], string>>> = {
    at: log.asOf, what: `${log.training ? `${HOUSE_EN.training}. ` : ''}${HOUSE_EN.caution}`, kind: 'end', by: log.madeBy, entry_id: log.caseId, seq: String(log.lastSeq), sha256: log.lastSha256,
  };
  return COLUMNS.map((column) => of[column] ?? '');
}

/** A spreadsheet computes what begins with one of these. */
const guardText = (text: string): string => (/^[=+\-@\t\r]/.test(text) ? `'${text}` : text);
const quoteCell = (text: string): string => (/[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
