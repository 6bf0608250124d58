import { mkdir, readFile, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { Plan } from '../../core/case/plan-types.ts';
import { DEMO_EN } from '../../core/text/demo-en.ts';
import { TRAINING_REFERRAL } from '../server/open-training-case.ts';
import { runCaseAddCommand, type CaseAddOptions } from './case-add-command.ts';
import { runCaseFreezeCommand } from './case-freeze-command.ts';
import { runCaseLogCommand } from './case-log-command.ts';
import { runCaseNewCommand } from './case-new-command.ts';
import type { CommandIo } from './command-io.ts';
import { EXIT } from './exit-codes.ts';
import { readTrainingDepth } from './read-training-depth.ts';
import {
  BRANCHES, listTrainingDoubts, listTrainingTaps, makeTrainingHuddle, sayEcgAfter, sayEcgBefore, sayInstant, TRAINING_BESIDE, TRAINING_BRANCH, TRAINING_ECHO, TRAINING_MINUTES, TRAINING_READERS, TRAINING_SAID, TRAINING_SIGNS,
} from './training-entries.ts';
import { TRAINING_RECORDS } from './write-training-records.ts';

export interface TrainingCasePlaces {
  /** Folder of plan.json. */
  readonly planFolder: string;
  /** frames.json lies in it; null: no depth is logged. */
  readonly fluoroscopyFolder: string | null;
  readonly recordsFolder: string;
  /** Made anew. */
  readonly caseFolder: string;
}

/**
 * The training case as a case folder, filled by the verbs that a person would use, on an invented clock that ends at `nowMs`: frozen,
 * released eight minutes ago, with records, readers and their sealed grades. Entries stay beside the records as files.
 * Gives the exit code of the verb that failed.
 */
export async function makeTrainingCase({ planFolder, fluoroscopyFolder, recordsFolder, caseFolder: dir }: TrainingCasePlaces, nowMs: number, io: CommandIo): Promise<number> {
  const plan = JSON.parse(await readFile(join(planFolder, 'plan.json'), 'utf8')) as Plan;
  const depth = await readTrainingDepth(planFolder, fluoroscopyFolder);
  const minutes = TRAINING_MINUTES;
  const silent: CommandIo = { ...io, out: () => {} };
  const say = (before: number): string => sayInstant(nowMs, before);
  const quiet = (before: number, by: string = TRAINING_READERS[0].id) => ({ dir, by, quiet: true, nowMs: () => nowMs - before * 60_000 });
  const add = (before: number, file: string, beside: Partial<CaseAddOptions> = {}) => () => runCaseAddCommand({ ...quiet(before), file, ...beside }, silent);
  const enter = (before: number, name: string, parts: object, by?: string) => async () => {
    const file = join(recordsFolder, name);
    await writeFile(file, `${JSON.stringify({ format: 'trinadir.entries/1', ...parts }, null, 1)}\n`);
    return runCaseAddCommand({ ...quiet(before, by), file }, silent);
  };
  const record = (name: keyof typeof TRAINING_RECORDS): string => join(recordsFolder, TRAINING_RECORDS[name]);
  const { because } = DEMO_EN;
  await rm(dir, { recursive: true, force: true });
  await mkdir(recordsFolder, { recursive: true });

  const steps: readonly (() => Promise<number>)[] = [
    () => runCaseNewCommand({ ...quiet(minutes.opened), label: DEMO_EN.releasedLabel, training: true }, silent),
    enter(minutes.opened, 'referral.json', { referral: Object.fromEntries(Object.entries(TRAINING_REFERRAL).filter(([, v]) => v !== undefined)) }),
    add(minutes.planned, planFolder),
    enter(minutes.huddle, 'huddle.json', { huddle: makeTrainingHuddle(nowMs), branches: Object.fromEntries(BRANCHES.map((b) => [b, TRAINING_BRANCH])), doubts: listTrainingDoubts(plan) }),
    () => runCaseFreezeCommand({ ...quiet(minutes.frozen), identifiers: '-', input: feed(JSON.stringify(readIdentifiers())) }, silent),
    () => runCaseLogCommand({ ...quiet(minutes.room), stdin: true, input: feed(listTrainingTaps(nowMs, depth).map((tap) => `${JSON.stringify(tap)}\n`).join('')) }, silent),
    add(minutes.pressuresAfter, record('pressuresBefore'), { moment: 'baseline', takenAt: say(minutes.pressuresBefore), because }),
    add(minutes.pressuresAfter, record('pressuresAfter'), { moment: 'after', takenAt: say(minutes.pressuresAfter), because }),
    add(minutes.aortogram, record('aortogram'), { angiogram: true, said: TRAINING_SAID, takenAt: say(minutes.aortogram), because }),
    add(minutes.ecgAfter, record('ecgBefore'), { ecg: 'baseline', takenAt: say(minutes.ecgBefore), because }),
    add(minutes.ecgAfter, record('ecgAfter'), { ecg: 'post', takenAt: say(minutes.ecgAfter), because }),
    enter(minutes.ecgAfter, 'echo.json', {
      echo: { echoId: 'echo-after-release', takenAt: say(minutes.echo), entries: TRAINING_ECHO },
      witnesses: [
        { of: 'recording', takenAt: say(minutes.pressuresAfter), ...TRAINING_BESIDE }, { of: 'echo', takenAt: say(minutes.echo), ...TRAINING_BESIDE }, { of: 'angiogram', takenAt: say(minutes.aortogram), ...TRAINING_BESIDE },
      ],
    }),
    enter(minutes.ecgAfter, 'words.json', {
      result: TRAINING_SIGNS, ecg: { baseline: sayEcgBefore(say(minutes.ecgBefore)), post: sayEcgAfter(say(minutes.ecgAfter)) }, readers: TRAINING_READERS.map((r) => r.id),
    }),
    ...TRAINING_READERS.map(({ id, low, high }, k) => enter(minutes.grades - k / 4, `grade-${id}.json`, { grade: { of: 'overall', low, high, takenAt: say(minutes.grades), ...TRAINING_BESIDE } }, id)),
  ];
  for (const step of steps) {
    const code = await step();
    if (code !== EXIT.answered) return code;
  }
  return EXIT.answered;
}

function readIdentifiers(): Readonly<Record<string, unknown>> {
  return { name: TRAINING_REFERRAL['identity.name'], birthDate: TRAINING_REFERRAL['identity.birthDate'], patientId: TRAINING_REFERRAL['identity.patientId'] };
}
async function* feed(text: string): AsyncGenerator<Uint8Array> {
  yield new TextEncoder().encode(text);
}
