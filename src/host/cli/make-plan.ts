import { formatText } from '../../core/text/catalogue.ts';
import { PLAN_EN } from '../../core/text/plan-en.ts';
import type { Plan, PlanMessage } from '../../core/case/plan-types.ts';
import type { Failure, Result } from '../../core/result.ts';
import { fail, succeed } from '../../core/result.ts';
import { NO_CUTS, type PlanCuts } from '../../core/root/cut-types.ts';
import { makeRootCuts } from '../../core/root/make-root-cuts.ts';
import type { Landmarks, ScanFacts } from '../../core/root/root-types.ts';
import type { SurveyAnswer } from '../../core/root/survey-types.ts';
import { makeCalciumSurface, makeLumenSurface } from '../../core/root/make-root-surfaces.ts';
import type { TriangleMesh } from '../../core/surface/mesh-types.ts';
import { roundGrid } from '../../core/volume/round-grid.ts';
import { makeFact, type FactStamp, type Reason } from '../../core/units/fact.ts';
import { surveyRootTask } from '../../tasks/survey-root.ts';
import { countWorkers } from '../jobs/count-workers.ts';
import { WorkerPool } from '../jobs/worker-pool.ts';
import { loadProposedVolume } from '../intake/load-volume.ts';
import { makeScanFacts } from '../intake/make-scan-facts.ts';
import { scanPath } from '../intake/scan-path.ts';
import type { LoadedVolume } from '../intake/scan-types.ts';
import { checkLandmarks, type HandedFile } from './check-landmarks.ts';
import type { Progress } from './progress-bar.ts';

export interface PlanRequest {
  readonly path: string;
  readonly seriesUid?: string | undefined;
  readonly landmarks?: HandedFile<Landmarks> | undefined;
  readonly devices?: HandedFile<{ readonly training: boolean }> | undefined;
  readonly patient?: HandedFile<unknown> | undefined;
  /** False: the scan alone is answered. */
  readonly wantsRoot: boolean;
}
/** Everything one answer consists of, before it is written. */
export interface PlanAnswer {
  readonly plan: Plan;
  readonly cuts: PlanCuts;
  /** By file name below surfaces/. */
  readonly surfaces: Readonly<Record<string, TriangleMesh>>;
}

/**
 * From a path to a plan: scan, read, survey, pictures, surfaces. Writes nothing.
 * Fails   as scanPath, loadProposedVolume, checkLandmarks and surveyRoot; and with the code of the first stop when the
 *         scan is not fit
 */
export async function makePlan(request: PlanRequest, stamp: FactStamp, progress: Progress): Promise<Result<PlanAnswer>> {
  const read = await readVolume(request, progress);
  if (!read.ok) return read;
  if (read.value.verdict === 'not fit') return { ok: false, failure: describeStop(read.value) };
  const loaded = { ...read.value, volume: roundGrid(read.value.volume) };
  const misfit = request.landmarks && checkLandmarks(request.landmarks.content, loaded.volume, loaded.header.frameOfReferenceUid);
  if (misfit) return { ok: false, failure: misfit };
  if (!request.wantsRoot) {
    const scan = makeScanFacts(loaded, stamp);
    return succeed({ plan: assemblePlan(request, loaded, stamp, scan, null, []), cuts: NO_CUTS, surfaces: {} });
  }
  progress.step(PLAN_EN.surveying);
  const context = { stamp, doubts: listDoubts(loaded), marks: request.landmarks?.content };
  const surveyed = await surveyRootTask.run({ volume: loaded.volume, context }, progress.report);
  if (!surveyed.ok) return surveyed;
  progress.step(PLAN_EN.drawing);
  return succeed(assembleAnswer(request, loaded, stamp, surveyed.value));
}

/** Fewer files or bytes are read as quickly without threads. */
const WORTH_FILES = 32;
const WORTH_BYTES = 40e6;

/** Scan and load. Threads for a large series are started while its headers are looked at. */
async function readVolume({ path, seriesUid }: PlanRequest, progress: Progress): Promise<Result<LoadedVolume>> {
  let pool: WorkerPool | null = null;
  try {
    progress.step(PLAN_EN.looking);
    const scanned = await scanPath(path, {
      onProgress: progress.report,
      onListed({ files, bytes }) {
        if (files >= WORTH_FILES && bytes >= WORTH_BYTES) pool = new WorkerPool(countWorkers());
      },
    });
    if (!scanned.ok) return scanned;
    progress.step(PLAN_EN.reading);
    const options = { onProgress: progress.report, ...(pool ? { pool } : {}), ...(seriesUid === undefined ? {} : { seriesUid }) };
    return await loadProposedVolume(scanned.value, options);
  } finally {
    await (pool as WorkerPool | null)?.close();
  }
}

function assembleAnswer(request: PlanRequest, loaded: LoadedVolume, stamp: FactStamp, survey: SurveyAnswer): PlanAnswer {
  const { root, blood } = survey;
  const scan = { ...makeScanFacts(loaded, stamp), ...measureBloodFacts(blood, stamp) };
  const cuts = makeRootCuts(loaded.volume, root, blood.levelHu);
  const messages: PlanMessage[] = [...survey.messages];
  if (!cuts.ok) {
    const { code, message, nextStep } = cuts.failure;
    messages.push({ code, section: 'root', text: message, next: nextStep });
  }
  const plan = assemblePlan(request, loaded, stamp, scan, survey, messages);
  return { plan, cuts: cuts.ok ? cuts.value : NO_CUTS, surfaces: makeSurfaces(loaded, survey) };
}

function makeSurfaces(loaded: LoadedVolume, { root, frame, wall }: SurveyAnswer): PlanAnswer['surfaces'] {
  const heights = root.levels.map((level) => level.heightMm);
  const lumen = makeLumenSurface(frame, wall, Math.min(...heights), Math.max(...heights));
  const calcium = root.calcium ? makeCalciumSurface(loaded.volume, root.calcium.deposits, root.calcium.thresholdHu) : null;
  return { ...(lumen ? { 'root-lumen.stl': lumen } : {}), ...(calcium ? { 'calcium.stl': calcium } : {}) };
}

/** What the drawn training series say of themselves in their description. */
const TRAINING_SERIES = /^TRAINING,? invented sizes/;

function assemblePlan(
  request: PlanRequest, loaded: LoadedVolume, stamp: FactStamp, scan: ScanFacts, survey: SurveyAnswer | null, messages: readonly PlanMessage[],
): Plan {
  const { landmarks, devices, patient } = request;
  return {
    format: 'trinadir.plan/1', madeBy: stamp.by, madeAt: stamp.at,
    training: TRAINING_SERIES.test(loaded.header.seriesDescription ?? '') || devices?.content.training === true,
    inputs: {
      ...loaded.inputs,
      ...(devices ? { devicesSha256: devices.sha256 } : {}),
      ...(patient ? { patientSha256: patient.sha256 } : {}),
      ...(landmarks ? { landmarksSha256: landmarks.sha256 } : {}),
    },
    scan, ...(survey ? { root: survey.root } : {}),
    messages: [...messages, ...listNotYet(request)],
  };
}

/** Files that were accepted for sections which this version does not reach: said, not passed over. */
function listNotYet({ devices, patient, landmarks }: PlanRequest): PlanMessage[] {
  const messages: PlanMessage[] = [];
  if (devices) messages.push({ code: 'size-not-in-version', section: 'size', text: PLAN_EN.devicesNotYet, next: PLAN_EN.devicesNotYetNext });
  if (patient) messages.push({ code: 'patient-not-in-version', section: 'size', text: PLAN_EN.patientNotYet, next: PLAN_EN.patientNotYetNext });
  if (landmarks?.content.contourLps) {
    messages.push({ code: 'contour-not-in-version', section: 'root', text: PLAN_EN.contourNotYet, next: PLAN_EN.contourNotYetNext });
  }
  return messages;
}

/** Doubts of the scan, as reasons that every number of the survey carries. */
function listDoubts(loaded: LoadedVolume): readonly Reason[] {
  return loaded.findings.filter(({ severity }) => severity === 'doubt').map(({ code, text, next }) => ({ code, text, next }));
}

/** Half the length of root over which the level is meant to hold. */
const LEVEL_HOLDS_MM = 10;
/** Relative 95 % half-width of an SD from about 200 independent differences: 1.96 / sqrt(2 x 200). */
const NOISE_HALF_RATIO = 0.1;

/**
 * The blood of the root itself in place of the scan-wide pool: level at the basal plane, with what it changes over
 * 10 mm along the axis; noise as the survey found it there.
 */
function measureBloodFacts(blood: SurveyAnswer['blood'], stamp: FactStamp): Pick<ScanFacts, 'contrastHu' | 'noiseHu'> {
  const { levelHu, perMmHu, noiseHu } = blood;
  const halfHu = Math.max(1, Math.abs(perMmHu) * LEVEL_HOLDS_MM);
  const from = ['scan.pixels', 'root.basalPlane'];
  const half = noiseHu * NOISE_HALF_RATIO;
  return {
    contrastHu: makeFact(levelHu, levelHu - halfHu, levelHu + halfHu, "[hnsf'U]", 'root.blood/1', from, stamp),
    noiseHu: makeFact(noiseHu, noiseHu - half, noiseHu + half, "[hnsf'U]", 'root.bloodNoise/1', from, stamp),
  };
}

function describeStop(loaded: LoadedVolume): Failure<string> {
  const stop = loaded.findings.find((finding) => finding.severity === 'stop');
  const text = stop?.text ?? PLAN_EN.noStop;
  return fail(stop?.code ?? 'scan-not-fit', text, stop?.next ?? 'Run trinadir scan on it to see why.').failure;
}

/** What the plan's ring says in one sentence, without its interval where it was refused. */
export function describeRing(plan: Plan): string {
  const ring = plan.root?.basalRing;
  if (!ring) return PLAN_EN.rootNotAsked;
  const { value, low, high, reasons } = ring.perimeterDiameterMm;
  if (value === null) return formatText(PLAN_EN, 'ringRefused', { why: reasons[0]?.text ?? '' });
  return formatText(PLAN_EN, 'ring', { value: value.toFixed(1), low: low!.toFixed(1), high: high!.toFixed(1) });
}
