import { fail, succeed, type Result } from '../result.ts';
import { PRESSURE_EN } from '../text/pressure-en.ts';
import type { FactStamp, Reason } from '../units/fact.ts';
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
  return succeed(answerReading(readBeats(track), inputs, stamp, recording.durationS, recording.findings.map(weighFileFinding)));
}

/** What the file's reader found is said beside the answer; a line further out than the aorta makes its peaks and every pair doubtful. */
export function weighFileFinding(finding: Reason): QualityFinding {
  const isLine = finding.code === 'arterial-line';
  return { ...finding, weight: isLine ? 'doubt' : 'tell', channel: isLine ? 'aortic' : null, fromS: null, toS: null };
}

/** The answer of beats that are read already. */
export function answerReading(reading: BeatReading, inputs: PressureInputs, stamp: FactStamp, durationS: number, before: readonly QualityFinding[]): PressureAnswer {
  const { findings, line } = assessPressure(reading, inputs.line ?? null, stamp);
  const summary = summariseBeats(reading, [...before, ...findings], inputs, stamp);
  return { format: 'trinadir.pressure/1', durationS, ...summary, quality: [...before, ...findings], line };
}
