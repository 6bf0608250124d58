/**
 * Contrast: an angiographic run of 100 frames of 512 x 512 pixels to its density ratio, regions proposed. The other column is the
 * promise in ms; processor time and memory beside it.
 */
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';

const TITLE = 'Contrast run (other column: the promise)';
const STAMP = { by: 'bench', at: '2026-03-02T08:00:00Z' };
const [SMALL, SIDE, FRAMES] = [128, 512, 100];

export const name = 'contrast';

const median = (values) => [...values].sort((a, b) => a - b)[values.length >> 1];

export async function run({ print, root }) {
  const load = (path) => import(pathToFileURL(join(root, 'dist', 'core', path)));
  const { measureContrast } = await load('angiogram/measure-contrast.js');
  const { drawContrastRun, PLAIN_CONTRAST } = await load('phantom/contrast-run.js');
  print?.('  drawing the run ...');
  const drawn = drawContrastRun({ ...PLAIN_CONTRAST, columns: SMALL, rows: SMALL, frames: FRAMES });
  const zoom = SIDE / SMALL; // each pixel as a square: as much to read, quicker to draw
  const frames = drawn.pixels.map((small) => {
    const frame = new Uint16Array(SIDE * SIDE);
    for (let r = 0; r < SIDE; r++) for (let c = 0; c < SIDE; c++) frame[r * SIDE + c] = small[Math.floor(r / zoom) * SMALL + Math.floor(c / zoom)];
    return frame;
  });
  const xa = { rows: SIDE, columns: SIDE, bits: 12, frames, frameTimesMs: drawn.frameTimesMs, isInverted: false, intensity: 'LIN', history: { isDerived: false, isSubtracted: false, isLossy: false } };
  print?.('  measuring ...');
  const [times, cpu] = [[], []];
  let [peakMb, ratio] = [0, NaN];
  for (let k = 0; k < 5; k++) {
    const [began, used] = [performance.now(), process.cpuUsage()];
    const answer = measureContrast(xa, {}, STAMP);
    times.push(performance.now() - began);
    cpu.push(process.cpuUsage(used).user / 1000);
    peakMb = Math.max(peakMb, process.memoryUsage().rss / 2 ** 20);
    if (!answer.ok) throw new Error(answer.failure.code);
    ratio = answer.value.aorta.area.value === null ? NaN : answer.value.outflow.area.value / answer.value.aorta.area.value;
  }
  return {
    title: TITLE,
    rows: [{ what: `${FRAMES} frames of ${SIDE} x ${SIDE}, regions proposed: ratio ${ratio.toFixed(2)}`, oursMs: median(times), theirsMs: 3000, goal: 1, oursPeakMb: peakMb, limitMb: 600, note: `the first ${times[0].toFixed(0)} ms; processor ${median(cpu).toFixed(0)} ms` }],
    notes: ['Reading and decoding the file come to it. The frames alone take 50 MB.'],
  };
}
