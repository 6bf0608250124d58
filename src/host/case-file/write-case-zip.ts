import { zipSync } from 'fflate';
import { succeed, type Result } from '../../core/result.ts';
import { CASE_FILES, nameDocument, type OpenedCase } from './case-file-types.ts';
import { listNamedDocuments } from './list-named-documents.ts';
import { failMissing } from './open-case-folder.ts';
import { formatEventLine, formatHead } from './parse-case.ts';

/** The first day that a zip can name, in whatever zone the machine stands: the same case gives the same bytes. */
const NO_DAY = new Date(1980, 0, 1);

/**
 * A case as one file: event log, head and every document that an event names. Pixels are left out; a case is text. Unpacked,
 * it is a case folder.
 * Fails     document-missing, document-damaged, and as the store
 */
export async function writeCaseZip({ caseId, events, state, readDocument }: Pick<OpenedCase, 'caseId' | 'events' | 'state' | 'readDocument'>): Promise<Result<Uint8Array, string>> {
  const encode = (text: string): Uint8Array => new TextEncoder().encode(text);
  const files: Record<string, Uint8Array> = {
    [CASE_FILES.head]: encode(formatHead({ format: 'trinadir.case/1', caseId, seq: state.seq, sha256: state.sha256 })),
    [CASE_FILES.events]: encode(events.map(formatEventLine).join('')),
  };
  for (const { sha256, kind } of [...listNamedDocuments(events)].sort((a, b) => (a.sha256 < b.sha256 ? -1 : 1))) {
    const read = await readDocument(sha256);
    if (!read.ok) return read.failure.code === 'document-missing' ? failMissing(sha256, kind) : read;
    files[nameDocument(sha256)] = encode(read.value);
  }
  return succeed(zipSync(files, { level: 6, mtime: NO_DAY }));
}
