import type { BasalPlane, Cusp, Xyz } from '../root/root-types.ts';
import type { CameraView } from './camera-view.ts';

/** Where a depth stands against the stop window (job.md, D37): only `inside` is a yes. */
export type DepthPlace = 'inside' | 'straddles' | 'deeper' | 'higher' | 'cannot say';

/**
 * One implant depth as read in the room. mm, + toward the ventricle, from the basal plane at the N cusp to the inflow edge
 * of the frame. A depth without its view is not a depth (job.md, E24).
 */
export interface DepthReading {
  readonly depthMm: number;
  /** 95 % interval. */
  readonly lowMm: number;
  readonly highMm: number;
  /** `uncorrected`: one frame, the interval holds the view's error; `corrected`: two frames at least 30 deg apart. */
  readonly state: 'uncorrected' | 'corrected';
  /** By marks on frames, or entered as the room read it (then `lowMm`-`highMm` are what the person entered). */
  readonly by: 'marks' | 'entered';
  readonly views: readonly CameraView[];
  readonly cusp: 'N';
  readonly edge: 'inflow';
  /** Least number of clicks on any of its points. */
  readonly clicks: number;
  /** Ratio of the frame that was out of the catheter when it was read; null: not known. */
  readonly unsheathedRatio: number | null;
}

/** Column and row of the picture; [0, 0] is the centre of the first pixel, rows run downward. */
export type PicturePoint = readonly [columnPx: number, rowPx: number];
/** All clicks of one point, at least one; they are averaged (job.md, D36). */
export type Clicks = readonly PicturePoint[];

/** What a picture of one frame was marked with. Ends of the inflow edge in either order, so the points of the axis. */
export interface DepthMarks {
  /** Nadir of the N cusp, or the tip of the pigtail that lies in it. */
  readonly cuspN: Clicks;
  readonly cuspR?: Clicks | undefined;
  readonly cuspL?: Clicks | undefined;
  /** The two ends of the inflow edge as the picture shows it. */
  readonly frameInflow: readonly [Clicks, Clicks];
  /** Two points on (or along) the middle line of the frame; null: not marked, the edge alone gives the direction. */
  readonly frameAxis: readonly [Clicks, Clicks] | null;
}

/**
 * How pixels become mm at the isocentre. `geometry`: pixel at the detector (DICOM Imager Pixel Spacing) over M = SID / SOD
 * (checks CT-30), or `pixelAt: 'isocentre'` when it is already divided. `known-size`: a length of known size was marked at
 * the depth of the root (catheter, frame), which needs no distances; SOD then only serves the divergence.
 */
export type FrameCalibration =
  | { readonly by: 'geometry'; readonly sourceToImageMm: number; readonly sourceToPatientMm: number; readonly pixelMm: number; readonly pixelAt: 'detector' | 'isocentre' }
  | { readonly by: 'known-size'; readonly sizeMm: number; readonly ends: readonly [Clicks, Clicks]; readonly sourceToPatientMm: number | null };

/** One marked frame of a run. */
export interface DepthFrame {
  readonly view: CameraView;
  readonly calibration: FrameCalibration;
  /** Picture size; null: not known, then the central ray's place is guessed from the marks, with its doubt. */
  readonly sizePx: { readonly columns: number; readonly rows: number } | null;
  readonly marks: DepthMarks;
  /** SD of one click, per axis; null: not known, 1 mm at the isocentre is used. */
  readonly clickSdPx: number | null;
}

/** What measureDepth needs of a plan. */
export interface DepthPlan {
  readonly basalPlane: BasalPlane;
  /** Direction the frame is expected to follow, toward the aorta; null: the plane's normal. */
  readonly frameAxisLps: Xyz | null;
  /** Centre of the basal ring; null: the middle of the nadirs. */
  readonly ringCentreLps: Xyz | null;
  /** Inflow diameter of the chosen frame when free, to see a wrong scale; null: not known. */
  readonly frameInflowMm: number | null;
}

export interface DepthFinding {
  readonly code: 'foreshortened' | 'view-off-plane' | 'picture-size-unknown' | 'click-noise-assumed' | 'clicks-scatter' | 'one-click-only' | 'frame-wider-than-device' | 'frame-tilted' | 'plane-tilted' | 'marks-fit-badly';
  readonly text: string;
  readonly next: string;
}

/** One picture on its own. */
export interface FrameReading {
  readonly view: CameraView;
  /** mm at the isocentre per pixel. */
  readonly mmPerPx: number;
  /** As the picture shows it, along the projected normal of the plan; view error not corrected. */
  readonly shownMm: number;
  /** Beam to the plan's plane, deg, signed as in view-error.ts. */
  readonly offPlaneDeg: number;
  /** Seen over true length along the normal: below 1 the picture shortens. */
  readonly visibleShare: number;
  /** mm of error per mm between cusp and edge along the beam. */
  readonly depthPerRadius: number;
  /** Every marked point: mean, clicks, SD of the mean at the isocentre, greatest distance of a click from the mean in SD of one click. */
  readonly points: readonly { readonly point: MarkName; readonly meanPx: PicturePoint; readonly clicks: number; readonly sdMm: number; readonly spreadSd: number }[];
}
export type MarkName = `cusp${Cusp}` | 'inflow1' | 'inflow2' | 'axis1' | 'axis2' | 'size1' | 'size2';

/** Part of the 95 % half-width (mm, added in squares) that each cause has. */
export type DepthDoubt = Readonly<Record<'clicks' | 'planeTilt' | 'placeAlongBeam' | 'calibration' | 'frameShape', number>>;

export interface DepthAnswer {
  readonly reading: DepthReading;
  readonly frames: readonly FrameReading[];
  /** Widest angle between two of the beams, as lines; null with one frame. */
  readonly separationDeg: number | null;
  /** The same depth at the middle of the inflow edge; null with one frame. */
  readonly centre: { readonly depthMm: number; readonly lowMm: number; readonly highMm: number } | null;
  /** Frame axis against the normal of the plane; null with one frame. */
  readonly frameTiltDeg: number | null;
  /** Width of the inflow edge as marked. */
  readonly inflowWidthMm: number;
  /**
   * Basal plane on the table against the plan: angle, its 95 % radius, and what it rests on. `plan`: no cusp but N is
   * marked, so it is not measured (0) and only its doubt is known.
   */
  readonly residualTilt: { readonly deg: number; readonly withinDeg: number; readonly from: 'plan' | 'marks' };
  readonly doubt: DepthDoubt;
  /** Mean square of the residuals in units of their SD; about 1 when the marks of the frames belong together; null with one frame. */
  readonly misfit: number | null;
  readonly findings: readonly DepthFinding[];
}

export type DepthFailureCode =
  | 'frames-missing' | 'view-out-of-range' | 'frame-uncalibrated' | 'mark-not-finite' | 'mark-outside-picture' | 'cusp-n-missing' | 'inflow-missing'
  | 'inflow-ends-coincide' | 'axis-points-coincide' | 'size-ends-coincide' | 'clicks-spread' | 'click-noise-invalid' | 'plane-face-on' | 'frame-size-implausible' | 'depth-implausible'
  | 'frames-too-close' | 'marks-disagree';
