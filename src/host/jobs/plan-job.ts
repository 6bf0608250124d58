import { readFile } from 'node:fs/promises';
import type { CaseEventData } from '../../core/case/case-events.ts';
import { listLandmarks, type CaseState } from '../../core/case/fold-case.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { makePatientFacts } from '../../core/patient/make-patient-facts.ts';
import { fail, succeed, type Failure, type Result } from '../../core/result.ts';
import { JOBS_EN } from '../../core/text/jobs-en.ts';
import type { CaseStore, StoredJob } from '../storage/store-types.ts';
import { addCaseEvent } from './add-case-event.ts';
import { readEntered, type JobContext, type JobEnd, type PlanJobAnswer, type PlanJobAsk } from './desk-job-types.ts';
import type { PlanAsk } from './process-messages.ts';
import type { ScanManifest } from './scan-manifest.ts';

/** Refusals that say something of the scan or of what was entered, and so belong to the case; the others to the machine. */
const OF_THE_MACHINE = new Set(['defect', 'job-ended', 'job-too-long', 'job-not-started', 'job-stopped', 'store-full', 'store-unreachable', 'folder-not-writable']);

/**
 * Plans a case as it is when the job begins. The documents are kept before the event that names them is added.
 * Fails     scan-missing, identity-differs, and as makePlan and the store; a refusal of the scan is an event of the case too
 */
export async function runPlanJob(job: StoredJob, context: JobContext): Promise<JobEnd> {
  const { store } = context.services;
  const read = await store.readState(job.caseId);
  if (!read.ok) return read;
  const state = read.value;
  const kept = job.answer as PlanJobAnswer | null;
  if (kept !== null && kept.scanId === state.scan?.scanId) return addPlan(job, state, kept, context); // an earlier life of the server computed it
  const basedOnSeq = state.seq;
  const begun = await context.keep({ ask: { planInputSeq: state.planInputSeq } satisfies PlanJobAsk });
  if (!begun.ok) return begun;
  const ask = await makeAsk(state, context);
  if (!ask.ok) return refuse(job, ask.failure, basedOnSeq, context);
  const made = await context.run(ask.value);
  if (!made.ok) return refuse(job, made.failure, basedOnSeq, context);
  if (made.value.kind !== 'plan') throw new Error('The process answered another question.');
  const { planFile, surveyFile, files, block } = made.value;
  const plan = await store.putDocument('plan', await readFile(planFile, 'utf8'));
  if (!plan.ok) return plan;
  const survey = surveyFile === null ? null : await store.putDocument('survey', await readFile(surveyFile, 'utf8'));
  if (survey && !survey.ok) return survey;
  const answer: PlanJobAnswer = { scanId: state.scan!.scanId, planSha256: plan.value.sha256, surveySha256: survey?.value.sha256 ?? null, basedOnSeq, files, block };
  const noted = await context.keep({ answer });
  return noted.ok ? addPlan(job, state, answer, context) : noted;
}

async function addPlan(job: StoredJob, before: CaseState, answer: PlanJobAnswer, context: JobContext): Promise<JobEnd> {
  const { planSha256, surveySha256, basedOnSeq } = answer;
  const after = await context.services.store.listEvents(job.caseId, basedOnSeq);
  if (!after.ok) return after;
  const isThere = after.value.some(({ kind, data }) => {
    const made = data as CaseEventData['plan.made'];
    return kind === 'plan.made' && made.planSha256 === planSha256 && made.basedOnSeq === basedOnSeq;
  });
  if (isThere) return { ok: true, answer };
  // Another scan has joined meanwhile: a plan of the old one must not stand on it.
  const hasOtherScan = after.value.some(({ kind }) => kind === 'scan.joined') || before.scan === null;
  if (hasOtherScan) return fail('scan-replaced', JOBS_EN.scanReplaced, JOBS_EN.scanReplacedNext);
  if (context.isStopped()) return fail('job-stopped', JOBS_EN.stopped, JOBS_EN.stoppedNext);
  const added = await addCaseEvent(context.services, job.caseId, 'trinadir', { kind: 'plan.made', data: { planSha256, surveySha256, basedOnSeq } });
  return added.ok ? { ok: true, answer } : added;
}

async function refuse(job: StoredJob, failure: Failure<string>, basedOnSeq: number, context: JobContext): Promise<JobEnd> {
  if (OF_THE_MACHINE.has(failure.code) || failure.code === 'scan-missing' || context.isStopped()) return { ok: false, failure };
  const added = await addCaseEvent(context.services, job.caseId, 'trinadir', { kind: 'plan.refused', data: { code: failure.code, text: failure.message, next: failure.nextStep, basedOnSeq } });
  return added.ok ? { ok: false, failure } : added;
}

async function makeAsk(state: CaseState, { services: { store, dataFolder }, workFolder }: JobContext): Promise<Result<PlanAsk>> {
  const { scan, tables } = state;
  if (scan === null) return fail('scan-missing', JOBS_EN.noScan, JOBS_EN.noScanNext);
  const manifest = await readManifest(store, scan.manifestSha256);
  if (!manifest.ok) return manifest;
  const plan = state.plan ? await store.readDocument(state.plan.planSha256) : null;
  if (plan && !plan.ok) return plan;
  const { root, scan: facts } = plan ? (JSON.parse(plan.value.text) as Plan) : { root: undefined, scan: undefined };
  const volume = manifest.value.volumes.find((v) => (scan.seriesUid === null ? v.key === manifest.value.proposed : v.seriesUid === scan.seriesUid));
  const frameUid = (facts && facts.seriesUid === volume?.seriesUid ? facts.frameOfReferenceUid : volume?.frameOfReferenceUid) ?? null;
  // A moved mark replaces one nadir; the other two are those of the plan it was moved on, where that is of the same frame.
  const nadirs = facts && facts.frameOfReferenceUid === frameUid ? (root?.basalPlane.nadirsLps ?? null) : null;
  const marks = listLandmarks(state, nadirs, frameUid ?? '', newestAuthor(state));
  const landmarks = marks && frameUid === null ? { ...marks, frameOfReferenceUid: undefined } : marks;
  const texts: Record<'devices' | 'rules', string | null> = { devices: null, rules: null };
  for (const [kind, sha256] of [['devices', tables.devicesSha256], ['rules', tables.rulesSha256]] as const) {
    if (sha256 === null) continue;
    const table = await store.readDocument(sha256);
    if (!table.ok) return table;
    texts[kind] = table.value.text;
  }
  const patient = makePatientFacts(state.referral, 'referral');
  const accepted = scan.identity.acceptedBecause !== null;
  return succeed({
    kind: 'plan', dataFolder, workFolder, manifest: manifest.value, seriesUid: scan.seriesUid, ...texts, landmarks: landmarks && JSON.stringify(landmarks), patient: patient && JSON.stringify(patient),
    entered: readEntered(state), isIdentityAccepted: accepted,
  });
}

/** Who set the newest mark. */
function newestAuthor({ marks, ring }: CaseState): string {
  const set = [...Object.values(marks), ...(ring ? [ring] : [])].sort((a, b) => b.seq - a.seq);
  return set[0]?.by ?? 'desk';
}

export async function readManifest(store: Pick<CaseStore, 'readDocument'>, sha256: string): Promise<Result<ScanManifest>> {
  const document = await store.readDocument(sha256);
  return document.ok ? succeed(JSON.parse(document.value.text) as ScanManifest) : document;
}
