// Simulated patients whose friction world is known, through the bounded update of update-worlds.ts: makes the table of
// docs/methods/update-worlds.md.
//   node tools/measure-worlds.mjs [--patients 60] [--draws 200] [--write]      needs `npm run build`
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const PAGE = join(fileURLToPath(import.meta.url), '..', '..', 'docs', 'methods', 'update-worlds.md');
const MARKERS = ['<!-- worlds table: made by tools/measure-worlds.mjs --write -->', '<!-- end of worlds table -->'];
const from = (name) => import(`../dist/core/release/${name}.js`);
const { makeGenericFrame } = await from('frame-shape');
const { makeAnalyticParts } = await from('contact-surface');
const { REFERENCE_ROOTS, REFERENCE_ROOT_NAMES } = await from('reference-roots');
const { makeWallBasis, sizeWallGrid } = await from('wall-grid');
const { pickCell, runEnsemblePart } = await from('run-ensemble');
const { DEFAULT_CHOICE, DEFAULT_SPREAD } = await from('sample-inputs');
const { findBand, readExit } = await from('judge-verdict');
const { updateWorlds } = await from('update-worlds');
const { normalAt } = await import('../dist/core/math/random.js');

const valueOf = (name, other) => (process.argv.includes(name) ? Number(process.argv[process.argv.indexOf(name) + 1]) : other);
const PATIENTS = valueOf('--patients', 60);
const DRAWS = valueOf('--draws', 200);
const WORLDS = ['gripping', 'middle', 'slippery'];
const STARTS = [2, 4, 6];
/** Error of the depth that is read at the end, mm (one standard deviation); that of the start is the sampler's own 1 mm. */
const READ_SD = 1;
const EDGE = 15;
const frame = makeGenericFrame();
const choice = { ...DEFAULT_CHOICE, tension: 'neutral' };
const open = (v) => (Number.isFinite(v) ? v : null);

/** One row per patient and true world: what three attempts, from three starts, looked like to the room. */
function simulate() {
  return REFERENCE_ROOT_NAMES.flatMap((name, r) => {
    const root = REFERENCE_ROOTS[name];
    const plan = { frame, basis: makeWallBasis(makeAnalyticParts(root), root.narrowing, sizeWallGrid(frame.heightMm)), spread: DEFAULT_SPREAD, choice, seed: 122, startsMm: STARTS, worlds: WORLDS, withUndamped: false };
    const part = runEnsemblePart(plan, 0, DRAWS);
    const forecast = STARTS.map((_, s) => Object.fromEntries(WORLDS.map((w, k) => {
      const b = findBand(pickCell(part.movementMm, plan, s, k));
      return [w, { movementMm: { low: open(b.low), mid: open(b.mid), high: open(b.high) }, leaves: { low: readExit(b.low), mid: readExit(b.mid), high: readExit(b.high) } }];
    })));
    const truth = runEnsemblePart({ ...plan, seed: 131 }, 0, PATIENTS);
    return Array.from({ length: PATIENTS }, (_, i) => WORLDS.map((world, k) => ({
      name, world,
      motions: STARTS.map((startMm, s) => {
        const cell = (i * STARTS.length + s) * WORLDS.length + k;
        const went = truth.movementMm[cell];
        const read = Number.isFinite(went) ? startMm - (truth.depthMm[cell] + READ_SD * normalAt(177, i * 100 + s * 10 + k, r, 2.5)) : went > 0 ? EDGE : -EDGE;
        const half = 1.96 * Math.hypot(READ_SD, DEFAULT_SPREAD.startMm);
        return { worlds: forecast[s], movementMm: read, lowMm: read - half, highMm: read + half };
      }),
    }))).flat();
  });
}

const BINS = [0, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 1.0001];
function judge(rows, attempts) {
  let score = 0;
  const bins = BINS.slice(1).map(() => ({ count: 0, said: 0, true: 0 }));
  const more = { count: 0, true: 0 };
  const less = { count: 0, true: 0 };
  let least = 1;
  for (const row of rows) {
    // One attempt: from 4 mm; two: from 2 and 4 mm.
    const { weights, fit } = updateWorlds(attempts === 1 ? [row.motions[1]] : row.motions.slice(0, attempts));
    score += Math.log(weights[row.world] * WORLDS.length) / rows.length;
    for (const w of WORLDS) {
      const isTrue = w === row.world ? 1 : 0;
      const bin = bins[BINS.findIndex((edge, b) => weights[w] >= edge && weights[w] < BINS[b + 1])];
      bin.count += 1;
      bin.said += weights[w];
      bin.true += isTrue;
      least = Math.min(least, weights[w]);
      if (fit[w] !== 'alike') {
        const kind = fit[w] === 'more' ? more : less;
        kind.count += 1;
        kind.true += isTrue;
      }
    }
  }
  const share = ({ count, true: hits }) => (count === 0 ? '–' : `${(hits / count).toFixed(2)} of ${count}`);
  const reliability = bins.map((b) => (b.count < 10 ? '–' : `${(b.said / b.count).toFixed(2)} → ${(b.true / b.count).toFixed(2)} (${b.count})`));
  return `| ${attempts} | ${score.toFixed(3)} | ${share(more)} | ${share(less)} | ${least.toFixed(2)} | ${reliability.join(' | ')} |`;
}

const rows = simulate();
const header = ['attempts', 'gain over equal weights, nats', '“looks more like this”: true', '“looks less like this”: true', 'smallest weight', ...BINS.slice(1).map((edge, b) => `${BINS[b]}–${Math.min(1, edge).toFixed(1).replace('.0', '')}`)];
const table = [`${REFERENCE_ROOT_NAMES.length} roots × ${PATIENTS} patients × 3 true worlds, ${DRAWS} draws per forecast; weight said → share true (count):`, '', `| ${header.join(' | ')} |`, `|${header.map(() => '---').join('|')}|`, ...[1, 2, 3].map((n) => judge(rows, n))].join('\n');
console.log(table);
if (process.argv.includes('--write')) {
  const page = readFileSync(PAGE, 'utf8');
  const [start, end] = MARKERS.map((m) => page.indexOf(m));
  if (start < 0 || end < 0) throw new Error('The page has no place for the table.');
  writeFileSync(PAGE, `${page.slice(0, start + MARKERS[0].length)}\n${table}\n${page.slice(end)}`);
}
