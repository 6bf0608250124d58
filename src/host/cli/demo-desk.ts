import { mkdir, readdir, rm, writeFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { fail, succeed, type Result } from '../../core/result.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';
import { exportPlan } from '../jobs/export-plan.ts';
import { handInFolder, waitForPlan } from '../server/hand-in-folder.ts';
import { handInRun } from '../server/join-run.ts';
import { openDesk } from '../server/open-desk.ts';
import { openReleasedCase } from '../server/open-released-case.ts';
import { openTrainingCase } from '../server/open-training-case.ts';
import { lockData } from '../storage/data-lock.ts';
import { readSeed } from './answer-result.ts';
import { readMadeBy } from './clock.ts';
import type { CommandIo } from './command-io.ts';
import { makeDefectTeller } from './serve-command.ts';
import { makeProgressBar } from './progress-bar.ts';
import { readTrainingDepth } from './read-training-depth.ts';
import { writeTrainingRecords } from './write-training-records.ts';

export interface DemoDeskOptions {
  readonly ctFolder: string;
  readonly dataFolder: string;
  readonly planFolder: string;
  readonly port: number | undefined;
  readonly replace: boolean;
  readonly quiet: boolean;
  readonly json: boolean;
}
export interface DemoDesk {
  readonly startUrl: string;
  close(): Promise<void>;
}
const RELEASED_CASE = 'training-case-released';
/** Says that a data folder is the demo's own; one without it is never emptied. */
const MARK = 'training-case.txt';

/**
 * The desk of the demo: an empty store, the training case in it, its CT handed in and planned by the desk's own jobs, the
 * answers written out too, and a second case after release beside it. Gives the address when everything is there.
 * Fails     data-not-of-demo, and as the desk, the import and the plan
 */
export async function openDemoDesk(options: DemoDeskOptions, io: CommandIo): Promise<Result<DemoDesk, string>> {
  const { dataFolder } = options;
  const emptied = await emptyDemoData(dataFolder);
  if (!emptied.ok) return emptied;
  let caseId = '';
  let personId = '';
  const desk = await openDesk({
    dataFolder, port: options.port, version: readMadeBy(), onDefect: makeDefectTeller('demo', options, io),
    async prepare({ store }) {
      const opened = await openTrainingCase(store);
      if (!opened.ok) return opened;
      ({ caseId, personId } = opened.value);
      return succeed({ personId, page: `/case/${caseId}/referral` });
    },
  });
  if (!desk.ok) return desk;
  const { services, startUrl, close } = desk.value;
  const progress = makeProgressBar(io, { quiet: options.quiet });
  let step = '';
  const planned = await plan();
  progress.end();
  if (!planned.ok) {
    await close();
    return planned;
  }
  return succeed({ startUrl, close });

  async function plan(): Promise<Result<unknown, string>> {
    const handed = await handInFolder(services, { caseId, by: personId, folder: options.ctFolder, acceptIdentityBecause: SERVER_EN.trainingIdentity });
    if (!handed.ok) return handed;
    const made = await waitForPlan(services, caseId, (now, ratio) => {
      if (now !== step) progress.step((step = now));
      progress.report(ratio);
    });
    if (!made.ok) return made;
    // The fluoroscopy that was made beside the CT: what the depth is read from in the room.
    const runsFolder = join(dirname(options.ctFolder), 'fluoroscopy');
    const runs: readonly string[] = await readdir(runsFolder).catch(() => []);
    for (const name of runs.filter((n) => n.endsWith('.dcm')).sort()) {
      const joined = await handInRun(services, { caseId, by: personId, file: join(runsFolder, name), because: SERVER_EN.trainingIdentity });
      if (!joined.ok) return joined;
    }
    const exported = await exportPlan(services, caseId, options.planFolder, options);
    if (!exported.ok) return exported;
    // A second case with the same plan, released already: the first is left where its visitor freezes and releases it.
    const recordsFolder = join(dirname(options.ctFolder), 'records');
    await writeTrainingRecords(recordsFolder, await readSeed(options.ctFolder));
    return openReleasedCase(services, { planned: caseId, caseId: RELEASED_CASE, by: personId, recordsFolder, depth: await readTrainingDepth(options.planFolder, runsFolder) });
  }
}

/** Made anew on each run. The lock is taken first, so that a demo which still runs keeps what it stands on. */
async function emptyDemoData(dataFolder: string): Promise<Result<null, string>> {
  const names: readonly string[] = await readdir(dataFolder).catch(() => []);
  if (names.length > 0 && !names.includes(MARK)) return fail('data-not-of-demo', SERVER_EN.dataNotOfDemo, SERVER_EN.dataNotOfDemoNext);
  const lock = await lockData(dataFolder);
  if (!lock.ok) return lock;
  for (const name of names) if (name !== 'lock' && name !== MARK) await rm(join(dataFolder, name), { recursive: true, force: true });
  await mkdir(dataFolder, { recursive: true });
  await writeFile(join(dataFolder, MARK), `${SERVER_EN.trainingLabel}\n`);
  await lock.value.release();
  return succeed(null);
}
