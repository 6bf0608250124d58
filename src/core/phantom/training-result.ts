import type { Recording } from '../haemodynamics/recording-types.ts';
import { uniformAt } from '../math/random.ts';
import type { CirculationShape, CirculationTruth, LineShape } from './circulation-types.ts';
import { PLAIN_CONTRAST, type ContrastShape } from './contrast-run.ts';
import { drawBeats, drawEcg } from './draw-ecg.ts';
import { drawRecording, GOOD_LINE } from './draw-line.ts';
import { PLAIN_CIRCULATION, simulateCirculation } from './simulate-circulation.ts';

/** The training case after release: one heart with a mild leak beside the frame. Every number is invented [P]. */
export const TRAINING_RATE_PER_MIN = 72;
const BEFORE: CirculationShape = { ...PLAIN_CIRCULATION, ratePerMin: 68, valveAreaCm2: 0.75, elastanceMax: 3.6, resistance: 1.15 };
const AFTER: CirculationShape = { ...PLAIN_CIRCULATION, ratePerMin: TRAINING_RATE_PER_MIN, valveAreaCm2: 2.4, leakAreaCm2: 0.03, resistance: 1.2 };
const PRESSURE_S = 30;
const PRESSURE_PER_S = 250;
/** With a fast flush at its begin, so that the response of the line is known. */
const makeLine = (flushedTillS: number): LineShape => ({ ...GOOD_LINE, flushes: [[0.2, flushedTillS]] });

export interface TrainingPressures {
  readonly recording: Recording;
  readonly truth: CirculationTruth;
}
/** Aortic and ventricular pressure with an ECG, before any balloon and after release, as a good line shows them. Same seed, same recording. */
export function drawTrainingPressures(seed: number): { readonly before: TrainingPressures; readonly after: TrainingPressures } {
  const draw = (shape: CirculationShape, k: number, line: LineShape): TrainingPressures => {
    const truth = simulateCirculation(shape, PRESSURE_S, PRESSURE_PER_S, seed + k);
    return { truth, recording: drawRecording(truth, { aortic: line, ventricular: line, withEcg: true }, seed + k) };
  };
  return { before: draw(BEFORE, 1, makeLine(1.3)), after: draw(AFTER, 2, makeLine(1.1)) };
}

/** Intervals that were drawn: both grew. That it is a left bundle branch block, a person says. */
export const TRAINING_ECG = { before: { prMs: 178, qrsMs: 92, ratePerMin: 68 }, after: { prMs: 226, qrsMs: 146, ratePerMin: TRAINING_RATE_PER_MIN } } as const;
export function drawTrainingEcg(seed: number, which: keyof typeof TRAINING_ECG): Recording {
  const { prMs, qrsMs, ratePerMin } = TRAINING_ECG[which];
  const at = seed + (which === 'before' ? 11 : 12);
  const rrS = Array.from({ length: 16 }, (_, k) => (60 / ratePerMin) * (1 + 0.04 * (uniformAt(at, k, 3) - 0.5)));
  const beats = drawBeats(rrS, prMs, qrsMs);
  return drawEcg({ beats, durationS: Math.ceil(beats.at(-1)!.qrsOnS + 1), samplesPerS: 500, seed: at, noiseMv: 0.01, humMv: 0.008, wanderMv: 0.1 });
}
/** An aortogram through a root whose valve leaks a little; small, so that it is made and measured in seconds. */
export function makeTrainingContrast(seed: number): ContrastShape {
  return { ...PLAIN_CONTRAST, columns: 256, rows: 256, frames: 75, quanta: 2500, ratePerMin: TRAINING_RATE_PER_MIN, regurgitantFraction: 0.1, seed: seed + 21 };
}
