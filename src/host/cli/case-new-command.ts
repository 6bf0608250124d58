import { fail } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { NEW_CASE } from '../../formats/api/case-schemas.ts';
import { makeCaseId, readNowMs } from '../case-file/case-clock.ts';
import { makeCaseFolder } from '../case-file/write-case-folder.ts';
import { answer, readWriter, refuse, type WriteOptions } from './case-command-parts.ts';
import type { CommandIo } from './command-io.ts';

export interface CaseNewOptions extends WriteOptions {
  readonly dir: string;
  readonly label: string;
  readonly date?: string | undefined;
  readonly training?: boolean | undefined;
}

/** `trinadir case new DIR --label L`: a case folder with its first event. */
export async function runCaseNewCommand(options: CaseNewOptions, io: CommandIo): Promise<number> {
  const stop = (failure: Parameters<typeof refuse>[0]): number => refuse(failure, 'case new', options, io);
  const by = readWriter(options.by);
  if (!by.ok) return stop(by.failure);
  const said = { label: options.label.trim(), procedureOn: options.date ?? null };
  const checked = NEW_CASE.safeParse(said);
  if (!checked.success) {
    const isDate = checked.error.issues[0]?.path[0] === 'procedureOn';
    return stop((isDate ? fail('case-date-wrong', CASE_FILE_EN.dateWrong, CASE_FILE_EN.dateWrongNext) : fail('case-label-wrong', CASE_FILE_EN.labelWrong, CASE_FILE_EN.labelWrongNext)).failure);
  }
  const nowMs = (options.nowMs ?? readNowMs)();
  const about = { ...said, training: options.training === true, by: by.value, nowMs };
  const caseId = makeCaseId(about);
  const made = await makeCaseFolder(options.dir, { ...about, caseId });
  if (!made.ok) return stop(made.failure);
  return answer({ caseId, seq: made.value.seq, sha256: made.value.sha256 }, formatText(CASE_FILE_EN, 'begun', { caseId }), options, io);
}
