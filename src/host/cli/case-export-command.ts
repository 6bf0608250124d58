import { stat } from 'node:fs/promises';
import { formatCanonical } from '../../core/audit/format-canonical.ts';
import type { CaseEvent } from '../../core/case/case-events.ts';
import { fail, succeed, type Failure, type Result } from '../../core/result.ts';
import type { FrozenWanted } from '../../core/room/check-frozen.ts';
import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import { makeLogDocument, type LogDocument } from '../../core/room/log-document.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { writeLogFhir } from '../../formats/fhir/write-log-fhir.ts';
import { writeLogPdf } from '../../formats/pdf/write-log-pdf.ts';
import { writeLogCsv } from '../../formats/report/write-log-csv.ts';
import type { OpenedCase } from '../case-file/case-file-types.ts';
import { openCase } from '../case-file/open-case.ts';
import type { StoredPlace } from '../case-file/open-stored-case.ts';
import { readFrozen } from '../case-file/read-case-documents.ts';
import { writeCaseZip } from '../case-file/write-case-zip.ts';
import { answer, refuse, tellNotes, type CaseOptions } from './case-command-parts.ts';
import { listIdentityFields } from './case-show-command.ts';
import { readMadeBy } from './clock.ts';
import type { CommandIo } from './command-io.ts';
import { readPdfFonts } from './pdf-fonts.ts';
import { writeWhole } from './write-whole.ts';

const FORMATS = ['zip', 'csv', 'pdf', 'fhir'] as const;
/** What the contract names and a later version brings. */
const LATER = ['sr', 'seg', 'teaching'] as const;
type Format = (typeof FORMATS)[number];

export type CaseExportOptions = CaseOptions & StoredPlace & { readonly [K in Format | (typeof LATER)[number]]?: boolean | undefined } & {
  readonly named: string;
  readonly out: string;
  readonly replace?: boolean | undefined;
  readonly withoutIdentity?: boolean | undefined;
};

/** `trinadir case export CASE --out FILE --zip`: a case for others; the file appears whole. */
export async function runCaseExportCommand(options: CaseExportOptions, io: CommandIo): Promise<number> {
  const stop = (failure: Failure<string>): number => refuse(failure, 'case export', options, io);
  const format = chooseFormat(options);
  if (!format.ok) return stop(format.failure);
  const isTaken = await stat(options.out).then((found) => (found.isFile() ? options.replace !== true : true), () => false);
  if (isTaken) return stop(fail('out-file-exists', CASE_FILE_EN.outExists, CASE_FILE_EN.outExistsNext).failure);
  const opened = await openCase(options.named, options);
  if (!opened.ok) return stop(opened.failure);
  try {
    const bytes = await WRITERS[format.value](opened.value);
    if (!bytes.ok) return stop(bytes.failure);
    const noted = await opened.value.note('export.made', { what: format.value });
    if (!noted.ok) return stop(noted.failure);
    // Whoever gets the zip gets the identity: others of the machine cannot read it, as they cannot read the folder.
    const written = await writeWhole(options.out, bytes.value, format.value === 'zip' ? 0o600 : undefined).then(() => null, (problem: { code?: string }) => {
      if (problem.code === undefined) throw problem;
      return problem.code;
    });
    if (written !== null) return stop(fail('out-file-not-writable', formatText(CASE_FILE_EN, 'outUnwritable', { reason: written }), CASE_FILE_EN.outUnwritableNext, { reason: written }).failure);
    tellNotes(opened.value.notes, options, io);
    const personal = format.value === 'zip' ? listIdentityFields(opened.value.state) : [];
    if (personal.length > 0 && options.quiet !== true) io.err(`${formatText(CASE_FILE_EN, 'exportedPersonal', { count: personal.length })}\n`);
    const { state, caseId } = opened.value;
    return answer({ caseId, format: format.value, bytes: bytes.value.length, seq: state.seq, sha256: state.sha256, identityFields: personal }, formatText(CASE_FILE_EN, 'exported', { what: format.value, bytes: bytes.value.length }), options, io);
  } finally {
    await opened.value.close();
  }
}

function chooseFormat(options: CaseExportOptions): Result<Format, 'export-later' | 'export-with-identity' | 'export-not-named' | 'export-several'> {
  const later = LATER.find((f) => options[f] === true);
  if (later) return fail('export-later', formatText(CASE_FILE_EN, 'exportLater', { what: `--${later}` }), CASE_FILE_EN.exportLaterNext, { what: later });
  const named = FORMATS.filter((f) => options[f] === true);
  if (named.length > 1) return fail('export-several', CASE_FILE_EN.exportSeveral, CASE_FILE_EN.exportSeveralNext);
  if (named.length === 0) return fail('export-not-named', CASE_FILE_EN.exportNone, CASE_FILE_EN.exportNoneNext);
  if (options.withoutIdentity === true && named[0] === 'zip') return fail('export-with-identity', CASE_FILE_EN.identityKept, CASE_FILE_EN.identityKeptNext);
  return succeed(named[0]!);
}

const WRITERS: Readonly<Record<Format, (opened: OpenedCase) => Promise<Result<Uint8Array, string>>>> = {
  zip: writeCaseZip,
  csv: async (opened) => {
    const log = await readLogOf(opened);
    return log.ok ? succeed(new TextEncoder().encode(writeLogCsv(log.value))) : log;
  },
  pdf: async (opened) => {
    const log = await readLogOf(opened);
    return log.ok ? succeed(await writeLogPdf(log.value, readPdfFonts())) : log;
  },
  fhir: async (opened) => {
    const log = await readLogOf(opened);
    return log.ok ? succeed(new TextEncoder().encode(formatCanonical(writeLogFhir(log.value)))) : log;
  },
};

/** The log of the room as the desk exports it: the same events give the same file. */
async function readLogOf({ caseId, state, events, readDocument, nameOf }: OpenedCase): Promise<Result<LogDocument, string>> {
  const taps = events.filter((e): e is CaseEvent<'room.logged'> => e.kind === 'room.logged');
  const frozen = state.frozen ? await readFrozenOf(state.frozen.frozenSha256, { caseId, ...state.frozen }, readDocument) : null;
  const cards = new Map((frozen?.rescue.cards ?? []).map((c) => [c.id, c.title]));
  return succeed(makeLogDocument(state, taps, frozen, { nameOf, nameCard: (id) => cards.get(id) ?? id }, readMadeBy()));
}

async function readFrozenOf(sha256: string, { caseId, planSha256, amends, differences }: FrozenWanted, readDocument: OpenedCase['readDocument']): Promise<FrozenDocument | null> {
  const [stored, plan] = [await readDocument(sha256), await readDocument(planSha256)];
  return stored.ok && plan.ok ? readFrozen(stored.value, { caseId, planSha256, amends, differences }, plan.value) : null;
}
