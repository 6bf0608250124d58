import type { Sourced } from '../units/sourced.ts';

const p = (value: number, unit: string, source: string): Sourced => ({ value, unit, source, edition: '-', status: 'M' });

/**
 * What a depth rests on beside the marks: 1 SD per axis unless said otherwise. None of them is a clinical limit; each only
 * widens an interval. All are this project's own assumptions (P in job.md), to be replaced by a site's own figures.
 */
export const DEPTH_PRIORS = {
  /** The patient on the table against the patient in the scanner, about each axis. */
  patientTurnDeg: p(5, 'deg', 'job.md, D-rules, Live depth: random tilts of SD 5 deg'),
  /** Middle of the inflow edge off the root axis through the middle of the basal ring. */
  frameOffAxisMm: p(4, 'mm', 'a frame of 20 mm or more in a ring of 20 to 30 mm'),
  /** Frame axis off the direction that the plan expects. */
  frameTiltDeg: p(7, 'deg', 'docs/methods/depth.md'),
  /** Root along the beam, off the isocentre. */
  rootAlongBeamMm: p(20, 'mm', 'checks CT-31 takes 30 mm as the worse case'),
  /** Central ray off the middle of the picture. */
  centralRayMm: p(1.5, 'mm', 'docs/methods/depth.md'),
  /** The same when the size of the picture is not known and the marks are taken for its middle. */
  centralRayUnknownMm: p(20, 'mm', 'docs/methods/depth.md'),
  /** Positioner angle as stated. */
  positionerDeg: p(0.5, 'deg', 'angles are shown and stored to whole or half degrees'),
  /** Pixel size from distances or from a marked length, as a ratio. */
  pixelRatio: p(0.015, '1', 'docs/methods/depth.md'),
  /** One click, when the frame does not say. */
  clickMm: p(1, 'mm', 'job.md, D-rules: s = 1 mm'),
  /** One click on the sharp side of a catheter or a frame, for a length of known size. */
  sharpClickMm: p(0.2, 'mm', 'about one pixel'),
  /** An end of the inflow edge off the edge of a round frame: crowns, an oval frame. */
  edgeAcrossMm: p(0.5, 'mm', 'docs/methods/depth.md'),
  edgeAlongMm: p(1, 'mm', 'docs/methods/depth.md'),
  /** Middle line of the frame as marked, off straight. */
  axisStraightMm: p(0.5, 'mm', 'docs/methods/depth.md'),
} as const satisfies Readonly<Record<string, Sourced>>;

/** Beams closer than this, as lines, are not fused (job.md, D35). */
export const LEAST_SEPARATION_DEG = 30;
/** Clicks of one point farther than this many SD from their mean refuse the point (job.md, D36). */
export const MOST_SPREAD_SD = 3;
/** Beyond this angle off the plane heights are seen at half length or less and no depth is read [P]. */
export const MOST_OFF_PLANE_DEG = 60;
/** Lengths along the normal that look this much shorter are said aloud [P]: 2 % at 11.5 deg. */
export const SHORT_SHARE = 0.98;
/** Inflow width and depth outside these are a wrong scale or a wrong mark, not a frame in a root [P]. */
export const INFLOW_WIDTH_MM = [8, 60] as const;
export const MOST_DEPTH_MM = 40;
/** Half of a pixel's width, uniform: a click cannot be better than the grid it lies on. */
export const LEAST_CLICK_SD_PX = 1 / Math.sqrt(12);
/** SD to the 95 % radius of a direction in two axes: sqrt(2 ln 20). */
export const RADIUS_95 = Math.sqrt(2 * Math.log(20));
/** Source to isocentre of a cardiac C-arm, for the divergence alone, where a frame does not say [M]. */
export const USUAL_SOURCE_TO_PATIENT_MM = 750;
