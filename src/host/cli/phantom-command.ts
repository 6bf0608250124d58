import { mkdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { makeSeededShape } from '../../core/phantom/draw-seeded-shape.ts';
import type { DrawnPhantom } from '../../core/phantom/phantom-types.ts';
import { makeTrainingShape, TRAINING_SCENARIOS } from '../../core/phantom/training-shapes.ts';
import { fail, succeed, type Failure, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CONTRAST_EN } from '../../core/text/contrast-en.ts';
import { writeCtSlice, TRAINING_NOTE, type CtSeriesLabels } from '../../formats/dicom/write-ct-slice.ts';
import { makePhantom } from '../../tasks/make-phantom.ts';
import { writeContrastRun } from '../contrast/write-contrast-run.ts';
import { EXIT } from './exit-codes.ts';
import { mergeOver, parsePhantomFile, type PhantomFileFailureCode, type PhantomPlan } from './phantom-file.ts';
import { reportFailure } from './report-failure.ts';
import { claimOutFolder, type OutFolder } from './write-whole.ts';

export interface PhantomOptions {
  readonly out?: string | undefined;
  /** A phantom file, or the name of a training root. */
  readonly shape?: string | undefined;
  /** Seed of the root; with `shape`, of its noise. */
  readonly seed?: number | undefined;
  readonly list?: boolean | undefined;
  /** Fraction that leaks back: an angiographic run of it is written instead of a root. */
  readonly angiogram?: number | undefined;
  readonly json?: boolean | undefined;
  readonly replace?: boolean | undefined;
}
export interface PhantomIo {
  out(text: string): void;
  err(text: string): void;
  readonly isTerminal?: boolean;
}

type PlanFailureCode = PhantomFileFailureCode | 'phantom-file-unreadable';
/** A phantom file is a page of text; anything longer is something else. */
const MOST_FILE_BYTES = 1 << 20;

async function choosePlan(options: PhantomOptions): Promise<Result<PhantomPlan, PlanFailureCode>> {
  if (options.shape === undefined) return succeed(makeSeededShape(options.seed ?? 1));
  const named = makeTrainingShape(options.shape);
  const chosen = named ? succeed(named) : await readPlanFile(options.shape);
  if (!chosen.ok || options.seed === undefined) return chosen;
  return succeed({ shape: chosen.value.shape, scan: mergeOver(chosen.value.scan, { seed: options.seed }) });
}

async function readPlanFile(path: string): Promise<Result<PhantomPlan, PlanFailureCode>> {
  const bytes = await readFile(path).catch(() => null);
  if (!bytes || bytes.length > MOST_FILE_BYTES) {
    return fail('phantom-file-unreadable', 'The phantom file cannot be read, and there is no training root of that name.',
      'Check the path (at most 1 MB), or take a name from trinadir phantom --list.');
  }
  return parsePhantomFile(new TextDecoder().decode(bytes));
}

/** Header words of a drawn series. */
export function labelSeries(plan: Pick<PhantomPlan, 'scan'>): CtSeriesLabels {
  const { scan } = plan;
  return {
    seed: scan.seed, seriesNumber: 2,
    seriesDescription: `TRAINING invented sizes${scan.phasePercent === null ? '' : ` ${Math.round(scan.phasePercent)} %`}`,
    sliceThicknessMm: scan.sliceThicknessMm, gantryTiltDeg: scan.gantryTiltDeg, phasePercent: scan.phasePercent,
    isContrast: scan.contrastHu > 100, kvp: scan.contrastHu > 100 ? 100 : 120, kernel: 'INVENTED', stored: 'unsigned-12',
  };
}

async function writePhantom(folder: OutFolder, plan: PhantomPlan, drawn: DrawnPhantom): Promise<number> {
  const dicomDir = join(folder.workDir, 'dicom');
  await mkdir(dicomDir);
  const labels = labelSeries(plan);
  const slices = drawn.volume.dims[2];
  for (let k = 0; k < slices; k++) {
    await writeFile(join(dicomDir, `slice-${String(k + 1).padStart(4, '0')}.dcm`), writeCtSlice(drawn.volume, k, labels));
  }
  const truth = { ...drawn.truth, note: TRAINING_NOTE, shape: plan.shape, scan: plan.scan };
  await writeFile(join(folder.workDir, 'truth.json'), `${JSON.stringify(truth, null, 1)}\n`);
  return slices;
}

async function writeAngiogram(options: PhantomOptions, out: string, fraction: number, io: PhantomIo, refuse: (failure: Failure<string>, code: number) => number): Promise<number> {
  if (options.shape !== undefined) return refuse(fail('option-unfit', CONTRAST_EN.phantomUnfit, CONTRAST_EN.phantomUnfitNext).failure, EXIT.usage);
  const folder = await claimOutFolder(out, { replace: options.replace ?? false, kind: 'phantom' });
  if (!folder.ok) return refuse(folder.failure, EXIT.usage);
  try {
    const truth = await writeContrastRun(folder.value.workDir, options.seed ?? 1, { regurgitantFraction: fraction });
    const published = await folder.value.publish();
    if (!published.ok) return refuse(published.failure, EXIT.usage);
    const said = { folder: published.value, frames: truth.aorta.length, regurgitantFraction: fraction };
    io.out(options.json ? `${JSON.stringify({ ...said, note: TRAINING_NOTE })}\n` : `${formatText(CONTRAST_EN, 'phantomDone', said)} (${TRAINING_NOTE})\n`);
    return EXIT.answered;
  } catch (problem) {
    await folder.value.abandon();
    throw problem;
  }
}

function listScenarios(options: PhantomOptions, io: PhantomIo): number {
  const rows = TRAINING_SCENARIOS.map(({ name, about }) => ({ name, about }));
  if (options.json) io.out(`${JSON.stringify({ scenarios: rows })}\n`);
  else io.out(rows.map((r) => `${r.name.padEnd(22)}${r.about}\n`).join(''));
  return EXIT.answered;
}

/**
 * `trinadir phantom`: draws an analytic root and writes it as a CT series (`dicom/`) with its exact sizes
 * (`truth.json`). Files appear whole; a folder that holds an answer is kept unless `replace` is set.
 * Gives the exit code.
 */
export async function runPhantomCommand(options: PhantomOptions, io: PhantomIo): Promise<number> {
  const refuse = (failure: Failure<string>, code: number): number => {
    reportFailure(failure, 'phantom', { json: options.json ?? false }, { ...io, out: (t) => io.out(t), err: (t) => io.err(t), isTerminal: io.isTerminal ?? false });
    return code;
  };
  if (options.list) return listScenarios(options, io);
  if (!options.out) {
    const missing = fail('out-missing', 'No output folder is named.', 'Add --out DIR, or --list to see the training roots.');
    return refuse(missing.failure, EXIT.usage);
  }
  if (options.seed !== undefined && !(Number.isInteger(options.seed) && options.seed >= 0 && options.seed <= 0xffffffff)) {
    return refuse(fail('seed-not-whole', 'The seed is not a whole number from 0 to 4294967295.', 'Give --seed 7, for example.').failure, EXIT.usage);
  }
  if (options.angiogram !== undefined) return writeAngiogram(options, options.out, options.angiogram, io, refuse);
  const plan = await choosePlan(options);
  if (!plan.ok) return refuse(plan.failure, EXIT.refused);
  const folder = await claimOutFolder(options.out, { replace: options.replace ?? false, kind: 'phantom' });
  if (!folder.ok) return refuse(folder.failure, EXIT.usage);
  try {
    const drawn = await makePhantom.run(plan.value, () => {});
    if (!drawn.ok) return EXIT.defect;
    const slices = await writePhantom(folder.value, plan.value, drawn.value);
    const published = await folder.value.publish();
    if (!published.ok) return refuse(published.failure, EXIT.usage);
    const { truth } = drawn.value;
    if (options.json) io.out(`${JSON.stringify({ folder: published.value, slices, areaMm2: truth.basalRing.areaMm2, note: TRAINING_NOTE })}\n`);
    else io.out(`${slices} slices and truth.json in ${published.value}\nBasal ring ${truth.basalRing.areaMm2.toFixed(1)} mm2, ${truth.basalRing.minDiameterMm.toFixed(1)} x ${truth.basalRing.maxDiameterMm.toFixed(1)} mm (${TRAINING_NOTE})\n`);
    return EXIT.answered;
  } catch (problem) {
    await folder.value.abandon();
    throw problem;
  }
}
