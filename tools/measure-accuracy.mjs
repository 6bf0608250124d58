// Surveys seeded phantoms whose truth is known and makes the accuracy table of docs/methods/root-survey.md.
//   node tools/measure-accuracy.mjs [--seeds 1:100] [--workers 2] [--json] [--write]     needs `npm run build`
// Every seed counts. A phantom that is refused and a quantity that is not answered are counted apart, never left out.
// --write puts the table between the markers of the page; the answer does not depend on the number of workers.
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parentPort, Worker, workerData } from 'node:worker_threads';

const SELF = fileURLToPath(import.meta.url);
const PAGE = join(SELF, '..', '..', 'docs', 'methods', 'root-survey.md');
const WORK = 'survey seeded phantoms';
const MARKERS = ['<!-- accuracy table: made by tools/measure-accuracy.mjs --write -->', '<!-- end of accuracy table -->'];
const STAMP = { by: 'accuracy script', at: '2026-03-02T08:11:00Z' };
const CUSPS = ['R', 'L', 'N'];
/** A found deposit belongs to the nearest true one, if that is no farther than this. */
const DEPOSIT_REACH_MM = 3;
/** Nadirs farther off than this carry another cusp's name: the nadirs of a ring lie 17 mm apart and more. */
const WRONG_NAME_MM = 8;
const LARGE_DEPOSIT_MM3 = 20;
const COVERAGE = { low: 0.9, high: 0.99 };
const MAX_REFUSED_SHARE = 0.05;

/** Rows of the table in their order. `goal` bounds the median, twice the goal the 95th percentile. `isDistance`: errors have no sign. */
const ROWS = [
  { key: 'area', label: 'basal ring, area', unit: '%', goal: 1.5 },
  { key: 'perimeter', label: 'basal ring, perimeter', unit: '%', goal: 1 },
  { key: 'min', label: 'basal ring, smallest diameter', unit: 'mm', goal: 0.4 },
  { key: 'max', label: 'basal ring, largest diameter', unit: 'mm', goal: 0.4 },
  { key: 'tilt', label: 'tilt of the basal plane', unit: 'deg', goal: 1, isDistance: true },
  { key: 'nadir', label: 'nadirs, distance', unit: 'mm', goal: 0.8, isDistance: true },
  { key: 'left', label: 'left coronary height', unit: 'mm', goal: 0.5 },
  { key: 'right', label: 'right coronary height', unit: 'mm', goal: 0.5 },
  { key: 'junctionHeight', label: 'sinotubular junction, height', unit: 'mm', goal: 0.5 },
  { key: 'junctionDiameter', label: 'sinotubular junction, diameter', unit: 'mm', goal: 0.5 },
  { key: 'deposit', label: `calcium deposits of ${LARGE_DEPOSIT_MM3} mm³ and more`, unit: '%', goal: 10, hasNoInterval: true },
  { key: 'calciumLarge', label: 'calcium, whole zone of 20 mm³ and more', unit: '%' },
  { key: 'calciumSmall', label: 'calcium, whole zone of less', unit: 'mm³' },
  { key: 'outflow', label: 'outflow tract, area at −5 mm', unit: '%' },
  { key: 'below', label: 'levels −12 to −1 mm, area', unit: '%' },
  { key: 'low', label: 'levels 1 to 5 mm, area', unit: '%' },
  { key: 'high', label: 'levels 6 mm to the junction, area', unit: '%' },
  { key: 'above', label: 'levels above the junction, area', unit: '%' },
  { key: 'width', label: 'sinus widths', unit: 'mm' },
  { key: 'sinusHeight', label: 'sinus heights', unit: 'mm' },
  { key: 'ascending', label: 'ascending aorta, diameter', unit: 'mm' },
  { key: 'septum', label: 'septum inside the ring', unit: 'mm' },
  { key: 'leaflet', label: 'leaflet lengths', unit: 'mm' },
  { key: 'angulation', label: 'angulation', unit: 'deg' },
];

const distance = (p, q) => Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]);

/** Errors of one survey: [key, error or null when not answered, covered or null when there is no interval]. */
export function compareWithTruth(root, truth) {
  const out = [];
  const compareFact = (key, fact, wanted, isRelative = false) => {
    if (fact?.value === null || fact?.value === undefined) out.push([key, null, null]);
    else out.push([key, isRelative ? 100 * (fact.value / wanted - 1) : fact.value - wanted, fact.low <= wanted && wanted <= fact.high]);
  };
  const { basalPlane: plane, basalRing: ring } = root;
  const t = truth.basalPlane;
  const cos = plane.normalLps[0] * t.normalLps[0] + plane.normalLps[1] * t.normalLps[1] + plane.normalLps[2] * t.normalLps[2];
  const tiltDeg = (Math.acos(Math.max(-1, Math.min(1, cos))) * 180) / Math.PI;
  out.push(['tilt', tiltDeg, tiltDeg <= plane.tiltUncertaintyDeg]);
  for (const c of CUSPS) {
    const mm = distance(plane.nadirsLps[c], t.nadirsLps[c]);
    out.push(['nadir', mm, mm <= plane.nadirUncertaintyMm[c]]);
  }
  compareFact('area', ring.areaMm2, truth.basalRing.areaMm2, true);
  compareFact('perimeter', ring.perimeterMm, truth.basalRing.perimeterMm, true);
  compareFact('min', ring.minDiameterMm, truth.basalRing.minDiameterMm);
  compareFact('max', ring.maxDiameterMm, truth.basalRing.maxDiameterMm);
  for (const side of ['left', 'right']) {
    if (truth.coronaries[side]) compareFact(side, root.coronaries[side]?.heightMm, truth.coronaries[side].centreHeightMm);
  }
  compareFact('junctionHeight', root.sinotubularJunction.heightMm, truth.sinotubularJunction.heightMm);
  compareFact('junctionDiameter', root.sinotubularJunction.diameterMm, truth.sinotubularJunction.diameterMm);
  compareCalcium(root.calcium, truth.calcium, out, compareFact);
  compareFact('outflow', root.outflowTract.areaMm2, truth.outflowTract.areaMm2, true);
  // Levels that the survey does not give (the wall is lost lower than the truth goes) are counted as not answered.
  for (const level of truth.levels) {
    const h = level.heightMm;
    if (h === 0) continue;
    const key = h < 0 ? 'below' : h <= 5 ? 'low' : h <= truth.sinotubularJunction.heightMm ? 'high' : 'above';
    compareFact(key, root.levels.find((l) => l.heightMm === h)?.areaMm2, level.areaMm2, true);
  }
  for (const c of CUSPS) {
    compareFact('width', root.sinuses.widthMm[c], truth.sinuses.widthMm[c]);
    compareFact('sinusHeight', root.sinuses.heightMm[c], truth.sinuses.heightMm[c]);
    compareFact('leaflet', root.leaflets[c]?.lengthMm, truth.leaflets[c].lengthMm);
  }
  compareFact('ascending', root.ascendingAorta.diameterMm, truth.ascendingAorta.diameterMm);
  compareFact('septum', root.septum.bulgeMm, truth.septum.insideRingMm);
  compareFact('angulation', root.angulationDeg, truth.angulationDeg);
  return out;
}

function compareCalcium(calcium, truth, out, compareFact) {
  const zoneMm3 = truth.byCuspMm3.R + truth.byCuspMm3.L + truth.byCuspMm3.N + truth.outflowMm3;
  const isLarge = zoneMm3 >= LARGE_DEPOSIT_MM3;
  compareFact(isLarge ? 'calciumLarge' : 'calciumSmall', calcium?.volumeMm3, zoneMm3, isLarge);
  const foundMm3 = truth.deposits.map(() => 0);
  for (const d of calcium?.deposits ?? []) {
    const mm = truth.deposits.map((t) => distance(t.centreLps, d.centreLps));
    const nearest = mm.indexOf(Math.min(...mm));
    if (nearest >= 0 && mm[nearest] <= DEPOSIT_REACH_MM) foundMm3[nearest] += d.volumeMm3;
  }
  truth.deposits.forEach((t, i) => {
    if (t.volumeMm3 >= LARGE_DEPOSIT_MM3) out.push(['deposit', 100 * (foundMm3[i] / t.volumeMm3 - 1), null]);
  });
}

async function serve() {
  const { drawPhantom } = await import('../dist/core/phantom/draw-phantom.js');
  const { makeSeededShape } = await import('../dist/core/phantom/draw-seeded-shape.js');
  const { surveyRoot } = await import('../dist/core/root/survey-root.js');
  parentPort.on('message', (seed) => {
    const { shape, scan } = makeSeededShape(seed);
    const { volume, truth } = drawPhantom(shape, scan);
    const start = process.hrtime.bigint();
    const answer = surveyRoot(volume, { stamp: STAMP, doubts: [] });
    const seconds = Number(process.hrtime.bigint() - start) / 1e9;
    if (!answer.ok) return parentPort.postMessage({ seed, seconds, refused: answer.failure.code, evidence: answer.failure.evidence });
    const { root, messages } = answer.value;
    const off = Math.max(...CUSPS.map((c) => distance(root.basalPlane.nadirsLps[c], truth.basalPlane.nadirsLps[c])));
    parentPort.postMessage({ seed, seconds, isMisnamed: off > WRONG_NAME_MM, messages: messages.map((m) => m.code), errors: compareWithTruth(root, truth) });
  });
}

/** One worker takes the next seed as soon as it is free; results are put in order of seed. */
function surveyAll(seeds, workers) {
  const waiting = [...seeds];
  const results = [];
  return new Promise((resolve, reject) => {
    for (let w = 0; w < Math.min(workers, seeds.length); w++) {
      const worker = new Worker(SELF, { workerData: WORK });
      const next = () => (waiting.length > 0 ? worker.postMessage(waiting.shift()) : worker.terminate());
      worker.on('error', reject);
      worker.on('message', (result) => {
        results.push(result);
        process.stderr.write(`${describeResult(result)}\n`);
        if (results.length === seeds.length) resolve(results.sort((a, b) => a.seed - b.seed));
        next();
      });
      next();
    }
  });
}

function describeResult(r) {
  const head = `seed ${r.seed} (${r.seconds.toFixed(1)} s)`;
  if (r.refused) return `${head} refused ${r.refused} ${JSON.stringify(r.evidence ?? {})}`;
  const of = (key) => r.errors.filter((e) => e[0] === key).map((e) => (e[1] === null ? '-' : e[1].toFixed(2))).join(' ');
  const keys = ['area', 'tilt', 'nadir', 'left', 'right', 'junctionHeight'];
  return `${head} ${keys.map((k) => `${k} ${of(k)}`).join(', ')}${r.isMisnamed ? ' MISNAMED' : ''} ${r.messages.join(' ')}`;
}

/** Nearest-rank quantile: the smallest value that at least this share does not exceed. */
const quantile = (sorted, share) => sorted[Math.max(0, Math.ceil(share * sorted.length) - 1)];

export function summarizeErrors(results) {
  const all = results.flatMap((r) => r.errors ?? []);
  return ROWS.map((row) => {
    const mine = all.filter((e) => e[0] === row.key);
    const answered = mine.filter((e) => e[1] !== null);
    const sizes = answered.map((e) => Math.abs(e[1])).sort((a, b) => a - b);
    const intervals = answered.filter((e) => e[2] !== null);
    const [median, p95] = [quantile(sizes, 0.5), quantile(sizes, 0.95)];
    const coverage = intervals.length > 0 ? intervals.filter((e) => e[2]).length / intervals.length : null;
    const misses = [];
    if (row.goal !== undefined && !(median <= row.goal)) misses.push('median');
    if (row.goal !== undefined && !(p95 <= 2 * row.goal)) misses.push('95th percentile');
    if (!row.hasNoInterval && !(coverage >= COVERAGE.low && coverage <= COVERAGE.high)) misses.push('coverage');
    return {
      ...row, n: answered.length, unanswered: mine.length - answered.length, median, p95,
      mean: row.isDistance || answered.length === 0 ? null : answered.reduce((sum, e) => sum + e[1], 0) / answered.length, coverage, misses,
    };
  });
}

function countRefusals(results) {
  const byCode = {};
  for (const r of results) if (r.refused) byCode[r.refused] = (byCode[r.refused] ?? 0) + 1;
  return byCode;
}

const show = (v) => (v === null || v === undefined ? '–' : v.toFixed(2).replace('-', '−'));

export function drawAccuracyTable(seeds, results, rows) {
  const byCode = countRefusals(results);
  const refused = results.filter((r) => r.refused).length;
  const codes = Object.entries(byCode).map(([code, n]) => `${n} ${code}`).join(', ');
  const wrong = results.filter((r) => r.isMisnamed).length;
  const isFew = refused <= MAX_REFUSED_SHARE * results.length;
  return [
    `Seeds ${seeds[0]} to ${seeds[seeds.length - 1]}, ${results.length} phantoms, none left out. Refused as a whole: ${refused}${codes ? ` (${codes})` : ''}; goal at most ${100 * MAX_REFUSED_SHARE} %: ${isFew ? 'met' : 'not met'}. ` +
      `A nadir more than ${WRONG_NAME_MM} mm off (wrong name or wrong place): ${wrong}.`,
    '',
    '| quantity | unit | n | not answered | median error | 95th percentile | mean error | coverage | goal (median / 95th) | met |',
    '|---|---|---|---|---|---|---|---|---|---|',
    ...rows.map((r) => {
      const goal = r.goal === undefined ? '–' : `${r.goal} / ${2 * r.goal}`;
      const coverage = r.coverage === null ? '–' : `${(100 * r.coverage).toFixed(1)} %`;
      return `| ${r.label} | ${r.unit} | ${r.n} | ${r.unanswered} | ${show(r.median)} | ${show(r.p95)} | ${show(r.mean)} | ${coverage} | ${goal} | ${r.misses.length === 0 ? 'yes' : `no: ${r.misses.join(', ')}`} |`;
    }),
  ].join('\n');
}

function writePage(table) {
  const text = readFileSync(PAGE, 'utf8');
  const [start, end] = MARKERS.map((m) => text.indexOf(m));
  if (start < 0 || end < start) throw new Error(`The markers of the table are missing in ${PAGE}.`);
  writeFileSync(PAGE, `${text.slice(0, start + MARKERS[0].length)}\n${table}\n${text.slice(end)}`);
}

function readOption(name, preset) {
  const at = process.argv.indexOf(`--${name}`);
  return at < 0 ? preset : process.argv[at + 1];
}

async function main() {
  const [first, last = first] = readOption('seeds', '1:100').split(':').map(Number);
  const workers = Number(readOption('workers', '2'));
  if (![first, last, workers].every(Number.isSafeInteger) || last < first || workers < 1) {
    console.error('Usage: node tools/measure-accuracy.mjs [--seeds 1:100] [--workers 2] [--json] [--write]');
    process.exitCode = 2;
    return;
  }
  const seeds = Array.from({ length: last - first + 1 }, (_, i) => first + i);
  const results = await surveyAll(seeds, workers);
  const rows = summarizeErrors(results);
  const table = drawAccuracyTable(seeds, results, rows);
  if (process.argv.includes('--json')) console.log(JSON.stringify({ seeds: [first, last], refusals: countRefusals(results), rows, results }, null, 1));
  else console.log(table);
  if (process.argv.includes('--write')) writePage(table);
}

// Imported by its test, this file only gives its functions.
if (workerData === WORK) await serve();
else if (process.argv[1] === SELF) await main();
