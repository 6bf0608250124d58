import type { Plan } from '../../core/case/plan-types.ts';
import { succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { readNowMs } from '../case-file/case-clock.ts';
import { readAddedFile } from '../case-file/read-added-file.ts';
import type { AddedBeside } from '../case-file/read-added-result.ts';
import { readCasePlan } from '../case-file/read-case-documents.ts';
import { openWritableCase, type WritableCase } from '../case-file/open-writable-case.ts';
import { answer, readWriter, refuse, tellNotes, type WriteOptions } from './case-command-parts.ts';
import type { CommandIo } from './command-io.ts';

export interface CaseAddOptions extends WriteOptions, AddedBeside {
  readonly dir: string;
  readonly file: string;
}

/** `trinadir case add DIR FILE`: a plan, a table, entries, a recording or an echo report; the document first, then the events that name it. */
export async function runCaseAddCommand(options: CaseAddOptions, io: CommandIo): Promise<number> {
  const stop = (failure: Parameters<typeof refuse>[0]): number => refuse(failure, 'case add', options, io);
  const by = readWriter(options.by);
  if (!by.ok) return stop(by.failure);
  const opened = await openWritableCase(options.dir, options.nowMs ?? readNowMs);
  if (!opened.ok) return stop(opened.failure);
  const { writer } = opened.value;
  const file = await readAddedFile(options.file, options);
  if (!file.ok) return stop(file.failure);
  const { document, what } = file.value;
  const appended = await writer.append(by.value, async (state) => {
    const plan = await readNewestPlan(opened.value, state.plan?.planSha256 ?? null);
    if (!plan.ok) return plan;
    const events = file.value.listEvents(state, plan.value);
    if (!events.ok || events.value.length === 0 || document === null) return events;
    const kept = await writer.putDocument(document);
    return kept.ok ? events : kept;
  });
  if (!appended.ok) return stop(appended.failure);
  const { added, state, notes } = appended.value;
  tellNotes(notes, options, io);
  const text = formatText(CASE_FILE_EN, added.length > 0 ? 'added' : 'addedNothing', { what, count: added.length, seq: state.seq });
  return answer({ caseId: state.caseId, added: what, events: added.length, seq: state.seq, sha256: state.sha256 }, text, options, io);
}

export async function readNewestPlan(opened: Pick<WritableCase, 'readDocument'>, sha256: string | null): Promise<Result<Plan | null, string>> {
  if (sha256 === null) return succeed(null);
  const read = await opened.readDocument(sha256);
  return read.ok ? readCasePlan(read.value) : read;
}
