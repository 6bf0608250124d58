import { fail, type Failure } from '../../core/result.ts';
import type { RoomRecord } from '../../core/room/room-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { readNowMs, startClock } from '../case-file/case-clock.ts';
import { failDiffering, logRecords, makeRecordMaker } from '../case-file/log-records.ts';
import { openWritableCase } from '../case-file/open-writable-case.ts';
import { decodeText, parseShallow } from '../case-file/parse-case.ts';
import type { CaseWriter } from '../case-file/write-case-folder.ts';
import { answer, readWriter, refuse, type WriteOptions } from './case-command-parts.ts';
import type { CommandIo } from './command-io.ts';
import { EXIT } from './exit-codes.ts';
import { readLines, type ReadLine } from './read-standard-input.ts';

export interface CaseLogOptions extends WriteOptions {
  readonly dir: string;
  readonly kind?: string | undefined;
  readonly data?: string | undefined;
  readonly corrects?: string | undefined;
  readonly takeBack?: boolean | undefined;
  readonly stdin?: boolean | undefined;
  readonly input?: AsyncIterable<Uint8Array> | undefined;
}
const MOST_LINE_BYTES = 64 << 10;

/** `trinadir case log DIR --kind K --data JSON`, or `--stdin`: taps of the room at the end of the case's log. */
export async function runCaseLogCommand(options: CaseLogOptions, io: CommandIo): Promise<number> {
  const stop = (failure: Failure<string>): number => refuse(failure, 'case log', options, io);
  const clock = startClock();
  const by = readWriter(options.by);
  if (!by.ok) return stop(by.failure);
  const isOne = options.kind !== undefined || options.takeBack === true;
  if (isOne === (options.stdin === true) || (options.takeBack === true && (options.corrects === undefined || options.kind !== undefined))) {
    return stop(fail('room-kind-missing', CASE_FILE_EN.kindMissing, CASE_FILE_EN.kindMissingNext).failure);
  }
  const opened = await openWritableCase(options.dir, options.nowMs ?? readNowMs);
  if (!opened.ok) return stop(opened.failure);
  const maker = makeRecordMaker(clock);
  if (options.stdin === true) return logStream(opened.value.writer, maker, by.value, options, io);

  const data = options.data === undefined ? {} : parseShallow(options.data);
  const isObject = data !== null && typeof data === 'object' && !Array.isArray(data);
  if (!isObject) return stop(fail('room-entry-invalid', formatText(CASE_FILE_EN, 'entryWrong', { field: '--data', problem: 'not JSON of an object' }), CASE_FILE_EN.entryWrongNext).failure);
  const record = maker.make(options.takeBack === true ? null : { ...data, is: options.kind }, options.corrects ?? null);
  if (!record.ok) return stop(record.failure);
  const logged = await logRecords(opened.value.writer, by.value, [record.value], 'corrected');
  if (!logged.ok) return stop(logged.failure);
  const { entryId, happenedAt } = record.value;
  return answer({ seq: logged.value.seq, entryId, happenedAt }, formatText(CASE_FILE_EN, 'logged', { seq: logged.value.seq, entryId }), options, io);
}

/** A line that does not fit is named and left out; those before and after it are kept. Each is acknowledged when it is flushed. */
async function logStream(writer: CaseWriter, maker: ReturnType<typeof makeRecordMaker>, by: string, options: CaseLogOptions, io: CommandIo): Promise<number> {
  const totals = { taken: [] as string[], known: [] as string[], refused: 0, seq: 0 };
  const refuseLine = (text: string, code: string): void => {
    totals.refused++;
    io.err(`${text} (${code})\n`);
  };
  const readRecord = ({ line, bytes }: ReadLine): RoomRecord | null => {
    if (bytes === null) return refuseLine(formatText(CASE_FILE_EN, 'lineTooLong', { line, most: MOST_LINE_BYTES }), 'room-line-too-long'), null;
    const made = maker.make(parseShallow(decodeText(bytes) ?? ''));
    if (made.ok) return made.value;
    const { field = '', problem = '' } = made.failure.evidence;
    return refuseLine(formatText(CASE_FILE_EN, 'lineWrong', { line, field, problem }), made.failure.code), null;
  };
  for await (const lines of readLines(options.input ?? process.stdin, MOST_LINE_BYTES)) {
    const records = lines.map(readRecord).filter((r) => r !== null);
    if (records.length === 0) continue;
    const logged = await logRecords(writer, by, records);
    if (!logged.ok) return refuse(logged.failure, 'case log', options, io);
    const { taken, known, differing, seq } = logged.value;
    totals.taken.push(...taken.map((t) => t.entryId));
    totals.known.push(...known);
    totals.seq = seq;
    for (const _entryId of differing) refuseLine(failDiffering().failure.message, 'record-differs');
    if (options.json !== true) for (const t of taken) io.out(`${t.seq} ${t.entryId}\n`);
  }
  const { taken, known, refused, seq } = totals;
  if (options.json === true) io.out(`${JSON.stringify({ seq, taken, known, refused })}\n`);
  else if (options.quiet !== true) io.err(`${formatText(CASE_FILE_EN, 'loggedAll', { taken: taken.length, known: known.length, refused, seq })}\n`);
  if (refused === 0) return EXIT.answered;
  return refuse(fail('room-lines-refused', formatText(CASE_FILE_EN, 'linesRefused', { refused }), CASE_FILE_EN.entryWrongNext, { refused }).failure, 'case log', options, io);
}
