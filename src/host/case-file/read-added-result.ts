import { createHash, randomBytes } from 'node:crypto';
import { z } from 'zod';
import { formatCanonical } from '../../core/audit/format-canonical.ts';
import { checkEntryKind } from '../../core/case/entry-kinds.ts';
import type { NewCaseEvent } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { EcgWords, RecordingMoment, SealedGrade } from '../../core/case/result-events.ts';
import { findEchoField } from '../../core/echo/echo-fields.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import type { EcgMoment } from '../../core/rhythm/rhythm-types.ts';
import { checkResultEntry } from '../../core/verdict/result-fields.ts';
import { ECG_MOMENT, ID, INSTANT, PERSON_EVENT, shortText, WITNESS_NOTE } from '../../formats/api/case-schemas.ts';
import { readStamp } from '../cli/clock.ts';
import type { ContrastSaid } from '../cli/contrast-said.ts';
import { readEchoFile } from '../jobs/echo-jobs.ts';
import { readPressure } from '../jobs/pressure-jobs.ts';
import { hashText } from '../storage/hash-chain.ts';
import { judgeAddedIdentity } from './judge-added-identity.ts';
import type { AddedFile } from './added-file-types.ts';
import { readAddedEcg, readAddedRun } from './read-added-run.ts';

/** What is said beside a recording or an echo report that is added. */
export interface AddedBeside {
  /** A recording of pressures, and of when. */
  readonly moment?: RecordingMoment | undefined;
  readonly takenAt?: string | undefined;
  readonly channels?: string | undefined;
  /** The echo that a report belongs to; it is begun when it is new. */
  readonly echo?: string | undefined;
  /** An ECG record, and of which moment. */
  readonly ecg?: EcgMoment | undefined;
  /** An angiographic run with contrast. */
  readonly angiogram?: boolean | undefined;
  /** What is said of that run. */
  readonly said?: ContrastSaid | undefined;
  /** Why a file that does not name this patient belongs to the case. */
  readonly because?: string | undefined;
}

/**
 * A recording of pressures, an ECG record, a run with contrast, or the structured report of an echo, for a case file: measured here, its answer kept as a document. Its
 * own bytes stay where they are; the log names them by their hash, as it does for runs.
 * Fails     added-beside-missing, file-identity-differs, file-identity-open, and as the readers, readAddedRun and readAddedEcg
 */
export async function readAddedMeasurement(path: string, bytes: Uint8Array, beside: AddedBeside): Promise<Result<AddedFile, string>> {
  const { takenAt } = beside;
  if (takenAt === undefined || !INSTANT.safeParse(takenAt).success || (beside.because !== undefined && beside.because.trim().length < 3)) return failBeside();
  const blobSha256 = createHash('sha256').update(bytes).digest('hex');
  const taken = { takenAt, because: beside.because ?? null };
  if (beside.angiogram === true) return readAddedRun(path, bytes, beside.said ?? {}, taken);
  if (beside.ecg !== undefined) return readAddedEcg(path, bytes, beside.ecg, beside.channels ?? null, taken);
  if (beside.echo !== undefined) return readReport(path, blobSha256, beside.echo, takenAt, beside.because ?? null);
  return beside.moment === undefined ? failBeside() : readRecordingFile(path, blobSha256, beside.moment, takenAt, beside);
}
const failBeside = () => fail('added-beside-missing', CASE_FILE_EN.besideMissing, CASE_FILE_EN.besideMissingNext);

function readRecordingFile(path: string, blobSha256: string, moment: RecordingMoment, takenAt: string, { channels, because }: AddedBeside): Result<AddedFile, string> {
  const stamp = readStamp();
  if (!stamp.ok) return stamp;
  const read = readPressure({ path, channels: channels ?? null, inputs: {}, stamp: stamp.value });
  if (!read.ok) return read;
  const { answer, refusal, format, durationS, identity } = read.value;
  const document = answer === null ? null : JSON.stringify(answer);
  const recordingId = `recording-${hashText(`${moment}\n${channels ?? ''}\n${blobSha256}`).slice(0, 32)}`;
  return succeed({
    what: 'recording', document,
    listEvents(state) {
      if (state.result.recordings.some((r) => r.recordingId === recordingId && r.withdrawn === null)) return succeed([]);
      const compared = judgeAddedIdentity(state, identity, because ?? null);
      if (!compared.ok) return compared;
      const answerSha256 = document === null ? null : hashText(document);
      return succeed([{ kind: 'recording.joined', data: { recordingId, moment, blobSha256, answerSha256, refusal, format, channels: channels ?? null, takenAt, durationS, identity: compared.value } }]);
    },
  });
}

function readReport(path: string, blobSha256: string, echoId: string, takenAt: string, because: string | null): Result<AddedFile, string> {
  if (!ID.safeParse(echoId).success) return failBeside();
  const read = readEchoFile({ path });
  if (!read.ok) return read;
  const { is, fields, halfWidths, identity } = read.value;
  return succeed({
    what: 'echo report', document: null,
    listEvents(state) {
      const echo = state.result.echoes.find((e) => e.echoId === echoId);
      if (echo?.files.some((f) => f.blobSha256 === blobSha256)) return succeed([]);
      const compared = judgeAddedIdentity(state, identity, because);
      if (!compared.ok) return compared;
      const begun: readonly NewCaseEvent[] = echo ? [] : [{ kind: 'echo.begun', data: { echoId, takenAt } }];
      return succeed([...begun, { kind: 'echo.joined', data: { echoId, blobSha256, is, fields, halfWidths, identity: compared.value } }]);
    },
  });
}

const value = z.union([shortText(400), z.number(), z.boolean(), z.null()]);
const FIELDS = z.record(z.string().regex(/^[a-zA-Z][a-zA-Z0-9.-]{1,60}$/), value);
const grade = z.number().min(0).max(4);
const WORDS = PERSON_EVENT.options.find((o) => o.shape.kind.value === 'ecg.entered')!.shape.data as z.ZodObject;
/** Parts of trinadir.entries/1 that speak of the result (docs/case-file.md). */
export const RESULT_ENTRIES = {
  result: FIELDS.optional(),
  echo: z.strictObject({ echoId: ID, takenAt: INSTANT, entries: FIELDS }).optional(),
  ecg: z.partialRecord(ECG_MOMENT, (WORDS.shape as { readonly words: z.ZodType<EcgWords | null> }).words).optional(),
  /** `of`: an id, or the newest of a kind. */
  witnesses: z.array(z.strictObject({ of: z.union([z.enum(['recording', 'echo', 'angiogram']), ID]), ...WITNESS_NOTE })).max(20).optional(),
  readers: z.array(ID).max(20).optional(),
  /** Of whoever writes. */
  grade: z.strictObject({ of: z.enum(['pressure', 'echo', 'angiogram', 'overall']), low: grade, high: grade, ...WITNESS_NOTE }).refine((g) => g.low <= g.high, { path: ['high'] }).optional(),
  decision: z.strictObject({ decision: z.enum(['wait', 'post-dilate', 'second-valve', 'snare', 'closure', 'surgery', 'finish']), because: shortText(400).min(3) }).optional(),
} as const;
const _SHAPE = z.strictObject(RESULT_ENTRIES);
export type ResultEntries = z.infer<typeof _SHAPE>;

/** The first entry that its field does not take; null: all do. An id that is not known is not repeated. */
export function findResultProblem({ result = {}, echo }: ResultEntries): { readonly id: string; readonly problem: string } | null {
  for (const [id, v] of Object.entries(result)) {
    const problem = checkResultEntry(id, v);
    if (problem !== null) return { id: problem === 'field-unknown' ? 'one of its fields' : id, problem };
  }
  for (const [id, v] of Object.entries(echo?.entries ?? {})) {
    const field = findEchoField(id);
    const problem = field === null ? 'field-unknown' : checkEntryKind(field, v);
    if (problem !== null) return { id: field === null ? 'one of its fields' : `echo.${id}`, problem };
  }
  return null;
}
export const countResultEntries = ({ result = {}, echo, ecg = {}, witnesses = [], readers, grade: g, decision }: ResultEntries): number =>
  Object.keys(result).length + (echo ? 1 : 0) + Object.keys(ecg).length + witnesses.length + (readers ? 1 : 0) + (g ? 1 : 0) + (decision ? 1 : 0);

/** The sealed grade of the file, as a document; null: there is none. Its nonce keeps a grade from being guessed by its hash. */
export function sealGrade({ grade: given }: ResultEntries): string | null {
  if (!given) return null;
  const { of, low, high, takenAt, heartRatePerMin, loadingNote } = given;
  const epoch = process.env['SOURCE_DATE_EPOCH'];
  // Where the time is set from outside the same words give the same bytes, the nonce too.
  const nonce = epoch ? createHash('sha256').update(`${epoch} ${formatCanonical(given)}`).digest('hex').slice(0, 32) : randomBytes(16).toString('hex');
  return formatCanonical({ format: 'trinadir.grade/1', of, low, high, takenAt, heartRatePerMin, loadingNote, nonce } satisfies SealedGrade);
}

/** Events of these entries; only what changes something. Fails witness-unknown. */
export function listResultEvents(entries: ResultEntries, state: CaseState, sealed: string | null): Result<readonly NewCaseEvent[], string> {
  const { result = {}, echo, ecg = {}, witnesses = [], readers, grade: given, decision } = entries;
  const known = state.result.echoes.find((e) => e.echoId === echo?.echoId);
  const events: NewCaseEvent[] = [
    ...Object.entries(result).filter(([field, v]) => (state.result.entries[field]?.value ?? null) !== v).map(([field, v]): NewCaseEvent => ({ kind: 'result.entered', data: { field, value: v } })),
    ...(echo && !known ? [{ kind: 'echo.begun', data: { echoId: echo.echoId, takenAt: echo.takenAt } } as const] : []),
    ...(echo ? Object.entries(echo.entries).filter(([field, v]) => (known?.entries[field]?.value ?? null) !== v).map(([field, v]): NewCaseEvent => ({ kind: 'echo.entered', data: { echoId: echo.echoId, field, value: v, trace: null } })) : []),
    ...(Object.entries(ecg) as [EcgMoment, EcgWords | null][]).map(([moment, words]): NewCaseEvent => ({ kind: 'ecg.entered', data: { moment, words } })),
  ];
  for (const { of, ...note } of witnesses) {
    const id = findWitness(of, state, echo?.echoId ?? null);
    if (id === null) return fail('witness-unknown', CASE_FILE_EN.witnessUnknown, CASE_FILE_EN.witnessUnknownNext);
    events.push({ kind: 'witness.noted', data: { of: id, ...note } });
  }
  if (readers) events.push({ kind: 'readers.present', data: { personIds: readers } });
  if (given && sealed !== null) events.push({ kind: 'grade.sealed', data: { gradeId: `grade-${hashText(sealed).slice(0, 24)}`, of: given.of, sealedSha256: hashText(sealed) } });
  if (decision) events.push({ kind: 'result.decided', data: { ...decision, answerSha256: null } });
  return succeed(events);
}

function findWitness(of: string, { result: { recordings, echoes, angiograms } }: CaseState, newEchoId: string | null): string | null {
  if (of === 'recording') return recordings.filter((r) => r.moment === 'after').at(-1)?.recordingId ?? null;
  if (of === 'echo') return newEchoId ?? echoes.at(-1)?.echoId ?? null;
  if (of === 'angiogram') return angiograms.at(-1)?.angiogramId ?? null;
  const all = [...recordings.map((r) => r.recordingId), ...echoes.map((e) => e.echoId), ...angiograms.map((a) => a.angiogramId), ...(newEchoId === null ? [] : [newEchoId])];
  return all.includes(of) ? of : null;
}
