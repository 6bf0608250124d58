import { dot } from '../math/vec3.ts';
import { fail, succeed, type Result } from '../result.ts';
import { makeViewAxes, measureViewAngle } from './camera-view.ts';
import { quantileOfChiSquare } from './chi-square.ts';
import { makeCameraFrame, type CameraFrame } from './depth-camera.ts';
import { DEPTH_PRIORS, LEAST_SEPARATION_DEG, MOST_DEPTH_MM, MOST_OFF_PLANE_DEG, SHORT_SHARE } from './depth-limits.ts';
import { fitDepth, type DepthFit } from './depth-model.ts';
import type { DepthAnswer, DepthFailureCode, DepthFinding, DepthFrame, DepthPlan, FrameReading } from './depth-types.ts';
import { measureViewError } from './view-error.ts';

const RAD = Math.PI / 180;
/** job.md, D: band = value +- 2 u. */
const BAND = 2;
/** Marks that fit worse than all but 1 in 10,000 do not belong together; worse than 1 in 20 widen the band. */
const APART_P = 1e-4;
const BADLY_P = 0.05;

/** Of two beams as lines: a beam and its opposite show the same shadows. */
export function measureSeparation(a: DepthFrame['view'], b: DepthFrame['view']): number {
  const angle = measureViewAngle(a, b);
  return Math.min(angle, 180 - angle);
}

/**
 * Implant depth at the N cusp from marked fluoroscopy frames of one moment (the frame has not moved between them).
 *
 * Shape     one frame, or several of which two look at least 30 deg apart
 * Units     mm, + toward the ventricle; intervals 95 %
 * Frame     positioner angles relative to the patient; only differences between marks of one picture count, since table
 *           and patient may be anywhere
 * Equation  one frame: what the picture shows along the projected normal; its interval reaches over that and over where
 *           plan and priors put the edge, each with 2 SD. Several: least squares over all marks (depth-model.ts)
 * Fails     DepthFailureCode; under 30 deg frames are not joined (frames-too-close)
 * Source    job.md, D34-D37 and rule Live depth; docs/methods/depth.md
 * Accuracy  docs/methods/depth.md, verification
 */
export function measureDepth(frames: readonly DepthFrame[], plan: DepthPlan): Result<DepthAnswer, DepthFailureCode> {
  if (frames.length === 0) return fail('frames-missing', 'There is no frame.', 'Mark one frame at least; two at least 30 degrees apart correct the view.');
  let separationDeg: number | null = null;
  for (const [i, a] of frames.entries()) for (const b of frames.slice(i + 1)) separationDeg = Math.max(separationDeg ?? 0, measureSeparation(a.view, b.view));
  const cameras: CameraFrame[] = [];
  for (const frame of frames) {
    const camera = makeCameraFrame(frame);
    if (!camera.ok) return frames.length === 1 ? camera : { ok: false, failure: { ...camera.failure, evidence: { ...camera.failure.evidence, frame: cameras.length + 1 } } };
    cameras.push(camera.value);
  }
  if (separationDeg !== null && !(separationDeg >= LEAST_SEPARATION_DEG - 1e-9)) {
    return fail('frames-too-close', `The frames look ${separationDeg.toFixed(1)} degrees apart; under ${LEAST_SEPARATION_DEG} degrees joining them makes the depth worse, not better.`,
      `Take another frame at least ${LEAST_SEPARATION_DEG} degrees from the first, or give one frame alone: it says how wrong its picture can be.`, { separationDeg: Math.round(separationDeg * 10) / 10 });
  }
  const readings: FrameReading[] = [];
  for (const camera of cameras) {
    const reading = readFrame(camera, plan);
    if (!reading.ok) return reading;
    readings.push(reading.value);
  }
  const shownMm = readings.reduce((s, r) => s + r.shownMm, 0) / readings.length;
  const fit = fitDepth(cameras, plan, shownMm);
  const isOne = frames.length === 1;
  const limit = quantileOfChiSquare(1 - APART_P, fit.degrees);
  if (!(fit.chiSquare <= limit)) {
    return fail('marks-disagree', isOne ? 'The marks do not fit the root of this plan.' : 'The marks of the frames do not belong to one root and one frame at rest.',
      'Check which cusp is which, the angles of each frame, and that nothing moved between the frames; then mark again.', { misfit: Math.round((fit.chiSquare / fit.degrees) * 10) / 10 });
  }
  const isBad = fit.chiSquare > quantileOfChiSquare(1 - BADLY_P, fit.degrees);
  const widen = isBad ? Math.sqrt(fit.chiSquare / fit.degrees) : 1;
  const half = BAND * fit.depthSd * widen;
  const depthMm = isOne ? shownMm : fit.state.depthMm;
  const [lowMm, highMm] = [Math.min(depthMm, fit.state.depthMm) - half, Math.max(depthMm, fit.state.depthMm) + half];
  if (!(Math.abs(depthMm) <= MOST_DEPTH_MM)) {
    return fail('depth-implausible', `The edge of the frame lies ${depthMm.toFixed(0)} mm from the N cusp.`, 'Check the marks and the pixel size: the frame is not in the root.', { depthMm: Math.round(depthMm) });
  }
  const hasCusps = cameras.some((c) => c.marks.cuspR && c.marks.cuspL);
  const doubt = fit.causeSd;
  const centreHalf = BAND * fit.centreDepthSd * widen;
  return succeed({
    reading: {
      depthMm, lowMm, highMm, state: isOne ? 'uncorrected' : 'corrected', by: 'marks', views: frames.map((f) => f.view), cusp: 'N', edge: 'inflow',
      clicks: Math.min(...readings.flatMap((r) => r.points.filter((p) => !p.point.startsWith('size')).map((p) => p.clicks))), unsheathedRatio: null,
    },
    frames: readings, separationDeg,
    centre: isOne ? null : { depthMm: fit.state.centreDepthMm, lowMm: fit.state.centreDepthMm - centreHalf, highMm: fit.state.centreDepthMm + centreHalf },
    frameTiltDeg: isOne ? null : fit.frameTiltDeg,
    inflowWidthMm: 2 * fit.state.radiusMm,
    residualTilt: { deg: hasCusps ? fit.tiltDeg : 0, withinDeg: fit.tiltWithinDeg, from: hasCusps ? 'marks' : 'plan' },
    doubt: { clicks: BAND * doubt.clicks * widen, planeTilt: BAND * doubt.planeTilt * widen, placeAlongBeam: BAND * doubt.placeAlongBeam * widen, calibration: BAND * doubt.calibration * widen, frameShape: BAND * doubt.frameShape * widen },
    misfit: isOne ? null : fit.chiSquare / fit.degrees,
    findings: listFindings(cameras, readings, fit, plan, isBad, hasCusps),
  });
}

/** What one picture shows, uncorrected: from the N mark along the projected normal to the line through the ends of the edge. */
function readFrame(camera: CameraFrame, plan: DepthPlan): Result<FrameReading, DepthFailureCode> {
  const { normalLps } = plan.basalPlane;
  const error = measureViewError(camera.view, normalLps, plan.basalPlane.tiltUncertaintyDeg);
  if (!(Math.abs(error.offPlaneDeg) <= MOST_OFF_PLANE_DEG)) {
    return fail('plane-face-on', `This view looks ${Math.abs(error.offPlaneDeg).toFixed(0)} degrees onto the basal plane; heights hardly show.`, 'Take a frame that sees the basal plane nearly on edge.', { offPlaneDeg: Math.round(error.offPlaneDeg) });
  }
  const { rightLps, upLps } = makeViewAxes(camera.view);
  const m = [dot(normalLps, rightLps) / error.visibleShare, dot(normalLps, upLps) / error.visibleShare] as const;
  const { cuspN, inflow } = camera.marks;
  const [a, b] = [inflow[0].at, inflow[1].at];
  const edge = [b[0] - a[0], b[1] - a[1]] as const;
  // N - t m lies on the line a + s edge; with the edge along m (a view down the frame) the middle of the edge is taken.
  const det = m[0] * edge[1] - m[1] * edge[0];
  const toN = [cuspN.at[0] - a[0], cuspN.at[1] - a[1]] as const;
  const isSquare = Math.abs(det) > 0.3 * Math.hypot(edge[0], edge[1]);
  const shownMm = isSquare ? (toN[0] * edge[1] - toN[1] * edge[0]) / det : (cuspN.at[0] - (a[0] + b[0]) / 2) * m[0] + (cuspN.at[1] - (a[1] + b[1]) / 2) * m[1];
  return succeed({
    view: camera.view, mmPerPx: camera.mmPerPx, shownMm, offPlaneDeg: error.offPlaneDeg, visibleShare: error.visibleShare, depthPerRadius: error.depthPerRadius,
    points: camera.points.map(({ name, mark }) => ({ point: name, meanPx: mark.averaged.meanPx, clicks: mark.averaged.clicks, sdMm: mark.sdMm, spreadSd: mark.averaged.spreadSd })),
  });
}

function listFindings(cameras: readonly CameraFrame[], readings: readonly FrameReading[], fit: DepthFit, plan: DepthPlan, isBad: boolean, hasCusps: boolean): readonly DepthFinding[] {
  const found: DepthFinding[] = [];
  const one = readings.length === 1;
  const short = Math.min(...readings.map((r) => r.visibleShare));
  const off = Math.max(...readings.map((r) => Math.abs(r.offPlaneDeg)));
  if (short < SHORT_SHARE) found.push({ code: 'foreshortened', text: `Lengths along the root look up to ${(100 * (1 - short)).toFixed(1)} % shorter in the picture.`, next: one ? 'Take a view that sees the basal plane on edge.' : 'The joined depth allows for it; a single picture does not.' });
  if (one && off > plan.basalPlane.tiltUncertaintyDeg) found.push({ code: 'view-off-plane', text: `The picture looks ${off.toFixed(1)} degrees off the basal plane: ${(10 * Math.sin(off * RAD)).toFixed(1)} mm of error per 10 mm along the beam.`, next: 'Move to a perpendicular view of the plan, or take a second frame at least 30 degrees away.' });
  if (cameras.some((c) => !c.isSizeKnown)) found.push({ code: 'picture-size-unknown', text: 'The size of the picture is not stated, so its middle is guessed from the marks.', next: 'State columns and rows of the picture.' });
  if (cameras.some((c) => !c.isClickSdStated)) found.push({ code: 'click-noise-assumed', text: `The noise of a click is not stated; ${DEPTH_PRIORS.clickMm.value} mm is taken.`, next: 'State it, or click each point four times.' });
  if (cameras.some((c) => c.isScatterLarger)) found.push({ code: 'clicks-scatter', text: 'The clicks scatter more than their stated noise; their own scatter is used.', next: 'State a larger click noise, or mark again.' });
  if (readings.some((r) => r.points.some((p) => p.clicks === 1 && !p.point.startsWith('size')))) found.push({ code: 'one-click-only', text: 'A point was clicked once: the band is as wide as one click is uncertain.', next: 'Click each point four times: the part of the clicks is then half as wide.' });
  if (plan.frameInflowMm !== null && 2 * fit.state.radiusMm > 1.15 * plan.frameInflowMm + 2) found.push({ code: 'frame-wider-than-device', text: `The inflow edge measures ${(2 * fit.state.radiusMm).toFixed(1)} mm; the planned frame is ${plan.frameInflowMm.toFixed(1)} mm wide when free.`, next: 'Check the pixel size of the frames.' });
  if (!one && fit.frameTiltDeg > 10) found.push({ code: 'frame-tilted', text: `The frame stands ${fit.frameTiltDeg.toFixed(0)} degrees off the normal of the basal plane: its edge is not equally deep all round.`, next: 'Look at the depth of the middle of the edge beside the depth at the N cusp.' });
  if (hasCusps && fit.tiltDeg > fit.tiltWithinDeg) found.push({ code: 'plane-tilted', text: `The cusps on the table stand ${fit.tiltDeg.toFixed(1)} degrees off the plane of the plan.`, next: 'Register the plan to the table and take its corrected view.' });
  if (isBad) found.push({ code: 'marks-fit-badly', text: 'The marks fit one another worse than their noise explains; the band is widened.', next: 'Mark again, four clicks a point.' });
  return found;
}
