import type { Failure } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { openCase } from '../case-file/open-case.ts';
import type { StoredPlace } from '../case-file/open-stored-case.ts';
import { verifyCase } from '../case-file/verify-case.ts';
import { answer, refuse, tellNotes, type CaseOptions } from './case-command-parts.ts';
import type { CommandIo } from './command-io.ts';

/** `trinadir audit verify CASE`: one case, wherever it lies. */
export async function runCaseAuditCommand(options: CaseOptions & StoredPlace & { readonly named: string }, io: CommandIo): Promise<number> {
  const stop = (failure: Failure<string>): number => refuse(failure, 'audit', options, io);
  const opened = await openCase(options.named, options);
  if (!opened.ok) return stop(opened.failure);
  try {
    const verified = await verifyCase(opened.value);
    if (!verified.ok) return stop(verified.failure);
    tellNotes(opened.value.notes, options, io);
    const { events, documents, frozen, sha256 } = verified.value;
    return answer({ ...verified.value, notes: opened.value.notes.map((n) => n.code) }, formatText(CASE_FILE_EN, 'verified', { events, documents, frozen, hash: sha256 }), options, io);
  } finally {
    await opened.value.close();
  }
}
