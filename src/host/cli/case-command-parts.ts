import type { CaseNote } from '../case-file/case-file-types.ts';
import { fail, succeed, type Failure, type Result } from '../../core/result.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { readStamp } from './clock.ts';
import type { CommandIo } from './command-io.ts';
import { EXIT } from './exit-codes.ts';
import { reportFailure } from './report-failure.ts';

/** What the verbs of a case share. */
export interface CaseOptions {
  readonly json?: boolean | undefined;
  readonly quiet?: boolean | undefined;
}
export interface WriteOptions extends CaseOptions {
  readonly by?: string | undefined;
  /** The clock of the log; that of the machine unless the demo tells its invented hour. */
  readonly nowMs?: (() => number) | undefined;
}

const USAGE = new Set([
  'added-beside-missing', 'case-place-taken', 'case-in-use', 'case-read-only', 'case-date-wrong', 'case-label-wrong', 'case-by-wrong', 'source-date-not-seconds', 'room-kind-missing', 'override-not-written', 'export-not-named',
  'option-unfit', 'export-several', 'export-later', 'export-with-identity', 'out-file-exists', 'store-locked',
]);
const exitOf = (code: string): number => (code === 'store-unreachable' ? EXIT.unreachable : USAGE.has(code) ? EXIT.usage : EXIT.refused);

/** Reports a refusal and gives its exit code. */
export function refuse(failure: Failure<string>, verb: string, options: CaseOptions, io: CommandIo): number {
  reportFailure(failure, verb, { json: options.json === true }, io);
  return exitOf(failure.code);
}

/** Prints an answer: one JSON document, or its words. */
export function answer(json: object, text: string, options: CaseOptions, io: CommandIo): number {
  if (options.json === true) io.out(`${JSON.stringify(json)}\n`);
  else if (options.quiet !== true) io.out(`${text}\n`);
  return EXIT.answered;
}

export function tellNotes(notes: readonly CaseNote[], options: CaseOptions, io: CommandIo): void {
  if (options.quiet !== true) for (const { code, text } of notes) io.err(`${text} (${code})\n`);
}

/** Named in the log when nobody says who it is. */
const UNNAMED = 'command line';
/** Who writes. Fails case-by-wrong, source-date-not-seconds (a time that cannot be put into the log). */
export function readWriter(by: string | undefined): Result<string, 'case-by-wrong' | 'source-date-not-seconds'> {
  const stamp = readStamp();
  if (!stamp.ok) return stamp;
  const name = by?.trim() ?? UNNAMED;
  return name !== '' && name.length <= 80 ? succeed(name) : fail('case-by-wrong', CASE_FILE_EN.byWrong, CASE_FILE_EN.byWrongNext);
}
