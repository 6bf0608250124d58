import { dot, type Vec3 } from '../math/vec3.ts';
import { fail, succeed, type Result } from '../result.ts';
import { averageClicks, type AveragedPoint } from './average-clicks.ts';
import { isCameraView, makeViewAxes, type CameraView, type ViewAxes } from './camera-view.ts';
import { quantileOfChiSquare } from './chi-square.ts';
import { DEPTH_PRIORS, INFLOW_WIDTH_MM, LEAST_CLICK_SD_PX, USUAL_SOURCE_TO_PATIENT_MM } from './depth-limits.ts';
import type { Clicks, DepthFailureCode, DepthFrame, FrameCalibration, MarkName, PicturePoint } from './depth-types.ts';

/** mm in the plane of the isocentre, to the right and to the top of the picture, from its middle. */
export type PictureMm = readonly [rightMm: number, upMm: number];

/** A marked point in mm with the SD of its mean per axis. */
export interface MarkMm {
  readonly at: PictureMm;
  readonly sdMm: number;
  readonly averaged: AveragedPoint;
}

/**
 * Where a point falls in the picture.
 *
 * Frame     `fromCentre` from the isocentre in LPS mm; the answer in the plane of the isocentre
 * Equation  (x, y) f / (f + z): f source to isocentre, z along the beam toward the detector
 * Source    checks CT-30, CT-31; docs/methods/depth.md
 */
export function projectPoint(fromCentre: Vec3, axes: ViewAxes, sourceToPatientMm: number): [number, number] {
  const share = sourceToPatientMm / (sourceToPatientMm + dot(fromCentre, axes.beamLps));
  return [dot(fromCentre, axes.rightLps) * share, dot(fromCentre, axes.upLps) * share];
}

const bad = (code: 'frame-uncalibrated', why: string, evidence: Record<string, number | string> = {}): Result<never, 'frame-uncalibrated'> =>
  fail(code, why, 'Give source to image, source to patient and the pixel at the detector in mm, or mark a length of known size.', evidence);

interface Scale { readonly mmPerPx: number; readonly sd: number; readonly sourceToPatientMm: number; readonly points: readonly { readonly name: MarkName; readonly averaged: AveragedPoint }[] }

function readScale(c: FrameCalibration): Result<Scale, DepthFailureCode> {
  const isLength = (v: number, low: number, high: number): boolean => v >= low && v <= high;
  const base = DEPTH_PRIORS.pixelRatio.value;
  if (c.by === 'geometry') {
    if (!isLength(c.sourceToPatientMm, 300, 1500) || !isLength(c.sourceToImageMm, 500, 2500) || !(c.sourceToImageMm > c.sourceToPatientMm)) {
      return bad('frame-uncalibrated', 'The distances from the source do not belong to a C-arm: source to patient 300 to 1500 mm, source to image longer, 500 to 2500 mm.');
    }
    const mmPerPx = c.pixelAt === 'isocentre' ? c.pixelMm : (c.pixelMm * c.sourceToPatientMm) / c.sourceToImageMm;
    if (!isLength(mmPerPx, 0.02, 2)) return bad('frame-uncalibrated', 'A pixel of this size, at the isocentre, is not one of a fluoroscopy picture (0.02 to 2 mm).', { pixelMm: c.pixelMm });
    return succeed({ mmPerPx, sd: base, sourceToPatientMm: c.sourceToPatientMm, points: [] });
  }
  if (!isLength(c.sizeMm, 1, 100)) return bad('frame-uncalibrated', 'The known length must be 1 to 100 mm.');
  if (c.sourceToPatientMm !== null && !isLength(c.sourceToPatientMm, 300, 1500)) return bad('frame-uncalibrated', 'Source to patient is not 300 to 1500 mm.');
  const plain = c.ends.map((e) => averageClicks('the ends of the known length', e, Infinity));
  const [a, b] = plain;
  if (!a?.ok) return a as Result<never, DepthFailureCode>;
  if (!b?.ok) return b as Result<never, DepthFailureCode>;
  const lengthPx = Math.hypot(b.value.meanPx[0] - a.value.meanPx[0], b.value.meanPx[1] - a.value.meanPx[1]);
  const mmPerPx = c.sizeMm / lengthPx;
  if (!isLength(mmPerPx, 0.02, 2)) return fail('size-ends-coincide', 'The ends of the known length give no scale of a fluoroscopy picture (0.02 to 2 mm a pixel).', 'Mark both ends of the known length again.', { lengthPx: Math.round(lengthPx * 10) / 10 });
  // Its ends are sharp; the stated noise of a click is that of a cusp, which nobody sees.
  const s = Math.max(LEAST_CLICK_SD_PX, DEPTH_PRIORS.sharpClickMm.value / mmPerPx);
  const first = averageClicks('the first end of the known length', c.ends[0], s);
  const second = averageClicks('the second end of the known length', c.ends[1], s);
  if (!first.ok) return first;
  if (!second.ok) return second;
  const sd = Math.hypot(base, Math.hypot(first.value.sdPx, second.value.sdPx) / lengthPx);
  if (sd > 0.15) return bad('frame-uncalibrated', 'The known length is too short for its click noise: the scale is not known to 15 %.', { scaleSd: Math.round(sd * 100) / 100 });
  return succeed({ mmPerPx, sd, sourceToPatientMm: c.sourceToPatientMm ?? USUAL_SOURCE_TO_PATIENT_MM, points: [{ name: 'size1', averaged: first.value }, { name: 'size2', averaged: second.value }] });
}

const WORDS: Readonly<Record<MarkName, string>> = {
  cuspN: 'the N cusp', cuspR: 'the R cusp', cuspL: 'the L cusp', inflow1: 'the first end of the inflow edge', inflow2: 'the second end of the inflow edge',
  axis1: 'the first point of the frame axis', axis2: 'the second point of the frame axis', size1: 'the first end of the known length', size2: 'the second end of the known length',
};

/** The marked points of one picture in mm at the isocentre, whatever they are marks of. */
export interface CameraPoints {
  readonly view: CameraView;
  readonly axes: ViewAxes;
  readonly mmPerPx: number;
  /** SD of the pixel size as a ratio. */
  readonly scaleSd: number;
  readonly sourceToPatientMm: number;
  /** SD of the central ray about the point taken for it. */
  readonly centralRaySdMm: number;
  readonly isSizeKnown: boolean;
  readonly clickSdPx: number;
  readonly isClickSdStated: boolean;
  /** True when the clicks themselves scatter more than was stated, and their own scatter is used. */
  readonly isScatterLarger: boolean;
  readonly points: readonly { readonly name: MarkName; readonly mark: MarkMm }[];
}

/**
 * Points of one picture, every one averaged over its clicks.
 * Fails   view-out-of-range, click-noise-invalid, frame-uncalibrated, mark-not-finite, mark-outside-picture, clicks-spread,
 *         size-ends-coincide
 */
export function makeCameraPoints(frame: Pick<DepthFrame, 'view' | 'calibration' | 'sizePx' | 'clickSdPx'>, wanted: readonly (readonly [MarkName, Clicks])[]): Result<CameraPoints, DepthFailureCode> {
  const { view, sizePx } = frame;
  if (!isCameraView(view)) return fail('view-out-of-range', 'The primary angle runs from -180 to 180 and the secondary from -90 to 90 degrees.', 'Give the angles of the frame as the C-arm shows them: LAO and cranial positive.');
  if (frame.clickSdPx !== null && !(frame.clickSdPx >= 0 && frame.clickSdPx <= 100)) return fail('click-noise-invalid', 'The noise of a click must be 0 to 100 pixels.', 'State the SD of a click in pixels, or leave it out.');
  const scale = readScale(frame.calibration);
  if (!scale.ok) return scale;
  const { mmPerPx } = scale.value;
  let clickSdPx = Math.max(LEAST_CLICK_SD_PX, frame.clickSdPx ?? DEPTH_PRIORS.clickMm.value / mmPerPx);
  const points: { name: MarkName; averaged: AveragedPoint }[] = [];
  for (const [name, clicks] of wanted) {
    const outside = clicks.find(([c, r]) => c < -0.5 || r < -0.5 || (sizePx !== null && (c > sizePx.columns - 0.5 || r > sizePx.rows - 0.5)));
    if (outside) return fail('mark-outside-picture', `A click on ${WORDS[name]} lies outside the picture.`, 'Mark that point again, within the picture.', { point: name });
    const averaged = averageClicks(WORDS[name], clicks, clickSdPx);
    if (!averaged.ok) return averaged;
    points.push({ name, averaged: averaged.value });
  }
  // Clicks that scatter more than was stated speak for themselves; 99 % of the scatter stated lies below the bound.
  const degrees = 2 * points.reduce((n, p) => n + p.averaged.clicks - 1, 0);
  const scatter = degrees > 0 ? Math.sqrt(points.reduce((s, p) => s + p.averaged.scatterPx2, 0) / degrees) : 0;
  const isScatterLarger = degrees >= 8 && scatter > clickSdPx * Math.sqrt(quantileOfChiSquare(0.99, degrees) / degrees);
  if (isScatterLarger) clickSdPx = scatter;
  const centrePx: PicturePoint = sizePx ? [(sizePx.columns - 1) / 2, (sizePx.rows - 1) / 2] : meanPoint(points.map((p) => p.averaged.meanPx));
  const toMm = (a: AveragedPoint): MarkMm => ({
    at: [(a.meanPx[0] - centrePx[0]) * mmPerPx, -(a.meanPx[1] - centrePx[1]) * mmPerPx],
    sdMm: (clickSdPx / Math.sqrt(a.clicks)) * mmPerPx,
    averaged: { ...a, sdPx: clickSdPx / Math.sqrt(a.clicks) },
  });
  return succeed({
    view, axes: makeViewAxes(view), mmPerPx, scaleSd: scale.value.sd, sourceToPatientMm: scale.value.sourceToPatientMm,
    centralRaySdMm: sizePx ? DEPTH_PRIORS.centralRayMm.value : DEPTH_PRIORS.centralRayUnknownMm.value, isSizeKnown: sizePx !== null,
    clickSdPx, isClickSdStated: frame.clickSdPx !== null, isScatterLarger,
    points: [
      ...points.map(({ name, averaged }) => ({ name, mark: toMm(averaged) })),
      ...scale.value.points.map(({ name, averaged }) => ({ name, mark: { ...toMm(averaged), sdMm: averaged.sdPx * mmPerPx, averaged } })),
    ],
  });
}

/** A frame as the model of depth reads it. */
export interface CameraFrame extends CameraPoints {
  readonly marks: { readonly cuspN: MarkMm; readonly cuspR: MarkMm | null; readonly cuspL: MarkMm | null; readonly inflow: readonly [MarkMm, MarkMm]; readonly axis: readonly [MarkMm, MarkMm] | null };
}

/**
 * A frame with all that a depth needs marked on it.
 * Fails   as makeCameraPoints, and cusp-n-missing, inflow-missing, inflow-ends-coincide, axis-points-coincide,
 *         frame-size-implausible
 */
export function makeCameraFrame(frame: DepthFrame): Result<CameraFrame, DepthFailureCode> {
  const { marks } = frame;
  if (marks.cuspN.length === 0) return fail('cusp-n-missing', 'The N cusp is not marked.', 'Mark the nadir of the N cusp, or the tip of the pigtail that lies in it.');
  if (marks.frameInflow.length !== 2 || marks.frameInflow.some((e) => e.length === 0)) return fail('inflow-missing', 'The two ends of the inflow edge are not marked.', 'Mark both ends of the lower edge of the frame.');
  const wanted: [MarkName, Clicks][] = [['cuspN', marks.cuspN], ['inflow1', marks.frameInflow[0]], ['inflow2', marks.frameInflow[1]]];
  if (marks.cuspR?.length) wanted.push(['cuspR', marks.cuspR]);
  if (marks.cuspL?.length) wanted.push(['cuspL', marks.cuspL]);
  if (marks.frameAxis?.every((e) => e.length > 0)) wanted.push(['axis1', marks.frameAxis[0]], ['axis2', marks.frameAxis[1]]);
  const camera = makeCameraPoints(frame, wanted);
  if (!camera.ok) return camera;
  const find = (name: MarkName): MarkMm | null => camera.value.points.find((n) => n.name === name)?.mark ?? null;
  const inflow = [find('inflow1')!, find('inflow2')!] as const;
  const widthMm = measureGap(inflow[0].at, inflow[1].at);
  if (!(widthMm > 4 * Math.hypot(inflow[0].sdMm, inflow[1].sdMm)) || widthMm < 1) return fail('inflow-ends-coincide', `The two ends of the inflow edge lie ${widthMm.toFixed(1)} mm apart.`, 'Mark the left and the right end of the lower edge of the frame.', { widthMm: Math.round(widthMm * 10) / 10 });
  if (widthMm < INFLOW_WIDTH_MM[0] || widthMm > INFLOW_WIDTH_MM[1]) {
    return fail('frame-size-implausible', `The inflow edge measures ${widthMm.toFixed(1)} mm; frames measure ${INFLOW_WIDTH_MM[0]} to ${INFLOW_WIDTH_MM[1]} mm.`, 'Check the pixel size and the distances of this frame, and the marks of the inflow edge.', { widthMm: Math.round(widthMm * 10) / 10 });
  }
  const [one, two] = [find('axis1'), find('axis2')];
  const axis = one && two ? ([one, two] as const) : null;
  if (axis && !(measureGap(axis[0].at, axis[1].at) > 3 * Math.hypot(axis[0].sdMm, axis[1].sdMm))) return fail('axis-points-coincide', 'The two points of the frame axis lie too close together to give a direction.', 'Mark one point low and one high on the middle line of the frame, or leave the axis out.');
  return succeed({ ...camera.value, marks: { cuspN: find('cuspN')!, cuspR: find('cuspR'), cuspL: find('cuspL'), inflow, axis } });
}

export const measureGap = (a: PictureMm, b: PictureMm): number => Math.hypot(b[0] - a[0], b[1] - a[1]);

function meanPoint(points: readonly PicturePoint[]): PicturePoint {
  const n = points.length;
  return [points.reduce((s, p) => s + p[0], 0) / n, points.reduce((s, p) => s + p[1], 0) / n];
}
