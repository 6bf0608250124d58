import { copyFile, mkdir } from 'node:fs/promises';
import { randomBytes } from 'node:crypto';
import { join } from 'node:path';
import type { ContrastAnswer } from '../../core/angiogram/contrast-types.ts';
import { formatCanonical } from '../../core/audit/format-canonical.ts';
import type { CaseEvent, NewCaseEvent } from '../../core/case/case-events.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import type { DepthReading } from '../../core/projection/depth-types.ts';
import { succeed, type Result } from '../../core/result.ts';
import { makeFrozen } from '../../core/room/make-frozen.ts';
import { DEFAULT_RESCUE_CARDS } from '../../core/room/rescue-cards.ts';
import { DEMO_EN } from '../../core/text/demo-en.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';
import { readStamp } from '../cli/clock.ts';
import { BRANCHES, listTrainingDoubts, listTrainingTaps, makeTrainingHuddle, sayEcgAfter, sayEcgBefore, TRAINING_BESIDE, TRAINING_BRANCH, TRAINING_ECHO, TRAINING_MINUTES, TRAINING_SAID, TRAINING_SIGNS } from '../cli/training-entries.ts';
import { TRAINING_RECORDS } from '../cli/write-training-records.ts';
import { addCaseEvent } from '../jobs/add-case-event.ts';
import type { MeasureRunAsk } from '../jobs/contrast-job.ts';
import { makeThreadDesk } from '../jobs/thread-desk.ts';
import { makeWhatIfDesk } from '../jobs/what-if-desk.ts';
import type { Services } from './handler-types.ts';
import { askForecast, compareGiven, type StoredAsk } from './handlers/freeze-handlers.ts';
import { joinEcgRecord } from './join-ecg-record.ts';
import { joinRecording } from './join-recording.ts';
import { handInRun } from './join-run.ts';
import { TRAINING_REFERRAL } from './open-training-case.ts';

const ECHO_ID = 'echo-after-release';

/**
 * A second training case with the plan of the first: frozen, released this minute, its records handed in, and nobody has graded.
 * What a log that begins now can hold is now; only the ECG before is of the day before.
 * Fails     as the store, the freeze and the readers of the records
 */
export async function openReleasedCase(services: Services, ask: { readonly planned: string; readonly caseId: string; readonly by: string; readonly recordsFolder: string; readonly depth: DepthReading | null }): Promise<Result<null, string>> {
  const { caseId, by } = ask;
  const repeated = await repeatCase(services, ask);
  if (!repeated.ok) return repeated;
  const frozen = await freeze(services, caseId, by);
  if (!frozen.ok) return frozen;
  const logged = await services.store.appendRecords({ caseId, by, records: listTrainingTaps(Date.now(), ask.depth, true) });
  return logged.ok ? handInRecords(services, ask) : logged;
}

/** All that happened to the planned case, under its own name: the same log places, so that the plan is as fresh there as here. */
async function repeatCase({ store }: Services, { planned, caseId }: { readonly planned: string; readonly caseId: string }): Promise<Result<null, string>> {
  const events = await store.listEvents(planned, 0);
  if (!events.ok) return events;
  for (const event of events.value) {
    const added = await store.append({ caseId, expectSeq: event.seq - 1, by: event.by, events: [rename(event)] });
    if (!added.ok) return added;
  }
  const jobs = await store.listJobs({ caseId: planned, states: ['done'] });
  if (!jobs.ok) return jobs;
  for (const job of jobs.value) {
    const kept = await store.putJob({ ...job, jobId: `job-${randomBytes(12).toString('hex')}`, caseId });
    if (!kept.ok) return kept;
  }
  return succeed(null);
}
function rename({ kind, data, supersedes }: CaseEvent): NewCaseEvent {
  const event = { kind, data, supersedes } as NewCaseEvent;
  return event.kind === 'case.opened' ? { ...event, data: { ...event.data, label: DEMO_EN.releasedLabel } } : event;
}

async function freeze(services: Services, caseId: string, by: string): Promise<Result<unknown, string>> {
  const { store } = services;
  const before = await store.readState(caseId);
  if (!before.ok) return before;
  const planSha256 = before.value.plan?.planSha256 ?? '';
  const stored = await store.readDocument(planSha256);
  if (!stored.ok) return stored;
  const planText = stored.value.text;
  const plan = JSON.parse(planText) as Plan;
  const text = (field: string): string => String(TRAINING_REFERRAL[field]);
  const ready = await addCaseEvent(services, caseId, by, [
    ...Object.entries(makeTrainingHuddle(Date.now())).map(([field, value]): NewCaseEvent => ({ kind: 'huddle.entered', data: { field, value } })),
    ...BRANCHES.map((branch): NewCaseEvent => ({ kind: 'branch.agreed', data: { branch, plan: TRAINING_BRANCH } })),
    ...listTrainingDoubts(plan).map((data): NewCaseEvent => ({ kind: 'doubt.accepted', data })),
    { kind: 'identity.checked', data: compareGiven({ name: text('identity.name'), birthDate: text('identity.birthDate'), patientId: text('identity.patientId') }, before.value) },
  ]);
  if (!ready.ok) return ready;
  const state = await store.readState(caseId);
  if (!state.ok) return state;
  const ask: StoredAsk = { state: state.value, plan, planText, planSha256, forecast: null, rescue: DEFAULT_RESCUE_CARDS, before: null, by: SERVER_EN.trainingPerson, at: new Date().toISOString(), nameOf: () => SERVER_EN.trainingPerson };
  const desk = makeWhatIfDesk();
  try {
    const forecast = await askForecast(desk, ask);
    if (!forecast.ok) return forecast;
    const made = makeFrozen({ ...ask, forecast: forecast.value });
    if (!made.ok) return made;
    const kept = await store.putDocument('frozen', formatCanonical(made.value));
    if (!kept.ok) return kept;
    const { amends, differences } = made.value;
    return addCaseEvent(services, caseId, by, { kind: 'plan.frozen', data: { frozenSha256: kept.value.sha256, planSha256, basedOnSeq: state.value.seq, amends, differences } });
  } finally {
    await desk.close();
  }
}

async function handInRecords(services: Services, { caseId, by, recordsFolder }: { readonly caseId: string; readonly by: string; readonly recordsFolder: string }): Promise<Result<null, string>> {
  const { store, blobs, dataFolder } = services;
  const thread = makeThreadDesk();
  const { because } = DEMO_EN;
  /** Readers adopt what lies beside the store: each gets a copy. */
  const copy = async (name: keyof typeof TRAINING_RECORDS): Promise<string> => {
    const path = join(dataFolder, 'pixels', 'incoming', `training-${randomBytes(12).toString('hex')}`);
    await mkdir(join(dataFolder, 'pixels', 'incoming'), { recursive: true });
    await copyFile(join(recordsFolder, TRAINING_RECORDS[name]), path);
    return path;
  };
  const now = (): { readonly takenAt: string; readonly nowMs: number } => {
    const nowMs = Date.now();
    return { takenAt: new Date(nowMs).toISOString(), nowMs };
  };
  const dayBefore = new Date(Date.now() - TRAINING_MINUTES.ecgBefore * 60_000).toISOString();
  const note = (of: string): NewCaseEvent => ({ kind: 'witness.noted', data: { of, takenAt: now().takenAt, ...TRAINING_BESIDE } });
  const shared = { caseId, by, channels: null, because } as const;
  try {
    const before = await joinRecording(services, thread, { ...shared, path: await copy('pressuresBefore'), moment: 'baseline', ...now() });
    if (!before.ok) return before;
    const after = await joinRecording(services, thread, { ...shared, path: await copy('pressuresAfter'), moment: 'after', ...now() });
    if (!after.ok) return after;
    for (const [name, moment, takenAt] of [['ecgBefore', 'baseline', dayBefore], ['ecgAfter', 'post', now().takenAt]] as const) {
      const ecg = await joinEcgRecord(services, thread, { ...shared, path: await copy(name), moment, takenAt, nowMs: Date.now() });
      if (!ecg.ok) return ecg;
    }
    const run = await handInRun(services, { caseId, by, file: join(recordsFolder, TRAINING_RECORDS.aortogram), because });
    if (!run.ok) return run;
    const stamp = readStamp();
    if (!stamp.ok) return stamp;
    const joined = await store.readState(caseId);
    if (!joined.ok) return joined;
    const { blobSha256 } = joined.value.runs.find((r) => r.runId === run.value.runId)!;
    const measured = await thread.run<Result<ContrastAnswer, string>>('measure-run', { path: blobs.pathOf(blobSha256), ask: TRAINING_SAID, stamp: stamp.value } satisfies MeasureRunAsk);
    if (!measured.ok) return measured;
    const kept = await store.putDocument('contrast', JSON.stringify(measured.value));
    if (!kept.ok) return kept;
    const angiogramId = `angiogram-${randomBytes(12).toString('hex')}`;
    const { takenAt } = now();
    const added = await addCaseEvent(services, caseId, by, [
      { kind: 'angiogram.measured', data: { angiogramId, runId: run.value.runId, answerSha256: kept.value.sha256 } }, note(angiogramId), note(after.value.recordingId),
      { kind: 'echo.begun', data: { echoId: ECHO_ID, takenAt } },
      ...Object.entries(TRAINING_ECHO).map(([field, value]): NewCaseEvent => ({ kind: 'echo.entered', data: { echoId: ECHO_ID, field, value: value ?? null, trace: null } })), note(ECHO_ID),
      ...Object.entries(TRAINING_SIGNS).map(([field, value]): NewCaseEvent => ({ kind: 'result.entered', data: { field, value } })),
      { kind: 'ecg.entered', data: { moment: 'baseline', words: sayEcgBefore(dayBefore) } }, { kind: 'ecg.entered', data: { moment: 'post', words: sayEcgAfter(takenAt) } },
      { kind: 'readers.present', data: { personIds: [by] } },
    ]);
    return added.ok ? succeed(null) : added;
  } finally {
    await thread.close();
  }
}
