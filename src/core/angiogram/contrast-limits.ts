import type { Sourced } from '../units/sourced.ts';

const m = (value: number, unit: string, source: string): Sourced => ({ value, unit, source, edition: '-', status: 'M' });

/** Cycles over which published work took both areas; unverified. */
export const PUBLISHED_CYCLES: Sourced = m(3, '1', 'common practice of time-density work in aortic leaks, from memory');

/** What the interval of the ratio rests on beside the picture itself, 1 SD each. All are assumptions; each only widens. */
export const CONTRAST_PRIORS = {
  /** Place of an entered region's edge, as a share of the root's width. */
  enteredEdgeRatio: m(0.04, '1', 'docs/methods/contrast.md: a hand that draws'),
  proposedEdgeRatio: m(0.08, '1', 'docs/methods/contrast.md: proposals on drawn runs'),
  /** Largest usual share of scattered radiation behind a grid. */
  scatterRatio: m(0.3, '1', 'from memory'),
  /** Length of a cycle that came from the picture or from an entered rate. */
  cycleRatio: m(0.03, '1', 'docs/methods/contrast.md'),
} as const satisfies Readonly<Record<string, Sourced>>;

/** When a run cannot be read as one: technical limits of the reading, no limit of a patient [P]. */
export const CONTRAST_LIMITS = {
  fewestFrames: 8,
  fewestSide: 32,
  fewestRegionPixels: 30,
  slowestFramesPerS: { refuse: 6, doubt: 10 },
  /** Frames before contrast. */
  fewestMaskFrames: 2,
  /** Before the arrival that is seen thin contrast may be there already, s. */
  guardS: 0.2,
  /** Largest share of clipped pixels in a region. */
  clipped: { doubt: 0.01, refuse: 0.05 },
  /** Shift as a share of the picture's width. */
  shift: { tell: 0.002, doubt: 0.01, refuse: 0.025 },
  /** Peak of the root's curve, natural logarithm. */
  rootPeak: { refuse: 0.1, doubt: 0.25 },
  /** Step of the brightness between two frames, natural logarithm. */
  brightnessStep: { doubt: 0.04, refuse: 0.35 },
  /** Rates that a heart of a person at rest does not have. */
  ratePerMin: [25, 240],
  fastPerMin: 140,
  fewestCycles: 1,
  /** A part of the outflow region this dense beside the root, and this much above its median, is another vessel. */
  overlap: { ofRoot: 0.55, ofMedian: 2.2, share: 0.06, lateS: 0.35 },
  /** Darker than the brightest quarter of the region by this, natural logarithm, over this share of it. */
  denseThing: { darker: 0.6, share: 0.05 },
  /** Half-width of the ratio over which nothing is settled. */
  widestRatio: 0.15,
} as const;
