import { fail, succeed, type Result } from '../result.ts';
import { PRESSURE_EN } from '../text/pressure-en.ts';
import type { FactStamp } from '../units/fact.ts';
import { assessPressure } from './assess-pressure.ts';
import type { PressureAnswer, PressureInputs, QualityFinding } from './pressure-types.ts';
import { readBeats, type BeatReading } from './read-beats.ts';
import { readTrack } from './read-track.ts';
import type { Recording } from './recording-types.ts';
import { summariseBeats } from './summarise-beats.ts';

export type PressureFailureCode = 'no-pressure-channel';

/**
 * Beats, pressures, gradients, leak indices, quality and rhythm of a recording.
 *
 * Units     mmHg, s, 1/min; every number a Fact with its 95 % interval
 * Equation  docs/methods/pressure.md
 * Fails     no-pressure-channel; a pressure without beats gives an answer whose facts are refused
 * Source    checks HD-01 to HD-25; job.md D45
 */
export function measurePressure(recording: Recording, inputs: PressureInputs, stamp: FactStamp): Result<PressureAnswer, PressureFailureCode> {
  const track = readTrack(recording);
  if (!track.aortic && !track.ventricular) {
    return fail('no-pressure-channel', PRESSURE_EN['no-pressure-channel'], PRESSURE_EN['no-pressure-channel-next'], { channels: recording.channels.length });
  }
  const fromFile: readonly QualityFinding[] = recording.findings.map((f) => ({ ...f, weight: 'tell', channel: null, fromS: null, toS: null }));
  return succeed(answerReading(readBeats(track), inputs, stamp, recording.durationS, fromFile));
}

/** The answer of beats that are read already. */
export function answerReading(reading: BeatReading, inputs: PressureInputs, stamp: FactStamp, durationS: number, before: readonly QualityFinding[]): PressureAnswer {
  const { findings, line } = assessPressure(reading, stamp);
  const summary = summariseBeats(reading, findings, inputs, stamp);
  return { format: 'trinadir.pressure/1', durationS, ...summary, quality: [...before, ...findings], line };
}
