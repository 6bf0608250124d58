import { formatPlan } from '../../core/case/format-plan.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { succeed, type Result } from '../../core/result.ts';
import { NO_CUTS, type PlanCuts } from '../../core/root/cut-types.ts';
import { makeCalciumSurface, makeLumenSurface } from '../../core/root/make-root-surfaces.ts';
import { makeRootCuts } from '../../core/root/make-root-cuts.ts';
import { makeSurveyDocument } from '../../core/root/survey-document.ts';
import type { RootSurvey, ScanFacts } from '../../core/root/root-types.ts';
import type { PlanMessage, SurveyAnswer, SurveyFailureCode } from '../../core/root/survey-types.ts';
import type { TriangleMesh } from '../../core/surface/mesh-types.ts';
import { PLAN_EN } from '../../core/text/plan-en.ts';
import { makeFact, type FactStamp, type Reason } from '../../core/units/fact.ts';
import { writePlanPdf } from '../../formats/pdf/write-plan-pdf.ts';
import { writeWallPdf } from '../../formats/pdf/write-wall-pdf.ts';
import { writeSurveyDocument } from '../../formats/plan/write-survey-document.ts';
import { drawPlanPage } from '../../formats/report/draw-plan-page.ts';
import { drawWallPage } from '../../formats/report/draw-wall-page.ts';
import { listWallCards } from '../../formats/report/list-wall-cards.ts';
import { writeStl } from '../../formats/stl/write-stl.ts';
import { surveyRootTask } from '../../tasks/survey-root.ts';
import { makeScanFacts } from '../intake/make-scan-facts.ts';
import type { SeriesBeside } from '../intake/load-calcium-series.ts';
import type { LoadedVolume } from '../intake/scan-types.ts';
import { answerQuestions, type PlanAnswers } from './answer-questions.ts';
import { readPdfFonts, readWallFonts } from './pdf-fonts.ts';
import type { PlanAnswer, PlanRequest, PlanSection } from './plan-types.ts';
import type { Progress } from './progress-bar.ts';
import { scoreBeside } from './score-beside.ts';

/** At most 80 characters: what STL's header holds. */
export const STL_HEADER = 'LPS mm. Research and teaching, not a medical device.';
export const STL_TRAINING = 'TRAINING, invented sizes. ';

/**
 * Measures and draws one volume that is fit for it: everything that a plan consists of, as files.
 * Fails   as surveyRoot
 */
export async function answerPlan(
  request: PlanRequest, loaded: LoadedVolume, stamp: FactStamp, progress: Progress, seriesBeside: SeriesBeside,
): Promise<Result<PlanAnswer, SurveyFailureCode>> {
  if (request.sections.every((section) => section === 'scan')) {
    const plan = assemblePlan(request, loaded, stamp, makeScanFacts(loaded, stamp), null, null, []);
    return succeed({ plan, files: await writeFiles(plan, NO_CUTS, {}), survey: null });
  }
  progress.step(PLAN_EN.surveying);
  const context = { stamp, doubts: listDoubts(loaded), marks: request.landmarks?.content };
  const surveyed = await surveyRootTask.run({ volume: loaded.volume, context }, progress.report);
  if (!surveyed.ok) return surveyed;
  if (seriesBeside.count > 0) progress.step(PLAN_EN.scoring);
  const beside = await scoreBeside(request, loaded, surveyed.value, seriesBeside, stamp);
  const { root } = beside;
  const { blood } = surveyed.value;
  progress.step(PLAN_EN.answering);
  const surveyMessages = [...surveyed.value.messages, ...beside.messages];
  const answers = await answerQuestions(request, loaded, root, surveyMessages, stamp);
  const messages = [...surveyMessages, ...answers.messages];
  progress.step(PLAN_EN.drawing);
  const scan = { ...makeScanFacts(loaded, stamp), ...measureBloodFacts(blood, stamp) };
  const cuts = makeRootCuts(loaded.volume, root, blood.levelHu);
  const noCuts: PlanMessage[] = cuts.ok ? [] : [{ code: cuts.failure.code, section: 'root', text: cuts.failure.message, next: cuts.failure.nextStep }];
  const plan = assemblePlan(request, loaded, stamp, scan, root, answers, [...messages, ...noCuts]);
  const shown = cuts.ok ? cuts.value : NO_CUTS;
  const { frameOfReferenceUid, patientPosition } = loaded.header;
  const survey = writeSurveyDocument(makeSurveyDocument(surveyed.value, { madeBy: stamp.by, frameOfReferenceUid, patientPosition, cuts: shown }));
  return succeed({ plan, files: await writeFiles(plan, shown, makeSurfaces(loaded, surveyed.value)), survey });
}

async function writeFiles(plan: Plan, cuts: PlanCuts, surfaces: Readonly<Record<string, TriangleMesh>>): Promise<PlanAnswer['files']> {
  const fonts = readPdfFonts();
  const files: Record<string, string | Uint8Array> = {
    'plan.json': formatPlan(plan), 'plan.html': drawPlanPage(plan, cuts), 'plan.pdf': await writePlanPdf(plan, cuts, fonts),
  };
  const cards = listWallCards(plan);
  if (cards.length > 0) {
    const wallFonts = readWallFonts(fonts);
    files['wall.html'] = drawWallPage(cards, wallFonts);
    files['wall.pdf'] = await writeWallPdf(cards, wallFonts, fonts, plan.madeAt);
  }
  for (const [name, mesh] of Object.entries(surfaces)) {
    const bytes = writeStl(mesh, `${plan.training ? STL_TRAINING : ''}${STL_HEADER}`);
    if (!bytes.ok) throw new Error(`The surface ${name} cannot be written: ${bytes.failure.code}.`); // our defect
    files[`surfaces/${name}`] = bytes.value;
  }
  return files;
}

function makeSurfaces(loaded: LoadedVolume, { root, frame, wall }: SurveyAnswer): Readonly<Record<string, TriangleMesh>> {
  const heights = root.levels.map((level) => level.heightMm);
  const lumen = makeLumenSurface(frame, wall, Math.min(...heights), Math.max(...heights));
  const calcium = root.calcium ? makeCalciumSurface(loaded.volume, root.calcium.deposits, root.calcium.thresholdHu) : null;
  return { ...(lumen ? { 'root-lumen.stl': lumen } : {}), ...(calcium ? { 'calcium.stl': calcium } : {}) };
}

/** What the drawn training series say of themselves in their description. */
const TRAINING_SERIES = /^TRAINING,? invented sizes/;

function assemblePlan(
  request: PlanRequest, loaded: LoadedVolume, stamp: FactStamp, scan: ScanFacts, root: RootSurvey | null, answers: PlanAnswers | null, messages: readonly PlanMessage[],
): Plan {
  const { landmarks, devices, patient, rules, sections } = request;
  const wants = (section: PlanSection): boolean => sections.includes(section);
  const { size, landing, views, rules: active } = answers?.completed ?? {};
  const release = answers?.release;
  const usesTables = wants('size') || wants('landing') || wants('views') || wants('release'); // the reach of the views comes from the rules
  return {
    format: 'trinadir.plan/1', madeBy: stamp.by, madeAt: stamp.at,
    training: TRAINING_SERIES.test(loaded.header.seriesDescription ?? '') || (usesTables && answers?.completed.training === true) || devices?.content.training === true || rules?.content.training === true,
    inputs: {
      ...loaded.inputs,
      ...(devices ? { devicesSha256: devices.sha256 } : {}),
      ...(rules ? { rulesSha256: rules.sha256 } : {}),
      ...(patient ? { patientSha256: patient.sha256 } : {}),
      ...(landmarks ? { landmarksSha256: landmarks.sha256 } : {}),
    },
    scan, ...(root && wants('root') ? { root } : {}),
    ...(size && wants('size') ? { size } : {}),
    ...(landing && wants('landing') ? { landing } : {}),
    ...(views && wants('views') ? { views } : {}),
    ...(release && wants('release') ? { release } : {}),
    ...(patient ? { patient: patient.content } : {}),
    ...(active && usesTables ? { rules: active } : {}),
    messages,
  };
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
