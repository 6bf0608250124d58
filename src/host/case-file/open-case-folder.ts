import { open, readdir, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { isDataLocked } from '../storage/data-lock.ts';
import { hashText } from '../storage/hash-chain.ts';
import { CASE_FILES, nameDocument, type CaseFileFailureCode, type CaseNote, type OpenedCase } from './case-file-types.ts';
import type { CaseHead } from './event-schemas.ts';
import { decodeText, parseEvents, parseHead, type ParsedCase } from './parse-case.ts';

export const MOST_LOG_BYTES = 1 << 28;
export const MOST_DOCUMENT_BYTES = 1 << 28;
const MOST_HEAD_BYTES = 4096;
const DOCUMENT_NAME = /^([0-9a-f]{64})\.json$/;

const short = (sha256: string): string => sha256.slice(0, 12);
export const failMissing = (sha256: string, kind = 'document') => fail('document-missing' as const, formatText(CASE_FILE_EN, 'documentMissing', { kind, hash: short(sha256) }), CASE_FILE_EN.documentMissingNext, { sha256 });
export const failDamaged = (sha256: string) => fail('document-damaged' as const, formatText(CASE_FILE_EN, 'documentDamaged', { hash: short(sha256) }), CASE_FILE_EN.documentDamagedNext, { sha256 });
export const failTooLarge = (bytes: number, most: number) => fail('case-too-large' as const, formatText(CASE_FILE_EN, 'tooLarge', { bytes, most }), CASE_FILE_EN.tooLargeNext, { bytes, most });

/** The text of a document, when it is the one of this hash. */
export function checkDocument(bytes: Uint8Array, sha256: string): Result<string, CaseFileFailureCode> {
  const text = decodeText(bytes);
  return text !== null && hashText(text) === sha256 ? succeed(text) : failDamaged(sha256);
}

export const noteTail = ({ head, tailBytes }: ParsedCase): readonly CaseNote[] =>
  tailBytes > 0 ? [{ code: 'log-tail-unacknowledged', text: formatText(CASE_FILE_EN, 'tail', { seq: head.seq, bytes: tailBytes }) }] : [];

/**
 * A case folder as it is now. A writer may be at work: its head is read before its log, and what stands behind the head does
 * not count.
 * Fails     case-not-case, case-other-format, case-too-large, chain-broken
 */
export async function openCaseFolder(dir: string): Promise<Result<OpenedCase, CaseFileFailureCode>> {
  const head = await readHead(dir);
  if (!head.ok) return head;
  const parsed = await readLog(dir, head.value);
  if (!parsed.ok) return parsed;
  const isBeingWritten = parsed.value.tailBytes > 0 && (await isDataLocked(dir));
  const { events, state } = parsed.value;
  return succeed({
    where: 'folder', caseId: head.value.caseId, events, state, notes: isBeingWritten ? [] : noteTail(parsed.value),
    readDocument: (sha256) => readFolderDocument(dir, sha256),
    async listDocuments() {
      const names = await readdir(join(dir, CASE_FILES.documents)).catch(() => []);
      return names.flatMap((name) => DOCUMENT_NAME.exec(name)?.[1] ?? []).sort();
    },
    nameOf: (by) => by, note: () => Promise.resolve(succeed(null)), close: () => Promise.resolve(),
  });
}

/** Which case the folder holds, and up to where. Fails as parseHead. */
export async function readHead(dir: string): Promise<Result<CaseHead, CaseFileFailureCode>> {
  const bytes = await readUpTo(join(dir, CASE_FILES.head), MOST_HEAD_BYTES);
  return bytes ? parseHead(bytes) : fail('case-not-case', formatText(CASE_FILE_EN, 'notCase', { what: `it holds no ${CASE_FILES.head}` }), CASE_FILE_EN.notCaseNext);
}

/** The log of a folder up to its head. Fails case-too-large, chain-broken. */
export async function readLog(dir: string, head: CaseHead): Promise<Result<ParsedCase, CaseFileFailureCode>> {
  const path = join(dir, CASE_FILES.events);
  const size = await stat(path).then((found) => found.size, () => 0);
  if (size > MOST_LOG_BYTES) return failTooLarge(size, MOST_LOG_BYTES);
  return parseEvents(head, (await readUpTo(path, MOST_LOG_BYTES)) ?? new Uint8Array(0));
}

export async function readFolderDocument(dir: string, sha256: string): Promise<Result<string, CaseFileFailureCode>> {
  const bytes = /^[0-9a-f]{64}$/.test(sha256) ? await readUpTo(join(dir, nameDocument(sha256)), MOST_DOCUMENT_BYTES) : null;
  return bytes ? checkDocument(bytes, sha256) : failMissing(sha256);
}

/** A plain file of at most so many bytes; null for anything else. */
export async function readUpTo(path: string, most: number): Promise<Uint8Array | null> {
  try {
    const file = await open(path, 'r');
    try {
      const found = await file.stat();
      return found.isFile() && found.size <= most ? await file.readFile() : null;
    } finally {
      await file.close();
    }
  } catch {
    return null;
  }
}
