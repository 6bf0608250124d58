/**
 * The release forecast and what follows a survey, against the promises of the issue: 1,000 releases each with its own
 * geometry on 2 threads (2 s), a what-if (0.3 s), sizing + landing + views (0.2 s). The other column is the promise in
 * ms, so that a ratio above 1 is a broken one. Medians of several; peak memory of this process.
 */
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { spawnSync } from 'node:child_process';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const ROOT = dirname(dirname(fileURLToPath(import.meta.url)));
const PROGRAM = join(ROOT, 'bin', 'trinadir.mjs');
const STAMP = { by: 'bench', at: '2026-03-02T08:11:00Z' };
const RELEASES = 1000;

export const name = 'release';

export async function run({ print }) {
  const folder = mkdtempSync(join(tmpdir(), 'trinadir-bench-release-'));
  try {
    print('  drawing and planning the training case ...');
    const done = spawnSync(process.execPath, [PROGRAM, 'demo', '--once', '--quiet', '--out', folder], { encoding: 'utf8' });
    if (done.status !== 0) return { title: 'Release', rows: [], notes: [`The training case could not be planned: ${done.stderr.slice(-200)}`] };
    return await measure(JSON.parse(readFileSync(join(folder, 'plan', 'plan.json'), 'utf8')), print);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

const dist = (path) => import(join(ROOT, 'dist', path));

async function measure(plan, print) {
  const { completePlan } = await dist('core/case/complete-plan.js');
  const { askFromPlan } = await dist('core/release/ask-from-plan.js');
  const { askRelease } = await dist('core/release/ask-release.js');
  const { planEnsemble } = await dist('core/release/forecast-release.js');
  const { compareWhatIf, makeWhatIfBase } = await dist('core/release/what-if.js');
  const { runReleaseWork } = await dist('host/jobs/run-ensemble.js');
  const device = plan.size.table.devices.find((d) => d.id === plan.landing.device);
  const size = device.sizes.find((s) => s.label === plan.landing.size);
  const about = { spacingMm: plan.scan.spacingMm, findingCodes: [], messageCodes: [], coaxialityDeg: null, patient: plan.patient ?? null };
  const asked = askFromPlan(plan.root, device, size, about, { startMm: plan.landing.startMm ?? 3, sweepMm: [], releases: RELEASES }, STAMP);
  if (!asked.ok) return { title: 'Release', rows: [], notes: [`No question can be asked: ${asked.failure.code}`] };
  const question = asked.value;
  // The usual 46 rings, as the reference prototype ran them; a wall that needs it gets 91 (the rows after).
  const coarse = askRelease(plan.root, device.kind, size, { sliceMm: 0.6, phaseDifferenceMm: null, hasMetal: false, anatomy: 'three cusps', coaxialityDeg: null },
    { startMm: question.startMm, sweepMm: [], releases: RELEASES, seed: 1, choice: question.choice }, STAMP);
  const sweep = { ...question, sweepMm: Array.from({ length: 15 }, (_, i) => i - 2) };
  const rows = [];
  const put = (what, promisedMs, oursMs, note) => rows.push({ what, oursMs, theirsMs: promisedMs, goal: 1, note, oursPeakMb: process.resourceUsage().maxRSS / 1024 });
  print('  ensembles ...');
  const work = (q, workers) => () => runReleaseWork({ plan: planEnsemble(q), releases: RELEASES, whatIfs: [], base: q }, workers);
  if (coarse.ok) put('1,000 releases, one start, 2 threads, 46 rings', 2000, await median(5, work(coarse.value, 2)), '');
  put('1,000 releases, one start, 2 threads', 2000, await median(5, work(question, 2)), `${question.frame.ringMm.length} rings`);
  put('1,000 releases, one start, 1 thread', 2000, await median(3, work(question, 1)), 'promise is for 2 threads');
  put('1,000 releases, 15 starts, 2 threads', 2000, await median(3, work(sweep, 2)), 'every start on the same tables');
  print('  what-ifs ...');
  const base = makeWhatIfBase(question);
  put('what-if: start, pace or tension', 300, await median(9, () => compareWhatIf(base, { ...question, startMm: question.startMm + 1 })), 'kept tables');
  put('what-if: new contact (pre-dilated)', 300, await median(9, () => compareWhatIf(base, { ...question, choice: { ...question.choice, isPredilated: !question.choice.isPredilated } })), 'new tables');
  print('  size, landing, views ...');
  put('size + landing + views', 200, await median(15, () => completePlan(plan.root, { devices: null, rules: null, patient: plan.patient ?? null, patientPosition: 'HFS' })), '');
  return { title: 'Release forecast and what follows a survey (other column: the promise)', rows, notes: [] };
}

async function median(rounds, run) {
  await run(); // warm-up: code is compiled and threads' modules are in the file cache
  const times = [];
  for (let i = 0; i < rounds; i++) {
    const start = process.hrtime.bigint();
    await run();
    times.push(Number(process.hrtime.bigint() - start) / 1e6);
  }
  times.sort((a, b) => a - b);
  return times[Math.floor(rounds / 2)];
}
