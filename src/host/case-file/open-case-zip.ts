import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { listZipEntries, readZipEntry } from '../../formats/zip/read-zip.ts';
import { sourceOfBytes, type ZipEntry } from '../../formats/zip/zip-types.ts';
import { CASE_FILES, type CaseFileFailureCode, type CaseNote, type OpenedCase } from './case-file-types.ts';
import { checkDocument, failDamaged, failMissing, failTooLarge, MOST_DOCUMENT_BYTES, MOST_LOG_BYTES, noteTail } from './open-case-folder.ts';
import { failBroken, parseEvents, parseHead } from './parse-case.ts';

const MOST_HEAD_BYTES = 4096;
const DOCUMENT_PATH = /^documents\/([0-9a-f]{64})\.json$/;
const failNotCase = (what: string) => fail('case-not-case' as const, formatText(CASE_FILE_EN, 'notCase', { what }), CASE_FILE_EN.notCaseNext);

/**
 * A .trinadir.zip, read where it is: nothing is unpacked to disk, and every entry is bounded before it is unpacked in memory.
 * Fails     case-not-case, case-other-format, case-too-large, case-zip-outside, case-zip-double, chain-broken
 */
export function openCaseZip(bytes: Uint8Array): Result<OpenedCase, CaseFileFailureCode> {
  const source = sourceOfBytes(bytes);
  const listed = listZipEntries(source);
  if (!listed.ok) return failNotCase(listed.failure.message.replace(/\.$/, '').replace(/^T/, 't'));
  const outside = listed.value.skipped.filter(({ code }) => code === 'name-unsafe').length;
  if (outside > 0) return fail('case-zip-outside', formatText(CASE_FILE_EN, 'zipOutside', { count: outside }), CASE_FILE_EN.zipOutsideNext, { entries: outside });
  const entries = new Map<string, ZipEntry>();
  for (const entry of listed.value.entries) {
    if (entries.has(entry.path)) return fail('case-zip-double', CASE_FILE_EN.zipEntryDouble, CASE_FILE_EN.zipEntryDoubleNext);
    entries.set(entry.path, entry);
  }
  const unpack = (path: string, most: number): Result<Uint8Array, CaseFileFailureCode> => {
    const entry = entries.get(path);
    if (!entry) return failNotCase(`it holds no ${path}`);
    if (entry.bytes > most) return failTooLarge(entry.bytes, most);
    const read = readZipEntry(source, entry, most);
    return read.ok ? read : failBroken(`${path} cannot be unpacked`);
  };
  const headBytes = unpack(CASE_FILES.head, MOST_HEAD_BYTES);
  if (!headBytes.ok) return headBytes;
  const head = parseHead(headBytes.value);
  if (!head.ok) return head;
  const log = unpack(CASE_FILES.events, MOST_LOG_BYTES);
  if (!log.ok) return log;
  const parsed = parseEvents(head.value, log.value);
  if (!parsed.ok) return parsed;
  const documents = new Map([...entries].flatMap(([path, entry]): [string, ZipEntry][] => {
    const sha256 = DOCUMENT_PATH.exec(path)?.[1];
    return sha256 === undefined ? [] : [[sha256, entry]];
  }));
  const foreign = listed.value.skipped.length + entries.size - documents.size - 2;
  const notes: readonly CaseNote[] = foreign > 0 ? [{ code: 'zip-entries-foreign', text: formatText(CASE_FILE_EN, 'foreign', { count: foreign }) }] : [];
  return succeed({
    where: 'zip', caseId: head.value.caseId, events: parsed.value.events, state: parsed.value.state, notes: [...noteTail(parsed.value), ...notes],
    readDocument(sha256) {
      const entry = documents.get(sha256);
      if (!entry) return Promise.resolve(failMissing(sha256));
      if (entry.bytes > MOST_DOCUMENT_BYTES) return Promise.resolve(failTooLarge(entry.bytes, MOST_DOCUMENT_BYTES));
      const read = readZipEntry(source, entry, MOST_DOCUMENT_BYTES);
      return Promise.resolve(read.ok ? checkDocument(read.value, sha256) : failDamaged(sha256));
    },
    listDocuments: () => Promise.resolve([...documents.keys()].sort()),
    nameOf: (by) => by, note: () => Promise.resolve(succeed(null)), close: () => Promise.resolve(),
  });
}
