import type { Fact, Reason } from '../units/fact.ts';

/** Channels that a pressure answer speaks of. */
export type PressureChannel = 'aortic' | 'ventricular' | 'ecg';

/** Beat classes. Only `counted` beats enter a summary. */
export type BeatClass = 'counted' | 'premature' | 'after-premature' | 'paced-fast' | 'disturbed' | 'partial';

/**
 * One beat as numbers, before it becomes facts. NaN: not measured. Pressures in mmHg, times in s.
 * A beat runs from its upstroke foot to the next one.
 */
export interface BeatMeasure {
  /** Foot of the upstroke, from the recording's start. */
  readonly atS: number;
  /** To the next foot. */
  readonly lengthS: number;
  readonly kind: BeatClass;
  /** R peak that belongs to it, when an ECG is there. */
  readonly rAtS: number;
  readonly systolic: number;
  readonly diastolic: number;
  readonly mean: number;
  /** Aortic pressure in the incisura, and how far the pressure rises after it. */
  readonly notch: number;
  readonly notchProminence: number;
  readonly notchAtS: number;
  /** Exponential fall of aortic pressure in diastole toward zero, 1/s. */
  readonly decayPerS: number;
  readonly ventricularSystolic: number;
  readonly ventricularMinimum: number;
  readonly endDiastolic: number;
  readonly endDiastolicAtS: number;
  /** Of LV - Ao over ejection, samples with LV > Ao only (HD-08). */
  readonly meanGradient: number;
  readonly peakGradient: number;
  readonly ejectionS: number;
  /** How far ejection and the diastolic area move with the zero of one channel, 1 SD. */
  readonly ejectionSdS: number;
  readonly pressureTimeSd: number;
  /** Area between Ao and LV in diastole over its duration (HD-06). */
  readonly diastolicPressureTime: number;
  /** HD-07, of memory. */
  readonly timeIntegrated: number;
}

/** One beat of the answer. */
export interface BeatFacts {
  /** s from the recording's start. */
  readonly t: number;
  readonly kind: BeatClass;
  readonly systolic: Fact;
  readonly diastolic: Fact;
  readonly mean: Fact;
  readonly endDiastolic: Fact;
  readonly ratePerMin: Fact;
  readonly ventricularSystolic: Fact;
  readonly meanGradient: Fact;
  readonly arIndex: Fact;
}

export interface AorticFacts {
  readonly systolic: Fact;
  /** At the end of diastole, before the upstroke. */
  readonly diastolic: Fact;
  readonly mean: Fact;
  readonly pulse: Fact;
  /** Share of counted beats whose incisura stands out of the noise, 0 to 1. */
  readonly notchShare: Fact;
  readonly notchProminence: Fact;
  /** Rate of the exponential fall after the notch. */
  readonly decay: Fact;
}
export interface VentricularFacts {
  readonly systolic: Fact;
  readonly minimum: Fact;
  /** After the a-wave, before the upstroke (HD-22). */
  readonly endDiastolic: Fact;
  /** The same at end-expiration; refused unless the way of breathing is stated. */
  readonly endDiastolicAtExpiration: Fact;
}
export interface GradientFacts {
  readonly meanMmHg: Fact;
  readonly peakToPeakMmHg: Fact;
  readonly peakInstantaneousMmHg: Fact;
  readonly ejectionS: Fact;
  /** How both pressures were had. */
  readonly how: 'simultaneous' | 'pullback' | 'none';
}
export interface LeakFacts {
  /** (Ao diastolic - LVEDP) / Ao systolic x 100 (HD-01). */
  readonly arIndex: Fact;
  /** After over before any balloon (HD-03); refused without a baseline. */
  readonly arIndexRatio: Fact;
  /** HD-04. */
  readonly diastolicDeltaMmHg: Fact;
  /** Difference / rate x 80 (HD-05). */
  readonly hrAdjustedMmHg: Fact;
  /** HD-06. */
  readonly dptMmHg: Fact;
  readonly dptAdjusted: Fact;
  /** HD-07: definition from memory, always doubtful. */
  readonly timeIntegrated: Fact;
  /** Of the aortic pressure, 1/s. */
  readonly diastolicDecay: Fact;
}
/** Of inputs that a person gives; refused without them. */
export interface AreaFacts {
  readonly gorlinCm2: Fact;
  readonly hakkiCm2: Fact;
}
export type RhythmWord = 'regular' | 'irregular' | 'premature beats' | 'paced fast' | 'cannot say';
export interface RhythmFacts {
  readonly word: RhythmWord;
  readonly ratePerMin: Fact;
  /** SD of beat lengths over their mean, 0 to 1. */
  readonly variation: Fact;
  readonly beats: number;
  readonly counted: number;
  readonly premature: number;
  /** From the ECG, when there is one. */
  readonly ecgRatePerMin: Fact;
  readonly spans: readonly { readonly is: 'paced-fast'; readonly fromS: number; readonly toS: number }[];
}
export interface BreathingFacts {
  readonly ratePerMin: Fact;
  /** Highest minus lowest of LVEDP (or of aortic diastolic) over a breath. */
  readonly swingMmHg: Fact;
}

/** `refuse`: what it touches is not answered; `doubt`: answered as doubtful; `tell`: said beside the answer. */
export type QualityWeight = 'refuse' | 'doubt' | 'tell';
export type PressureQualityCode =
  | 'channels-swapped' | 'channels-alike' | 'channel-unlike-its-name' | 'unit-looks-kpa' | 'pressure-not-possible'
  | 'pressure-flat' | 'pressure-clipped-high' | 'pressure-clipped-low' | 'hum' | 'zero-doubtful' | 'ventricle-below-aorta'
  | 'pressure-drifts' | 'line-damped' | 'line-rings' | 'line-response' | 'line-unknown' | 'catheter-whips' | 'recording-gap' | 'sampling-slow'
  | 'few-beats' | 'beats-disturbed' | 'rhythm-irregular' | 'beats-premature' | 'beats-alternate' | 'paced-fast' | 'pullback-seen' | 'no-pressure-channel'
  | 'no-beats' | 'breathing-swing' | 'ecg-disagrees' | 'flush-seen' | 'time-went-back' | 'several-channels';
/** One thing found about the recording, with the channel and time it touches. */
export interface QualityFinding extends Reason {
  /** A PressureQualityCode, or the code of a finding that the file's reader made. */
  readonly code: string;
  readonly weight: QualityWeight;
  readonly channel: PressureChannel | null;
  readonly fromS: number | null;
  readonly toS: number | null;
}
/** Natural frequency and damping of the line, when a flush or a ringing shows them or a person knows them (HD-18 to HD-20). */
export interface LineResponse {
  readonly channel: PressureChannel;
  readonly by: 'flush' | 'ringing' | 'stated';
  readonly naturalHz: Fact;
  readonly dampingRatio: Fact;
}

/** What `trinadir pressure` answers (contract, "Recordings and room inputs"). */
export interface PressureAnswer {
  readonly format: 'trinadir.pressure/1';
  readonly durationS: number;
  readonly beats: readonly BeatFacts[];
  readonly aortic: AorticFacts;
  readonly ventricular: VentricularFacts;
  readonly gradients: GradientFacts;
  readonly leak: LeakFacts;
  readonly area: AreaFacts;
  readonly quality: readonly QualityFinding[];
  readonly rhythm: RhythmFacts;
  readonly breathing: BreathingFacts;
  readonly line: readonly LineResponse[];
}

/** What a person knows beside the recording. Absent is unknown. */
export interface PressureInputs {
  readonly breathing?: 'spontaneous' | 'ventilated' | undefined;
  readonly cardiacOutputLPerMin?: number | undefined;
  /** Response of the lines, known from a flush before the recording. */
  readonly line?: { readonly naturalHz: number; readonly dampingRatio: number } | undefined;
  /** AR index before any balloon, with its interval. */
  readonly baselineArIndex?: Fact | undefined;
}
