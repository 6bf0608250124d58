/**
 * What a hand in the room waits for after a click: the depth of the frames as they are marked, and the plan laid on the
 * table. The other column is the promise in ms. Medians; the slowest of twenty beside them.
 */
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';

const TITLE = 'Depth from marked frames (other column: the promise)';
const ROUNDS = 300;
const RAD = Math.PI / 180;

export const name = 'depth';

const sorted = (values) => [...values].sort((a, b) => a - b);
const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const turn = (azimuthDeg, radius) => [radius * Math.cos(azimuthDeg * RAD), radius * Math.sin(azimuthDeg * RAD), 0];

const SOD = 750;
const SID = 1100;
const PIXEL = 0.3;
const NADIRS = { R: turn(0, 12), L: turn(120, 12), N: turn(240, 12) };
const PLANE = { pointLps: [0, 0, 0], normalLps: [0, 0, 1], nadirsLps: NADIRS, tiltUncertaintyDeg: 2, nadirUncertaintyMm: { R: 1, L: 1, N: 1 } };

/** A point of the root to a pixel of the view (PS3.3 C.8.7.5), four clicks around it. */
function clicksAt(point, { primaryDeg, secondaryDeg }) {
  const [p, s] = [primaryDeg * RAD, secondaryDeg * RAD];
  const beam = [Math.sin(p) * Math.cos(s), -Math.cos(p) * Math.cos(s), Math.sin(s)];
  const right = [Math.cos(p), Math.sin(p), 0];
  const up = [-Math.sin(p) * Math.sin(s), Math.cos(p) * Math.sin(s), Math.cos(s)];
  const gain = SOD / (SOD + dot(point, beam)) / ((PIXEL * SOD) / SID);
  const at = [255.5 + dot(point, right) * gain, 255.5 - dot(point, up) * gain];
  return [[1, -1], [-1, 1], [-1, -1], [1, 1]].map(([c, r]) => [at[0] + c, at[1] + r]);
}
function makeFrame(view) {
  const side = [Math.cos(view.primaryDeg * RAD), Math.sin(view.primaryDeg * RAD), 0];
  const ends = [-1, 1].map((k) => [12 * k * side[0], 12 * k * side[1], -3]);
  const of = (point) => clicksAt(point, view);
  return {
    view, calibration: { by: 'geometry', sourceToImageMm: SID, sourceToPatientMm: SOD, pixelMm: PIXEL, pixelAt: 'detector' }, sizePx: { columns: 512, rows: 512 }, clickSdPx: null,
    marks: { cuspN: of(NADIRS.N), cuspR: of(NADIRS.R), cuspL: of(NADIRS.L), frameInflow: ends.map(of), frameAxis: null },
  };
}

export async function run({ print, root }) {
  const load = (path) => import(pathToFileURL(join(root, 'dist', path)));
  const { measureDepth } = await load('core/projection/measure-depth.js');
  const { registerTable } = await load('core/projection/register-table.js');
  const frames = [makeFrame({ primaryDeg: -10, secondaryDeg: 4 }), makeFrame({ primaryDeg: 30, secondaryDeg: -6 })];
  const plan = { basalPlane: PLANE, frameAxisLps: null, ringCentreLps: [0, 0, 0], frameInflowMm: 26 };
  const rows = [];
  const time = (what, goal, work) => {
    const times = [];
    for (let k = 0; k < ROUNDS; k++) {
      const began = performance.now();
      const answer = work();
      times.push(performance.now() - began);
      if (!answer.ok) throw new Error(`${what}: ${answer.failure.code}`);
    }
    const all = sorted(times);
    const row = { what, oursMs: all[ROUNDS >> 1], theirsMs: goal, goal: 1, note: `slowest of twenty ${all[Math.floor(ROUNDS * 0.95)].toFixed(1)} ms, the first ${times[0].toFixed(1)} ms` };
    rows.push(row);
    print?.(`  ${what} ...`);
  };
  time('depth of one frame, four clicks a point', 50, () => measureDepth(frames.slice(0, 1), plan));
  time('depth of two frames 42 degrees apart, joined', 50, () => measureDepth(frames, plan));
  time('plan laid on the table by the cusps of two views', 50, () => registerTable(frames, PLANE));
  return { title: TITLE, rows, notes: ['The page draws once more after it (a frame, 16 ms).'] };
}
