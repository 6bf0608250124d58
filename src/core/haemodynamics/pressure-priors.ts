import type { Sourced } from '../units/sourced.ts';

const p = (value: number, unit: string, source: string): Sourced => ({ value, unit, source, edition: '-', status: 'M' });

/**
 * What an interval of a pressure rests on beside the scatter of its beats, 1 SD each. No clinical limit is among them; each only
 * widens an interval. All are assumptions, to be replaced by a site's own figures.
 */
export const PRESSURE_PRIORS = {
  /** Zero and height of a transducer that was zeroed and levelled. */
  zeroMmHg: p(1, 'mm[Hg]', 'levelling to about 1.3 cm of blood (checks HD-17)'),
  gainRatio: p(0.01, '1', 'usual accuracy of pressure transducers'),
  /** What an unknown but fair line adds, as a share of the pulse of its channel. */
  responsePeakRatio: p(0.012, '1', 'docs/methods/pressure.md: drawn lines of 18 to 40 Hz, damping 0.3 to 0.7'),
  responseTroughRatio: p(0.006, '1', 'the same'),
  /** LVEDP: where the upstroke begins. */
  endDiastolicMmHg: p(0.6, 'mm[Hg]', 'the same'),
  /** Gradients: two lines that need not be alike. */
  responseGradientMmHg: p(1, 'mm[Hg]', 'the same'),
  diastolicAreaMmHg: p(1, 'mm[Hg]', 'the same'),
  /** Superposed beats of a pull-back. */
  pullbackMmHg: p(3, 'mm[Hg]', 'docs/methods/pressure.md'),
} as const satisfies Readonly<Record<string, Sourced>>;

/** Technical limits of reading a recording: when a signal cannot be what it is said to be. None judges a patient [P]. */
export const READING_LIMITS = {
  /** Fewest beats that make a summary (HD-10 [M]). */
  fewestBeats: 5,
  /** No pressure of a left heart is outside. */
  possibleMmHg: [-40, 320],
  /** A pulsatile pressure whose peak is below this is likely in kPa. */
  kpaSystolicBelow: 31,
  kpaDiastolicBelow: 20,
  flatMmHg: 0.25,
  flatS: 2,
  humMmHg: 0.7,
  driftMmHg: 6,
  zeroVentricleMmHg: [-8, 35],
  fastPerMin: 140,
  irregularVariation: 0.09,
  prematureRatio: 0.82,
  slowestSamplesPerS: 80,
} as const;
