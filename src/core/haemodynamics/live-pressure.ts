import type { FactStamp, Reason } from '../units/fact.ts';
import { detectPulses, preparePressure } from './detect-pulses.ts';
import { answerReading, weighFileFinding } from './measure-pressure.ts';
import type { BeatFacts, PressureAnswer, PressureInputs } from './pressure-types.ts';
import { readBeats } from './read-beats.ts';
import { readTrack } from './read-track.ts';
import type { Channel } from './recording-types.ts';

/** The channels of a stream; samples follow in the same order. */
export interface LiveHead {
  readonly channels: readonly Pick<Channel, 'label' | 'kind' | 'unit'>[];
  readonly samplesPerS: number;
  /** Of the first sample, s. */
  readonly startS: number;
  /** Of the stream's header; those that make a number doubtful stay in every answer. */
  readonly findings?: readonly Reason[];
}
/** One beat as soon as the next one has begun, with what the last half minute says. */
export interface LiveBeat {
  readonly format: 'trinadir.pressure-beat/1';
  readonly beat: BeatFacts;
  /** Over the beats of the last half minute. */
  readonly over: Pick<PressureAnswer, 'durationS' | 'aortic' | 'ventricular' | 'gradients' | 'leak' | 'rhythm' | 'quality' | 'line'>;
}
export interface LivePressure {
  /** Samples that follow the last ones, one array for each channel, all of one length; NaN where one is missing. */
  append(samples: readonly Float32Array[], stamp: FactStamp): readonly LiveBeat[];
}

const WINDOW_S = 30;
/** A pulse is looked for in the newest seconds; only a new one starts a reading. */
const TAIL_S = 5;
/** The upstroke and what follows it must be there before its foot ends a beat. */
const AFTER_FOOT_S = 0.18;

/**
 * A pressure that is read while it is recorded: the same reading as of a whole recording, over the last half minute, each time
 * a new beat has begun. Holds that half minute, nothing else; the same samples cut elsewhere give the same beats.
 *
 * Units     as Recording
 * Fails     never: a stream without a pressure channel gives no beats
 */
export function openLivePressure(head: LiveHead, inputs: PressureInputs): LivePressure {
  const { samplesPerS, startS } = head;
  const lasting = (head.findings ?? []).map(weighFileFinding).filter((f) => f.weight === 'doubt');
  const window = Math.round(WINDOW_S * samplesPerS);
  const buffers = head.channels.map(() => new Float32Array(2 * window));
  let [length, dropped] = [0, 0];
  /** Foot after the last answered beat, s; and samples seen when last looked. */
  let [answeredS, looked] = [-Infinity, 0];
  const lead = ['aortic', 'ventricular'].map((kind) => head.channels.findIndex((c) => c.kind === kind && c.unit === 'mm[Hg]')).find((k) => k >= 0) ?? -1;

  const push = (samples: readonly Float32Array[], from: number, to: number): void => {
    if (length + to - from > 2 * window) {
      const gone = length - window;
      for (const b of buffers) b.copyWithin(0, gone, length);
      [length, dropped] = [window, dropped + gone];
    }
    for (const [k, b] of buffers.entries()) b.set(samples[k]!.subarray(from, to), length);
    length += to - from;
  };
  const hasNewPulse = (): boolean => {
    // The aorta may be dead while the ventricle beats: each pressure is asked.
    const tail = Math.min(length, Math.round(TAIL_S * samplesPerS));
    return head.channels.some((c, k) => {
      if ((c.kind !== 'aortic' && c.kind !== 'ventricular') || c.unit !== 'mm[Hg]') return false;
      const pulses = detectPulses(preparePressure(new Float64Array(buffers[k]!.subarray(length - tail, length)), samplesPerS));
      const ready = pulses.filter((p) => p.steepAt + AFTER_FOOT_S * samplesPerS <= tail).at(-1);
      return ready !== undefined && startS + (dropped + length - tail + ready.footAt) / samplesPerS > answeredS + 0.2;
    });
  };
  const answer = (stamp: FactStamp): LiveBeat[] => {
    const from = Math.max(0, length - window);
    const at = startS + (dropped + from) / samplesPerS;
    const channels: Channel[] = head.channels.map((c, k) => ({ ...c, samplesPerS, startS: at, samples: buffers[k]!.subarray(from, length) }));
    const track = readTrack({ channels });
    if (!track.aortic && !track.ventricular) return [];
    const reading = readBeats(track);
    const endS = at + (length - from) / samplesPerS - AFTER_FOOT_S;
    const isNew = reading.beats.map((b) => b.atS >= answeredS - 0.08 && b.atS + b.lengthS <= endS);
    if (!isNew.includes(true)) return [];
    const { beats, durationS, aortic, ventricular, gradients, leak, rhythm, quality, line } = answerReading(reading, inputs, stamp, (length - from) / samplesPerS, lasting);
    const over = { durationS, aortic, ventricular, gradients, leak, rhythm, quality, line };
    const last = reading.beats.filter((_, k) => isNew[k]).at(-1)!;
    answeredS = last.atS + last.lengthS;
    return beats.filter((_, k) => isNew[k]).map((beat) => ({ format: 'trinadir.pressure-beat/1' as const, beat, over }));
  };
  return {
    append(samples, stamp) {
      if (lead < 0 || samples.length !== buffers.length) return [];
      const found: LiveBeat[] = [];
      const count = samples[0]!.length;
      // Large parts are taken in steps, so that how they were cut does not matter.
      const step = Math.max(1, Math.round(0.1 * samplesPerS));
      for (let i = 0; i < count; ) {
        const room = step - ((dropped + length) % step);
        const to = Math.min(count, i + room);
        push(samples, i, to);
        i = to;
        if ((dropped + length) % step !== 0 || dropped + length === looked) continue;
        looked = dropped + length;
        if (hasNewPulse()) found.push(...answer(stamp));
      }
      return found;
    },
  };
}
