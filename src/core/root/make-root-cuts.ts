import { along, cross, dot, scale, sub, unit, type Vec3 } from '../math/vec3.ts';
import { fail, succeed, type Result } from '../result.ts';
import { sampleCubicPointsLps } from '../volume/sample-volume.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import type { CutImage, CutMark, CutPlane, CutPoint, CutRole, PlanCuts, RootCut } from './cut-types.ts';
import { makeSurveyFrame } from './make-survey-frame.ts';
import type { RootFrame } from './root-frame.ts';
import { CUSPS, type LevelRing, type RootSurvey, type Xyz } from './root-types.ts';

export type RootCutFailureCode = 'cut-outside-volume';

const SIDE_MM = 64;
const PIXEL_MM = 0.25;
/** A long cut shows this much of its height below the basal plane; the rest is above. */
const BELOW_MM = 24;
/** Ostia further out of a long cut than this are not drawn on it. */
const OSTIUM_REACH_MM = 8;
const SAME_HEIGHT_MM = 0.3;

/**
 * CT pictures with marks: across the root at the basal plane, in the outflow tract and at the widest sinus; along
 * the root through the axis and each nadir.
 *
 * Units     mm; grey levels 0-255, linear from -150 HU to the larger of 600 HU and twice the blood pool, so that blood
 *           is mid-grey and calcium stays brighter than blood
 * Frame     across: seen from the aorta, the R nadir's azimuth on top, so that L lies left below and N right below;
 *           along: the aorta on top, the named nadir on the right
 * Fails     cut-outside-volume, when less than half of the basal picture lies in the volume
 * Source    docs/methods/pictures.md
 * Accuracy  Catmull-Rom samples every 0.25 mm; marks are in mm and do not pass through pixels
 */
export function makeRootCuts(
  volume: CtVolume, root: RootSurvey, bloodHu: number,
): Result<PlanCuts, RootCutFailureCode> {
  const frame = makeSurveyFrame(root);
  const highHu = Math.max(600, Number.isFinite(bloodHu) ? 2 * bloodHu : 0);
  const cutAcross = (role: CutRole, heightMm: number): { cut: RootCut; insideRatio: number } => {
    const plane = placeCrossCut(frame, heightMm);
    const { image, insideRatio } = sampleImage(volume, plane, highHu);
    return { cut: { role, heightMm, plane, image, marks: markCrossCut(root, plane, heightMm) }, insideRatio };
  };
  const basal = cutAcross('basal', 0);
  if (!(basal.insideRatio >= 0.5)) {
    return fail('cut-outside-volume', `Only ${Math.round(100 * basal.insideRatio)} % of the picture at the basal plane lies in the scan.`,
      'Check that the marks belong to this series (same frame of reference).', { insideRatio: basal.insideRatio });
  }
  const cuts: RootCut[] = [basal.cut];
  for (const cusp of CUSPS) {
    const plane = placeLongCut(frame, root.basalPlane.nadirsLps[cusp]);
    cuts.push({
      role: `nadir-${cusp}`, heightMm: null, plane, image: sampleImage(volume, plane, highHu).image,
      marks: markLongCut(root, frame, plane, cusp),
    });
  }
  cuts.push(cutAcross('outflow', root.outflowTract.heightMm).cut);
  const widest = findWidestSinus(root.levels, root.sinotubularJunction.heightMm.value);
  if (widest) cuts.push(cutAcross('sinus', widest.heightMm).cut);
  return succeed({ cuts });
}

/** The level of largest area between the basal plane and the junction; null when none was measured there. */
export function findWidestSinus(levels: readonly LevelRing[], junctionHeightMm: number | null): LevelRing | null {
  let widest: LevelRing | null = null;
  for (const level of levels) {
    if (!(level.heightMm > 0 && level.heightMm < (junctionHeightMm ?? Infinity))) continue;
    if (level.areaMm2.value === null) continue;
    if (widest === null || level.areaMm2.value > widest.areaMm2.value!) widest = level;
  }
  return widest;
}

function placeCrossCut(frame: RootFrame, heightMm: number): CutPlane {
  const acrossLps = scale(frame.vLps, -1);
  const downLps = scale(frame.uLps, -1);
  const centre = along(frame.originLps, frame.normalLps, heightMm);
  const originLps = along(along(centre, acrossLps, -SIDE_MM / 2), downLps, -SIDE_MM / 2);
  return { originLps, acrossLps, downLps, widthMm: SIDE_MM, heightMm: SIDE_MM };
}

function placeLongCut(frame: RootFrame, nadirLps: Xyz): CutPlane {
  const d = sub(nadirLps, frame.originLps);
  const flat = sub(d, scale(frame.normalLps, dot(d, frame.normalLps)));
  const acrossLps = dot(flat, flat) > 1e-12 ? unit(flat) : frame.uLps;
  const top = along(frame.originLps, frame.normalLps, SIDE_MM - BELOW_MM);
  return {
    originLps: along(top, acrossLps, -SIDE_MM / 2), acrossLps, downLps: scale(frame.normalLps, -1),
    widthMm: SIDE_MM, heightMm: SIDE_MM,
  };
}

function sampleImage(volume: CtVolume, plane: CutPlane, highHu: number): { image: CutImage; insideRatio: number } {
  const widthPx = Math.round(plane.widthMm / PIXEL_MM);
  const heightPx = Math.round(plane.heightMm / PIXEL_MM);
  const lowHu = -150;
  const points = new Float64Array(3 * widthPx * heightPx);
  let at = 0;
  for (let row = 0; row < heightPx; row++) {
    for (let column = 0; column < widthPx; column++) {
      const p = lpsFromCut(plane, [(column + 0.5) * PIXEL_MM, (row + 0.5) * PIXEL_MM]);
      points[at++] = p[0];
      points[at++] = p[1];
      points[at++] = p[2];
    }
  }
  const hu = sampleCubicPointsLps(volume, points, new Float32Array(widthPx * heightPx));
  const greyLevels = new Uint8Array(hu.length);
  let inside = 0;
  for (let i = 0; i < hu.length; i++) {
    const value = hu[i]!;
    if (!Number.isFinite(value)) continue; // outside the scan stays black
    inside++;
    greyLevels[i] = Math.max(0, Math.min(255, Math.round((255 * (value - lowHu)) / (highHu - lowHu))));
  }
  return { image: { greyLevels, widthPx, heightPx, lowHu, highHu }, insideRatio: inside / hu.length };
}

/** Point of a picture in the patient. */
export function lpsFromCut(plane: CutPlane, at: CutPoint): [number, number, number] {
  return along(along(plane.originLps, plane.acrossLps, at[0]), plane.downLps, at[1]);
}

/** Foot of a patient point on the picture, and how far it lies in front of it (toward the viewer) in mm. */
export function cutFromLps(plane: CutPlane, pointLps: Vec3): { at: CutPoint; offMm: number } {
  const d = sub(pointLps, plane.originLps);
  const toViewer = cross(plane.downLps, plane.acrossLps);
  return { at: [dot(d, plane.acrossLps), dot(d, plane.downLps)], offMm: dot(d, toViewer) };
}

function markCrossCut(root: RootSurvey, plane: CutPlane, heightMm: number): readonly CutMark[] {
  const marks: CutMark[] = [];
  const level = root.levels.find((l) => Math.abs(l.heightMm - heightMm) <= SAME_HEIGHT_MM);
  const contour = heightMm === 0 ? root.basalRing.contourLps : (level?.contourLps ?? []);
  if (contour.length >= 3) marks.push({ kind: 'ring', points: contour.map((p) => cutFromLps(plane, p).at) });
  if (heightMm === 0) {
    for (const cusp of CUSPS) marks.push({ kind: 'nadir', cusp, ...cutFromLps(plane, root.basalPlane.nadirsLps[cusp]) });
  }
  return marks;
}

function markLongCut(root: RootSurvey, frame: RootFrame, plane: CutPlane, cusp: 'R' | 'L' | 'N'): readonly CutMark[] {
  const marks: CutMark[] = [];
  const axisX = cutFromLps(plane, frame.originLps).at[0];
  marks.push({ kind: 'axis', from: [axisX, 0], to: [axisX, plane.heightMm] });
  const acrossAt = (heightMm: number): [CutPoint, CutPoint] => {
    const y = cutFromLps(plane, along(frame.originLps, frame.normalLps, heightMm)).at[1];
    return [[0, y], [plane.widthMm, y]];
  };
  const [from, to] = acrossAt(0);
  marks.push({ kind: 'plane', level: 'basal', from, to });
  const junction = root.sinotubularJunction.heightMm.value;
  if (junction !== null) {
    const [left, right] = acrossAt(junction);
    marks.push({ kind: 'plane', level: 'junction', from: left, to: right });
  }
  for (const side of [1, -1] as const) {
    const points: CutPoint[] = [];
    for (const level of [...root.levels].sort((a, b) => a.heightMm - b.heightMm)) {
      const x = findCrossing(level.contourLps.map((p) => cutFromLps(plane, p)), axisX, side);
      if (x === null) continue;
      const y = acrossAt(level.heightMm)[0][1];
      if (y >= 0 && y <= plane.heightMm) points.push([x, y]);
    }
    if (points.length > 0) marks.push({ kind: 'wall', points });
  }
  marks.push({ kind: 'nadir', cusp, ...cutFromLps(plane, root.basalPlane.nadirsLps[cusp]) });
  for (const side of ['left', 'right'] as const) {
    const ostium = root.coronaries[side];
    if (!ostium) continue;
    const foot = cutFromLps(plane, ostium.ostiumLps);
    const isOnPicture = foot.at[0] >= 0 && foot.at[0] <= plane.widthMm && foot.at[1] >= 0 && foot.at[1] <= plane.heightMm;
    if (isOnPicture && Math.abs(foot.offMm) <= OSTIUM_REACH_MM) marks.push({ kind: 'ostium', side, ...foot });
  }
  return marks;
}

/** Outermost crossing of a closed contour with the picture on one side of the axis; null when there is none. */
function findCrossing(
  contour: readonly { readonly at: CutPoint; readonly offMm: number }[], axisX: number, side: 1 | -1,
): number | null {
  let outermost: number | null = null;
  contour.forEach((a, i) => {
    const b = contour[(i + 1) % contour.length]!;
    if (a.offMm >= 0 === b.offMm >= 0) return;
    const x = a.at[0] + (a.offMm / (a.offMm - b.offMm)) * (b.at[0] - a.at[0]);
    if ((x - axisX) * side <= 0) return;
    if (outermost === null || (x - outermost) * side > 0) outermost = x;
  });
  return outermost;
}
