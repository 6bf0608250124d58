// Measures calcium on seeded phantoms whose truth is known and prints the table of docs/methods/calcium.md.
//   node tools/measure-calcium-accuracy.mjs [first=1000] [count=80]     about 4 s per phantom; needs `npm run build`
// What the root survey would hand over (frame, wall, blood, noise, blur, junction) is the truth with small seeded errors:
// tilt 0.4 degrees and origin 0.25-0.3 mm per axis, blur 7 %, noise 5 %, blood 4 HU, junction 0.4 mm (one SD each).
// A second row of phantoms without calcium, at noise of 40 HU, gives the false volume.
import { drawPhantom } from '../dist/core/phantom/draw-phantom.js';
import { makeSeededShape } from '../dist/core/phantom/draw-seeded-shape.js';
import { makeTrueCalciumInput } from '../dist/core/phantom/calcium-input.js';
import { measureCalcium } from '../dist/core/root/measure-calcium.js';
import { makeRootFrame } from '../dist/core/root/root-frame.js';
import { normalAt } from '../dist/core/math/random.js';
import { along, completeBasis, distance, unit } from '../dist/core/math/vec3.js';

const first = Number(process.argv[2] ?? 1000);
const count = Number(process.argv[3] ?? 80);
const stamp = { by: 'accuracy script', at: '2026-03-02T08:11:00Z' };
const CUSPS = ['R', 'L', 'N'];

function disturb(input, seed, nadirLps) {
  const z = (k) => normalAt(seed, 77, k);
  const { u, v } = completeBasis(input.frame.normalLps);
  const normal = unit(along(along(input.frame.normalLps, u, 0.007 * z(1)), v, 0.007 * z(2)));
  const origin = along(along(along(input.frame.originLps, u, 0.25 * z(3)), v, 0.25 * z(4)), input.frame.normalLps, 0.3 * z(5));
  return {
    ...input, frame: makeRootFrame(origin, normal, nadirLps), blurMm: input.blurMm * (1 + 0.07 * z(0)),
    noiseHu: input.noiseHu * (1 + 0.05 * z(8)), bloodHu: input.bloodHu + 4 * z(7), junctionHeightMm: input.junctionHeightMm + 0.4 * z(6),
  };
}

const sorted = (list) => [...list].sort((a, b) => a - b);
const quantile = (list, p) => { const s = sorted(list); return s.length === 0 ? NaN : s[Math.min(s.length - 1, Math.floor(p * s.length))]; };
const rows = new Map();
const note = (name, value, truth, fact) => {
  if (!rows.has(name)) rows.set(name, []);
  rows.get(name).push({ error: value - truth, ratio: Math.abs(value / truth - 1), covered: fact ? fact.low <= truth && truth <= fact.high : null });
};
const times = [];
let [wrongCusp, found, missed, extra] = [0, 0, 0, 0];
const places = { centre: [], height: [], protrusion: [] };
for (let seed = first; seed < first + count; seed++) {
  const { shape, scan } = makeSeededShape(seed);
  const drawn = drawPhantom(shape, scan);
  const input = disturb(makeTrueCalciumInput(shape, scan, drawn, stamp), seed, drawn.truth.basalPlane.nadirsLps.R);
  const start = process.cpuUsage();
  const got = measureCalcium(input);
  const used = process.cpuUsage(start);
  times.push((used.user + used.system) / 1000);
  const t = drawn.truth.calcium;
  const inZone = t.byCuspMm3.R + t.byCuspMm3.L + t.byCuspMm3.N + t.outflowMm3;
  note(inZone >= 20 ? 'whole zone, 20 mm3 and more' : 'whole zone, less', got.volumeMm3.value, inZone, got.volumeMm3);
  for (const c of CUSPS) {
    note(t.byCuspMm3[c] >= 20 ? 'one cusp, 20 mm3 and more' : 'one cusp, less', got.byCuspMm3[c].value, t.byCuspMm3[c], got.byCuspMm3[c]);
    note('outflow tract by cusp', got.outflowByCuspMm3[c].value, t.outflowByCuspMm3[c], got.outflowByCuspMm3[c]);
  }
  note(t.outflowMm3 >= 10 ? 'outflow tract, 10 mm3 and more' : 'outflow tract, less', got.outflowMm3.value, t.outflowMm3, got.outflowMm3);
  for (const d of t.deposits) {
    const near = got.deposits.map((e) => ({ e, mm: distance(e.centreLps, d.centreLps) })).sort((a, b) => a.mm - b.mm)[0];
    const isFound = near !== undefined && near.mm < 1.6;
    note(d.volumeMm3 >= 20 ? `deposit of 20 mm3 and more (${d.place})` : 'deposit, less', isFound ? near.e.volumeMm3 : 0, d.volumeMm3, null);
    if (d.volumeMm3 >= 20) note('deposit of 20 mm3 and more (all)', isFound ? near.e.volumeMm3 : 0, d.volumeMm3, null);
    if (!isFound) { missed++; continue; }
    found++;
    if (near.e.cusp !== d.cusp) wrongCusp++;
    places.centre.push(near.mm);
    places.height.push(Math.abs(near.e.heightMm - d.heightMm));
    places.protrusion.push(Math.abs(near.e.protrusionMm - d.protrusionMm));
  }
  extra += Math.max(0, got.deposits.length - t.deposits.length);
}
let falseMm3 = 0;
const blank = Math.ceil(count / 4);
for (let seed = first; seed < first + blank; seed++) {
  const { shape, scan } = makeSeededShape(seed);
  const bare = [{ ...shape, calcium: [] }, { ...scan, noise: { ...scan.noise, sdHu: 40 } }];
  falseMm3 += measureCalcium(makeTrueCalciumInput(...bare, drawPhantom(...bare), stamp)).volumeMm3.value;
}
const percent = (v) => `${(100 * v).toFixed(1)} %`;
console.log('| answer | n | median error | 95th percentile | median error in mm3 | interval holds the truth |\n|---|---|---|---|---|---|');
for (const [name, list] of [...rows].sort(([a], [b]) => (a < b ? -1 : 1))) {
  const ratios = list.map((r) => r.ratio).filter(Number.isFinite);
  const isLarge = !name.includes('less') && name !== 'outflow tract by cusp';
  const covered = list[0].covered === null ? '' : percent(list.filter((r) => r.covered).length / list.length);
  console.log(`| ${name} | ${list.length} | ${isLarge ? percent(quantile(ratios, 0.5)) : ''} | ${isLarge ? percent(quantile(ratios, 0.95)) : ''} | ${quantile(list.map((r) => Math.abs(r.error)), 0.5).toFixed(1)} | ${covered} |`);
}
console.log(`deposits found ${found}, missed ${missed}, more than drawn ${extra}, in the wrong cusp ${wrongCusp}`);
for (const [name, list] of Object.entries(places)) console.log(`${name}: median ${quantile(list, 0.5).toFixed(2)} mm, 95th percentile ${quantile(list, 0.95).toFixed(2)} mm`);
console.log(`without calcium, noise 40 HU: mean false volume ${(falseMm3 / blank).toFixed(2)} mm3 over ${blank} phantoms`);
console.log(`CPU time of one measurement: median ${quantile(times, 0.5).toFixed(0)} ms, of the fastest tenth ${quantile(times, 0.1).toFixed(0)} ms`);
