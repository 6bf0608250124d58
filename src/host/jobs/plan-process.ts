import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { compareIdentity } from '../../core/case/compare-identity.ts';
import { succeed, type Result } from '../../core/result.ts';
import { JOBS_EN } from '../../core/text/jobs-en.ts';
import { PLAN_EN } from '../../core/text/plan-en.ts';
import { readStamp } from '../cli/clock.ts';
import { makePlan } from '../cli/make-plan.ts';
import { readLandmarks, readTable } from '../cli/plan-files.ts';
import type { PlanRequest, PlanSection } from '../cli/plan-types.ts';
import type { LoadedVolume } from '../intake/scan-types.ts';
import { makeBlobStore } from '../storage/blob-store.ts';
import { keepBlock } from './block-process.ts';
import { describeIdentity } from './describe-identity.ts';
import { layOutScan } from './lay-out-scan.ts';
import type { PlanAsk, PlanProcessAnswer, TellProgress } from './process-messages.ts';
import { readScanIdentity } from './read-scan-identity.ts';

const SECTIONS: readonly PlanSection[] = ['scan', 'root', 'size', 'landing', 'views', 'release'];
/** Where each step of makePlan begins and ends on the whole bar, by what they take on a usual scan. */
const STEPS: Readonly<Record<string, readonly [number, number]>> = {
  [JOBS_EN.layingOut]: [0, 0.02], [PLAN_EN.looking]: [0.02, 0.1], [PLAN_EN.reading]: [0.1, 0.3], [PLAN_EN.surveying]: [0.3, 0.7], [PLAN_EN.scoring]: [0.7, 0.72],
  [PLAN_EN.answering]: [0.72, 0.88], [PLAN_EN.drawing]: [0.88, 0.94], [JOBS_EN.storing]: [0.94, 1],
};

/**
 * Plans the scan of a case. Small files are handed over as on the command line and checked alike.
 * Fails     identity-differs, store-full, and as layOutScan, readLandmarks, readTable, makePlan
 */
export async function planScan(ask: PlanAsk, tell: TellProgress): Promise<Result<PlanProcessAnswer>> {
  const stamp = readStamp();
  if (!stamp.ok) return stamp;
  let step: string = JOBS_EN.layingOut;
  const report = (ratio: number): void => {
    const [from, to] = STEPS[step] ?? [0, 0];
    tell(step, from + (to - from) * (ratio || 0));
  };
  const progress = { step: (label: string) => ((step = label), report(0)), report, end: () => {} };
  progress.step(JOBS_EN.layingOut);
  const blobs = makeBlobStore(ask.dataFolder);
  const path = await layOutScan(ask.manifest, blobs, join(ask.workFolder, 'ct'));
  if (!path.ok) return path;
  const request = await readRequest(ask, path.value);
  if (!request.ok) return request;
  let loaded: LoadedVolume | null = null;
  const made = await makePlan(request.value, stamp.value, progress, (report, volume) => {
    loaded = volume;
    const identity = compareIdentity(ask.entered, readScanIdentity(report));
    return identity.verdict === 'differs' && !ask.isIdentityAccepted ? describeIdentity(identity) : null;
  });
  if (!made.ok) return made;
  progress.step(JOBS_EN.storing);
  const { 'plan.json': planText, ...others } = made.value.files;
  const planFile = join(ask.workFolder, 'plan.json');
  const surveyFile = made.value.survey === null ? null : join(ask.workFolder, 'survey.json');
  await writeFile(planFile, planText!);
  if (surveyFile !== null) await writeFile(surveyFile, made.value.survey!);
  const files: Record<string, string> = {};
  for (const [name, content] of Object.entries(others)) {
    const kept = await blobs.put([typeof content === 'string' ? new TextEncoder().encode(content) : content]);
    if (!kept.ok) return kept;
    files[name] = kept.value.sha256;
  }
  const centre = made.value.plan.root?.basalPlane.pointLps;
  const block = loaded && centre ? await keepBlock(loaded, centre, blobs) : null;
  if (block && !block.ok) return block;
  return succeed({ kind: 'plan', planFile, surveyFile, files, block: block?.value ?? null });
}

/** The texts of the ask as files, so that they are checked as those handed to `trinadir plan`. */
async function readRequest(ask: PlanAsk, path: string): Promise<Result<PlanRequest>> {
  const put = async (name: string, text: string | null): Promise<string | null> => {
    if (text === null) return null;
    const file = join(ask.workFolder, name);
    await writeFile(file, text);
    return file;
  };
  const marksFile = await put('landmarks.json', ask.landmarks);
  const landmarks = marksFile === null ? null : await readLandmarks(marksFile);
  if (landmarks && !landmarks.ok) return landmarks;
  const devicesFile = await put('devices.json', ask.devices);
  const devices = devicesFile === null ? null : await readTable(devicesFile, 'devices');
  if (devices && !devices.ok) return devices;
  const rulesFile = await put('rules.json', ask.rules);
  const rules = rulesFile === null ? null : await readTable(rulesFile, 'rules');
  if (rules && !rules.ok) return rules;
  const patientFile = await put('patient.json', ask.patient);
  const patient = patientFile === null ? null : await readTable(patientFile, 'patient');
  if (patient && !patient.ok) return patient;
  return succeed({ path, seriesUid: ask.seriesUid ?? undefined, sections: SECTIONS, landmarks: landmarks?.value, devices: devices?.value, rules: rules?.value, patient: patient?.value });
}
