import { mkdir, readdir, stat, writeFile } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import { TRAINING_PATIENT } from '../../core/device/training-table.ts';
import type { Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DEMO_EN } from '../../core/text/demo-en.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import type { ResultPlaces } from './answer-result.ts';
import type { CommandIo } from './command-io.ts';
import type { DemoDesk, DemoDeskOptions } from './demo-desk.ts';
import { EXIT } from './exit-codes.ts';
import { reportFailure } from './report-failure.ts';
import { setOwnEnd } from './stop-signal.ts';

export interface DemoOptions {
  readonly out?: string;
  readonly port?: number;
  readonly once?: boolean;
  readonly replace?: boolean;
  readonly json?: boolean;
  readonly quiet?: boolean;
}

/** The verbs the demo is made of, each giving its exit code. */
export interface DemoSteps {
  makeTrainingCt(ctFolder: string, options: { replace: boolean; quiet: boolean }, io: CommandIo): Promise<number>;
  /** `patientFile` is what the demo enters for its invented patient. */
  planCt(ctFolder: string, planFolder: string, patientFile: string, options: { replace: boolean; quiet: boolean }, io: CommandIo): Promise<number>;
  /** Makes what is handed in after release and a case folder from it, and answers it; `places` says where. */
  answerResult(places: ResultPlaces, options: { replace: boolean; quiet: boolean }, io: CommandIo): Promise<number>;
  /** Opens the desk with the CT handed in, planned, and the answers written to the plan folder. */
  openDesk(options: DemoDeskOptions, io: CommandIo): Promise<Result<DemoDesk, string>>;
  exitOf(code: string): number;
}

const placeResult = (folder: string): ResultPlaces => ({
  ctFolder: join(folder, 'ct'), fluoroscopyFolder: join(folder, 'fluoroscopy'), planFolder: join(folder, 'plan'), recordsFolder: join(folder, 'records'), caseFolder: join(folder, 'case'), resultFolder: join(folder, 'result'),
});

/** The demo's own place: made anew on each run. A folder that the person names is only replaced when they say so. */
const OWN_FOLDER = join('out', 'demo');

async function listPages(folder: string): Promise<readonly string[]> {
  const names = await readdir(folder, { recursive: true });
  const files: string[] = [];
  for (const name of names) if ((await stat(join(folder, name))).isFile()) files.push(name.replaceAll('\\', '/'));
  return files.sort();
}

/**
 * Makes the training CT. With `once` it plans it as any CT is planned from the command line, answers what comes after release too,
 * says where the answers are and ends; otherwise it opens the desk on the stored training case and serves it on loopback, the answers written too.
 * `onEnd` gets what ends the serving (Ctrl-C by default).
 */
export async function runDemoCommand(
  options: DemoOptions,
  io: CommandIo,
  steps: DemoSteps,
  onEnd: (end: () => void) => void = setOwnEnd,
): Promise<number> {
  const folder = resolve(options.out ?? OWN_FOLDER);
  const stepOptions = {
    replace: options.replace === true || options.out === undefined,
    quiet: options.quiet === true,
  };
  // What the steps say on standard output is theirs; the demo's own answer is where everything lies.
  const stepIo: CommandIo = { ...io, err: (text) => io.err(text), out: () => {} };
  io.err(`${HOUSE_EN.caution}\n(${HOUSE_EN.training})\n`);
  if (!stepOptions.quiet) io.err(`${HOUSE_EN.demoMakesCt}\n`);
  const madeCode = await steps.makeTrainingCt(join(folder, 'ct'), stepOptions, stepIo);
  if (madeCode !== EXIT.answered) return madeCode;
  if (!stepOptions.quiet) io.err(`${HOUSE_EN.demoPlans}\n`);
  // Written beside the CT, as a person would hand it in; the folder is the demo's own or was asked for.
  await mkdir(folder, { recursive: true });
  await writeFile(join(folder, 'patient.json'), `${JSON.stringify(TRAINING_PATIENT, null, 1)}\n`);
  const places = placeResult(folder);
  const { planFolder } = places;
  const isJson = options.json === true;
  const sayAnswers = async (): Promise<void> => {
    const { recordsFolder, resultFolder, caseFolder } = places;
    const after = options.once ? { records: await listPages(recordsFolder), result: await listPages(resultFolder), caseFolder } : {};
    if (isJson) return io.out(`${JSON.stringify({ folder, files: await listPages(planFolder), ...after })}\n`);
    io.out(`${formatText(HOUSE_EN, 'demoAnswers', { folder: planFolder })}\n`);
    if (options.once) io.out(`${formatText(DEMO_EN, 'released', { records: recordsFolder, result: resultFolder, caseFolder })}\n`);
  };
  if (options.once) {
    const plannedCode = await steps.planCt(join(folder, 'ct'), planFolder, join(folder, 'patient.json'), stepOptions, stepIo);
    if (plannedCode !== EXIT.answered) return plannedCode;
    const resultCode = await steps.answerResult(places, stepOptions, stepIo);
    if (resultCode === EXIT.answered) await sayAnswers();
    return resultCode;
  }
  const desk = await steps.openDesk({ ...stepOptions, ctFolder: join(folder, 'ct'), dataFolder: join(folder, 'data'), planFolder, port: options.port, json: isJson }, stepIo);
  if (!desk.ok) {
    reportFailure(desk.failure, 'demo', { json: isJson }, io);
    return steps.exitOf(desk.failure.code);
  }
  await sayAnswers();
  const stopped = new Promise<void>(onEnd);
  io.err(`${formatText(HOUSE_EN, 'demoServing', { url: desk.value.startUrl })}\n`);
  await stopped;
  await desk.value.close();
  return EXIT.answered;
}
