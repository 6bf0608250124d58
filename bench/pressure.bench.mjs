/**
 * Pressures: an hour of two channels at 250 samples a second as one reading, and a beat that is answered while it is recorded.
 * The other column is the promise in ms. Medians of processor-bound work; the first run, with nothing warm, beside it.
 */
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';

const TITLE = 'Pressures (other column: the promise)';
const HOUR_S = 3600;
const STAMP = { by: 'bench', at: '2026-03-02T08:00:00Z' };

export const name = 'pressure';

const median = (values) => [...values].sort((a, b) => a - b)[values.length >> 1];

export async function run({ print, root }) {
  const load = (path) => import(pathToFileURL(join(root, 'dist', 'core', path)));
  const { measurePressure } = await load('haemodynamics/measure-pressure.js');
  const { openLivePressure } = await load('haemodynamics/live-pressure.js');
  const { simulateCirculation, PLAIN_CIRCULATION } = await load('phantom/simulate-circulation.js');
  const { drawRecording, GOOD_LINE } = await load('phantom/draw-line.js');
  const part = drawRecording(simulateCirculation({ ...PLAIN_CIRCULATION, leakAreaCm2: 0.1 }, 120, 250, 1), { aortic: GOOD_LINE, ventricular: GOOD_LINE }, 1);
  const repeat = (samples, times) => {
    const whole = new Float32Array(samples.length * times);
    for (let k = 0; k < times; k++) whole.set(samples, k * samples.length);
    return whole;
  };
  const hour = { ...part, durationS: HOUR_S, channels: part.channels.map((c) => ({ ...c, samples: repeat(c.samples, HOUR_S / 120) })) };
  const rows = [];
  print?.('  an hour of two channels ...');
  const times = [];
  const cpu = [];
  let beats = 0;
  for (let k = 0; k < 5; k++) {
    const [began, used] = [performance.now(), process.cpuUsage()];
    const answer = measurePressure(hour, {}, STAMP);
    times.push(performance.now() - began);
    cpu.push(process.cpuUsage(used).user / 1000);
    if (!answer.ok) throw new Error(answer.failure.code);
    beats = answer.value.beats.length;
  }
  rows.push({ what: `an hour, two channels, 250 a second: ${beats} beats`, oursMs: median(times), theirsMs: 1000, goal: 1, note: `the first ${times[0].toFixed(0)} ms; processor ${median(cpu).toFixed(0)} ms` });
  print?.('  beats while they are recorded ...');
  const live = openLivePressure({ channels: part.channels, samplesPerS: 250, startS: 0 }, {});
  const answered = [];
  const quiet = [];
  const count = part.channels[0].samples.length;
  for (let i = 0; i < count; i += 10) {
    const samples = part.channels.map((c) => c.samples.slice(i, i + 10));
    const began = performance.now();
    const found = live.append(samples, STAMP);
    (found.length > 0 ? answered : quiet).push(performance.now() - began);
  }
  const sorted = [...answered].sort((a, b) => a - b);
  rows.push({ what: 'samples that end a beat to its answer, window of 30 s', oursMs: median(answered), theirsMs: 50, goal: 1, note: `slowest of twenty ${sorted[Math.floor(sorted.length * 0.95)].toFixed(0)} ms; samples that end none ${median(quiet).toFixed(2)} ms` });
  return { title: TITLE, rows, notes: ['A beat is known when the next one has begun: the answer comes 0.2 to 0.4 s after that upstroke, of which the row above is the work.'] };
}
