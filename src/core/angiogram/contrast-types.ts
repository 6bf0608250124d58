import type { QualityWeight } from '../haemodynamics/pressure-types.ts';
import type { Fact, Reason } from '../units/fact.ts';

/** [column, row] of a pixel; [0, 0] is the centre of the first pixel. */
export type PixelPoint = readonly [columnPx: number, rowPx: number];
export type PixelPolygon = readonly PixelPoint[];

/** What stored greys mean (0028,1040): proportional to the beam, to its logarithm, made for the eye, or not said. */
export type PixelIntensity = 'LIN' | 'LOG' | 'DISP' | null;

/** An angiographic run with its pixels. */
export interface ContrastRun {
  readonly rows: number;
  readonly columns: number;
  /** Of the stored values: the largest is 2^bits - 1. */
  readonly bits: number;
  /** Stored values row by row, one array for each frame; unsigned. */
  readonly frames: readonly (Uint8Array | Uint16Array)[];
  /** From the first frame, ms; null when nobody knows them. */
  readonly frameTimesMs: readonly number[] | null;
  /** MONOCHROME1: the smallest stored value is white. */
  readonly isInverted: boolean;
  readonly intensity: PixelIntensity;
  /** What the header says was done to the pixels before. */
  readonly history: { readonly isDerived: boolean; readonly isSubtracted: boolean; readonly isLossy: boolean };
}

/** Regions of one run, in pixels of its first frames. */
export interface ContrastRegions {
  readonly aorta: PixelPolygon;
  readonly outflow: PixelPolygon;
  readonly background: PixelPolygon | null;
}
/** Ends of the frame's inflow edge and two points of its axis, from the ventricle to the aorta, when they were marked. */
export interface FrameMarks {
  readonly inflow: readonly [PixelPoint, PixelPoint];
  readonly axis: readonly [PixelPoint, PixelPoint];
}

/** What a person says of a run. Absent is unknown, and stays a doubt where the method needs it. */
export interface ContrastAsk {
  readonly regions?: ContrastRegions | undefined;
  /** For proposing regions; not used when `regions` are given. */
  readonly marks?: FrameMarks | undefined;
  /** First and last frame of the areas, from 1. Without them: the published cycles from the arrival of contrast. */
  readonly frames?: readonly [from: number, to: number] | undefined;
  readonly ratePerMin?: number | undefined;
  /** R peaks, ms from the first frame. Wins over the rate. */
  readonly beatTimesMs?: readonly number[] | undefined;
  /** Only where the file has no frame times. */
  readonly framesPerS?: number | undefined;
  /** Cycles of the areas, when another number than PUBLISHED_CYCLES is wanted. */
  readonly cycles?: number | undefined;
  readonly breathHeld?: boolean | undefined;
  readonly isPaced?: boolean | undefined;
  readonly tableMoved?: boolean | undefined;
  /** Descending aorta, probe or another dense thing over a region. */
  readonly isOverlapped?: boolean | undefined;
  /** Outflow tract and root are whole in the picture. */
  readonly isInView?: boolean | undefined;
}

export type ContrastFailureCode =
  | 'contrast-frames-invalid' | 'contrast-frames-too-few' | 'contrast-size-invalid' | 'contrast-times-invalid'
  | 'contrast-region-invalid' | 'contrast-region-small' | 'contrast-region-outside' | 'contrast-regions-overlap'
  | 'contrast-range-invalid' | 'contrast-rate-invalid' | 'contrast-marks-invalid';

/** What was found about a run; each by its own name (checks AN-05). */
export type ContrastQualityCode =
  | 'frame-times-unknown' | 'frame-rate-low' | 'no-frames-before-contrast' | 'baseline-short' | 'no-contrast-seen' | 'contrast-brightens'
  | 'root-not-dense' | 'picture-clipped' | 'table-moves' | 'table-moved-said' | 'picture-shifts' | 'breath-not-held' | 'breath-unknown'
  | 'paced-said' | 'rate-fast' | 'cycles-unknown' | 'cycles-few' | 'cycles-too-few' | 'rate-disagrees' | 'overlap-said' | 'overlap-suspected'
  | 'dense-thing-in-region' | 'not-in-view' | 'brightness-jumps' | 'run-subtracted' | 'run-derived' | 'run-lossy' | 'intensity-unknown'
  | 'regions-proposed' | 'regions-not-found' | 'noise-large';
export interface ContrastFinding extends Reason {
  readonly code: ContrastQualityCode;
  readonly weight: QualityWeight;
}

export interface RegionFacts {
  /** Area under the time-density curve over the window, s (density is a logarithm and has no unit). */
  readonly area: Fact;
  readonly peak: Fact;
}

/** How sure the ratio is: 1 SD of each part, in the ratio's own unit. */
export interface RatioParts {
  readonly noise: number;
  readonly regions: number;
  readonly baseline: number;
  readonly background: number;
  readonly cycle: number;
  /** One-sided: how far the ratio may be too high by scattered radiation. */
  readonly scatterBelow: number;
}

/** What `trinadir contrast` answers. Frames count from 1. */
export interface ContrastAnswer {
  readonly format: 'trinadir.contrast/1';
  readonly size: { readonly rows: number; readonly columns: number; readonly frames: number };
  readonly framesPerS: Fact;
  readonly mask: { readonly fromFrame: number; readonly toFrame: number } | null;
  readonly window: {
    readonly fromMs: number; readonly toMs: number; readonly fromFrame: number; readonly toFrame: number;
    readonly cycles: Fact; readonly by: 'cycles' | 'frames entered';
  } | null;
  readonly cycle: { readonly ratePerMin: Fact; readonly by: 'beats entered' | 'rate entered' | 'picture' | 'none' };
  readonly regions: (ContrastRegions & { readonly by: 'entered' | 'frame marks' | 'proposed' }) | null;
  /** Shift of each frame's picture, px, and the largest as a share of the picture's width. */
  readonly motion: { readonly shiftsPx: readonly PixelPoint[]; readonly largest: Fact };
  /** Density above the mask, natural logarithm; empty when there is no mask or no region. */
  readonly curves: { readonly timesMs: readonly number[]; readonly aorta: readonly number[]; readonly outflow: readonly number[]; readonly brightness: readonly number[] };
  readonly aorta: RegionFacts;
  readonly outflow: RegionFacts;
  /** Area of the outflow tract over area of the aortic root (checks AN-02): a fraction, not a per cent. */
  readonly ratio: Fact;
  readonly parts: RatioParts | null;
  readonly quality: readonly ContrastFinding[];
}
