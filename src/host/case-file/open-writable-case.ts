import { stat } from 'node:fs/promises';
import type { CaseState } from '../../core/case/fold-case.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import type { CaseFileFailureCode, OpenedCase } from './case-file-types.ts';
import { readFolderDocument } from './open-case-folder.ts';
import { openCaseWriter, type CaseWriter } from './write-case-folder.ts';

export interface WritableCase extends Pick<OpenedCase, 'readDocument'> {
  readonly writer: CaseWriter;
  /** As it was when it was opened. */
  readonly state: CaseState;
}

/**
 * A case folder that is to be written.
 * Fails     case-unreadable, case-read-only (a file is named), and as openCaseWriter
 */
export async function openWritableCase(dir: string, nowMs: () => number): Promise<Result<WritableCase, CaseFileFailureCode>> {
  const found = await stat(dir).catch(() => null);
  if (found === null) return fail('case-unreadable', CASE_FILE_EN.unreadable, CASE_FILE_EN.unreadableNext);
  if (!found.isDirectory()) return fail('case-read-only', CASE_FILE_EN.readOnlyCase, CASE_FILE_EN.readOnlyCaseNext);
  const writer = await openCaseWriter(dir, nowMs);
  return writer.ok ? succeed({ writer: writer.value, state: writer.value.state, readDocument: (sha256) => readFolderDocument(dir, sha256) }) : writer;
}
