import { readFile } from 'node:fs/promises';
import { z } from 'zod';
import { formatCanonical } from '../../core/audit/format-canonical.ts';
import type { NewCaseEvent } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import { listOpenPoints } from '../../core/case/list-open-points.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import { findAcceptance, listBlockers, listStanding, type Blocker } from '../../core/room/list-blockers.ts';
import { makeFrozen } from '../../core/room/make-frozen.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { FREEZE_EN } from '../../core/text/freeze-en.ts';
import { readNowMs } from '../case-file/case-clock.ts';
import { openWritableCase, type WritableCase } from '../case-file/open-writable-case.ts';
import { decodeText, parseShallow } from '../case-file/parse-case.ts';
import { makeWhatIfDesk } from '../jobs/what-if-desk.ts';
import { askForecast, compareGiven, readRescue, type StoredAsk } from '../server/handlers/freeze-handlers.ts';
import { readNewestPlan } from './case-add-command.ts';
import { answer, readWriter, refuse, tellNotes, type WriteOptions } from './case-command-parts.ts';
import type { CommandIo } from './command-io.ts';
import { readAll } from './read-standard-input.ts';

export interface CaseFreezeOptions extends WriteOptions {
  readonly dir: string;
  /** File with two identifiers, or `-`: standard input. Never the values themselves: arguments are seen by other users of a machine. */
  readonly identifiers?: string | undefined;
  /** CODE=REASON each. */
  readonly override?: readonly string[] | undefined;
  readonly input?: AsyncIterable<Uint8Array> | undefined;
}
const MOST_IDENTIFIER_BYTES = 4096;
const IDENTIFIERS = z.strictObject({ name: z.string().max(200).optional(), birthDate: z.string().max(40).optional(), patientId: z.string().max(100).optional() });

/**
 * `trinadir case freeze DIR`: compares the identifiers, notes overrides, and freezes the plan when nothing stands in the way;
 * otherwise it lists what does. The rules are those of the desk.
 */
export async function runCaseFreezeCommand(options: CaseFreezeOptions, io: CommandIo): Promise<number> {
  const stop = (failure: Parameters<typeof refuse>[0]): number => refuse(failure, 'case freeze', options, io);
  const by = readWriter(options.by);
  if (!by.ok) return stop(by.failure);
  const overrides = readOverrides(options.override ?? []);
  if (!overrides.ok) return stop(overrides.failure);
  const opened = await openWritableCase(options.dir, options.nowMs ?? readNowMs);
  if (!opened.ok) return stop(opened.failure);
  const { writer } = opened.value;
  if (options.identifiers !== undefined) {
    const given = await readIdentifiers(options.identifiers, options.input);
    if (!given.ok) return stop(given.failure);
    const checked = await writer.append(by.value, (state) => succeed([{ kind: 'identity.checked', data: compareGiven(given.value, state) }]));
    if (!checked.ok) return stop(checked.failure);
    tellNotes(checked.value.notes, options, io);
  }
  if (overrides.value.length > 0) {
    const noted = await writer.append(by.value, async (state, _events, at) => {
      const blockers = await readBlockers(opened.value, state, at);
      if (!blockers.ok) return blockers;
      const hard = overrides.value.find(({ code }) => !blockers.value.some((b) => b.code === code && !b.isHard));
      return hard ? fail('override-not-allowed', CASE_FILE_EN.overrideHard, CASE_FILE_EN.overrideHardNext) : succeed(overrides.value.map((data): NewCaseEvent => ({ kind: 'blocker.overridden', data })));
    });
    if (!noted.ok) return stop(noted.failure);
  }
  const frozen = await freeze(opened.value, by.value);
  if (frozen.ok) {
    const { document, sha256, seq } = frozen.value;
    const lines = [formatText(CASE_FILE_EN, 'frozen', { short: sha256.slice(0, 8), seq, hash: sha256 })];
    if (document.differences.length > 0) lines.push(formatText(CASE_FILE_EN, 'frozenDifferences', { differences: document.differences.join(', ') }));
    return answer({ caseId: document.caseId, frozenSha256: sha256, planSha256: document.planSha256, seq, amends: document.amends, differences: document.differences }, lines.join('\n'), options, io);
  }
  if (frozen.failure.code === 'freeze-blocked') await tellStanding(options, io);
  return stop(frozen.failure);
}

interface Frozen {
  readonly document: FrozenDocument;
  readonly sha256: string;
  readonly seq: number;
}
/** The forecast of the chosen release takes seconds: it is made before the case is held, and the freeze fails when the case changed meanwhile. */
async function freeze(opened: WritableCase, by: string): Promise<Result<Frozen, string>> {
  const { writer } = opened;
  const desk = makeWhatIfDesk();
  try {
    const before: CaseState[] = [];
    const looked = await writer.append(by, (state) => (before.push(state), succeed([])));
    if (!looked.ok) return looked;
    const ask = await makeAsk(opened, before[0]!, by, new Date(readNowMs()).toISOString());
    if (!ask.ok) return ask;
    const first = makeFrozen(ask.value);
    if (!first.ok) return first;
    const forecast = await askForecast(desk, ask.value);
    if (!forecast.ok) return forecast;
    let kept: { readonly document: FrozenDocument; readonly sha256: string } | null = null;
    const appended = await writer.append(by, async (state, _events, at) => {
      if (state.seq !== before[0]!.seq) return fail('case-changed', CASE_FILE_EN.changed, CASE_FILE_EN.changedNext, { seq: state.seq });
      const made = makeFrozen({ ...ask.value, forecast: forecast.value, at });
      if (!made.ok) return made;
      const put = await writer.putDocument(formatCanonical(made.value));
      if (!put.ok) return put;
      const { planSha256, amends, differences } = made.value;
      kept = { document: made.value, sha256: put.value.sha256 };
      return succeed([{ kind: 'plan.frozen', data: { frozenSha256: put.value.sha256, planSha256, basedOnSeq: state.seq, amends, differences } }]);
    });
    return appended.ok ? succeed({ ...kept!, seq: appended.value.state.seq }) : appended;
  } finally {
    await desk.close();
  }
}

async function makeAsk(opened: WritableCase, state: CaseState, by: string, at: string): Promise<Result<StoredAsk, string>> {
  if (!state.plan) return fail('freeze-blocked', FREEZE_EN.planMissing, FREEZE_EN.planMissingNext, { codes: 'plan-missing' });
  const { planSha256 } = state.plan;
  const planText = await opened.readDocument(planSha256);
  if (!planText.ok) return planText;
  const plan = await readNewestPlan(opened, planSha256);
  if (!plan.ok) return plan;
  const last = state.frozen ? await opened.readDocument(state.frozen.frozenSha256) : null;
  if (last && !last.ok) return last;
  const rescue = await readRescue({ readDocument: async (sha256) => {
    const read = await opened.readDocument(sha256);
    return read.ok ? succeed({ text: read.value }) : read;
  } }, state.tables.rescueSha256 ?? null);
  if (!rescue.ok) return rescue;
  return succeed({
    state, plan: plan.value!, planText: planText.value, planSha256, forecast: null, rescue: rescue.value,
    before: last && state.frozen ? { sha256: state.frozen.frozenSha256, document: JSON.parse(last.value) as FrozenDocument } : null,
    by, at, nameOf: (name) => name,
  });
}

async function readBlockers(opened: WritableCase, state: CaseState, at: string): Promise<Result<readonly Blocker[], string>> {
  const plan = await readNewestPlan(opened, state.plan?.planSha256 ?? null);
  return plan.ok ? succeed(listBlockers(state, plan.value, at.slice(0, 10))) : plan;
}

/** What stands in the way, as the case is after the identifiers and overrides were noted. */
async function tellStanding(options: CaseFreezeOptions, io: CommandIo): Promise<void> {
  const opened = await openWritableCase(options.dir, options.nowMs ?? readNowMs);
  if (!opened.ok) return;
  const { state } = opened.value;
  const plan = await readNewestPlan(opened.value, state.plan?.planSha256 ?? null);
  if (!plan.ok) return;
  const standing = listStanding(listBlockers(state, plan.value, new Date(readNowMs()).toISOString().slice(0, 10)));
  // As trinadir.entries/1 takes them.
  const doubts = plan.value ? listOpenPoints(plan.value).filter((p) => !findAcceptance(state, p)).map(({ section, code }) => ({ section, code })) : [];
  if (options.json === true) io.out(`${JSON.stringify({ frozenSha256: null, standing: standing.map(({ code, isHard, text, next }) => ({ code, isHard, text, next })), doubts })}\n`);
  else io.err(`${[CASE_FILE_EN.standing, ...standing.map(({ code, isHard, text }) => formatText(CASE_FILE_EN, 'standingLine', { code, soft: isHard ? '' : CASE_FILE_EN.standingSoft, text }))].join('\n')}\n`);
}

function readOverrides(given: readonly string[]): Result<readonly { readonly code: string; readonly because: string }[], 'override-not-written'> {
  const read = given.map((text) => /^([a-zA-Z0-9][a-zA-Z0-9.-]{0,79})=(.{3,400})$/s.exec(text));
  if (read.some((r) => r === null || r[2]!.trim().length < 3)) return fail('override-not-written', CASE_FILE_EN.overrideWrong, CASE_FILE_EN.overrideWrongNext);
  return succeed(read.map((r) => ({ code: r![1]!, because: r![2]!.trim() })));
}

type Identifiers = z.infer<typeof IDENTIFIERS>;
async function readIdentifiers(from: string, input: AsyncIterable<Uint8Array> | undefined): Promise<Result<Identifiers, 'identifiers-wrong' | 'identity-too-few'>> {
  const bytes = from === '-' ? await readAll(input ?? process.stdin, MOST_IDENTIFIER_BYTES) : await readFile(from).catch(() => null);
  const parsed = IDENTIFIERS.safeParse(bytes && bytes.length <= MOST_IDENTIFIER_BYTES ? parseShallow(decodeText(bytes) ?? '') : undefined);
  if (!parsed.success) return fail('identifiers-wrong', CASE_FILE_EN.identifiersWrong, CASE_FILE_EN.identifiersWrongNext);
  const given = Object.values(parsed.data).filter((v) => v !== undefined && v.trim() !== '');
  return given.length < 2 ? fail('identity-too-few', FREEZE_EN.tooFew, FREEZE_EN.tooFewNext) : succeed(parsed.data);
}
