/**
 * What a person at the desk waits for after a drag or a slider: a moved nadir answered from the last survey, the ring
 * while it is dragged, and a what-if by the desk's own thread. The other column is the promise in ms (0.3 s; for the ring
 * one picture at 30 a second), so that a ratio above 1 is a broken one. Medians; peak memory of this process.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { spawnSync } from 'node:child_process';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const ROOT = dirname(dirname(fileURLToPath(import.meta.url)));
const PROGRAM = join(ROOT, 'bin', 'trinadir.mjs');
const STAMP = { by: 'bench', at: '2026-03-02T08:11:00Z' };
const SILENT = { step() {}, report() {}, end() {} };

export const name = 'moved-marks';

export async function run({ print }) {
  const folder = mkdtempSync(join(tmpdir(), 'trinadir-bench-marks-'));
  try {
    print('  drawing and planning the training case ...');
    const done = spawnSync(process.execPath, [PROGRAM, 'demo', '--once', '--quiet', '--out', folder], { encoding: 'utf8' });
    if (done.status !== 0) return { title: 'Moved marks', rows: [], notes: [`The training case could not be made: ${done.stderr.slice(-200)}`] };
    const { makePlan } = await dist('host/cli/make-plan.js');
    const made = await makePlan({ path: join(folder, 'ct'), sections: ['scan', 'root', 'size', 'landing', 'views', 'release'] }, STAMP, SILENT);
    if (!made.ok) return { title: 'Moved marks', rows: [], notes: [`The training case could not be planned: ${made.failure.code}`] };
    return await measure(made.value, print);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

const dist = (path) => import(join(ROOT, 'dist', path));

async function measure({ files, survey: surveyText }, print) {
  const { recutPlan } = await dist('core/case/recut-plan.js');
  const { recutRing } = await dist('core/root/recut-root.js');
  const { readPlannedChoice } = await dist('core/case/ask-choice.js');
  const { parsePlan } = await dist('formats/plan/parse-plan.js');
  const { parseSurveyDocument } = await dist('formats/plan/parse-survey-document.js');
  const { makeWhatIfDesk } = await dist('host/jobs/what-if-desk.js');
  const planText = files['plan.json'];
  const plan = parsePlan(planText).value;
  const document = parseSurveyDocument(surveyText).value;
  const rows = [];
  const put = (what, promisedMs, oursMs, note) => rows.push({ what, oursMs, theirsMs: promisedMs, goal: 1, note, oursPeakMb: process.resourceUsage().maxRSS / 1024 });

  print('  moved marks ...');
  const { nadirsLps, normalLps } = plan.root.basalPlane;
  const move = (mm) => ({ ...nadirsLps, R: nadirsLps.R.map((v, k) => v + mm * normalLps[k]) });
  let turn = 0;
  const nextMm = () => 0.5 + 0.25 * (turn++ % 6); // another place each time, as a hand does
  put('survey document read', 300, await median(9, () => parseSurveyDocument(surveyText)), `${(surveyText.length / 1e6).toFixed(1)} MB of text, once per plan`);
  put('ring while a nadir is dragged', 1000 / 30, await median(15, () => recutRing(document, move(nextMm()))), '');
  put('root, size, landing and views after the drop', 300, await median(9, () => recutPlan(plan, document, { format: 'trinadir.landmarks/1', by: 'bench', nadirsLps: move(nextMm()) }, STAMP)), '');

  print('  what-ifs ...');
  const choice = readPlannedChoice(plan);
  const notes = [];
  if (choice) {
    const desk = makeWhatIfDesk();
    const ask = async (change) => {
      const answer = await desk.answer('bench', { planSha256: 'a'.repeat(64), planText, choice: { ...choice, ...change }, stamp: STAMP });
      if (!answer.ok) throw new Error(answer.failure.code);
      return answer.value;
    };
    const filled = async (change) => {
      for (let k = 0; k < 200 && !(await ask(change)).isFull; k++) await new Promise((resolve) => setTimeout(resolve, 50));
    };
    const firstAt = process.hrtime.bigint();
    await ask({});
    notes.push(`the very first what-if after the server's start, with the thread's own start: ${Number(process.hrtime.bigint() - firstAt) / 1e6 | 0} ms; pages ask it when they open`);
    await filled({});
    put('what-if: start', 300, await median(9, () => ask({ startMm: choice.startMm + nextMm() })), 'all 60 draws');
    put('what-if: pacing', 300, await median(9, () => ask({ paceBpm: 80 + 10 * (turn++ % 8) })), 'all 60 draws');
    let wire = 0;
    put('what-if: another contact (wire)', 300, await median(5, () => ask({ wireBiasMm: 0.1 + 0.1 * wire++ })), 'first 20 draws, new tables');
    await desk.close();
  } else notes.push('The training case has no forecast, so nothing can be asked of it.');
  return { title: 'What a person waits for after a drag or a slider (other column: the promise)', rows, notes };
}

async function median(rounds, run) {
  await run();
  const times = [];
  for (let i = 0; i < rounds; i++) {
    const start = process.hrtime.bigint();
    await run();
    times.push(Number(process.hrtime.bigint() - start) / 1e6);
  }
  times.sort((a, b) => a - b);
  return times[Math.floor(rounds / 2)];
}
