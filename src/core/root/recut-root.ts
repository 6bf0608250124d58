import { dot, sub, type Vec3 } from '../math/vec3.ts';
import { fail, succeed, type Result } from '../result.ts';
import type { FactStamp } from '../units/fact.ts';
import { makeCuspSectors } from './calcium-sectors.ts';
import { readCrown, type Crown } from './find-crown.ts';
import type { WallTable } from './find-junction.ts';
import { TISSUE_HU } from './locate-root.ts';
import { BASAL, cutRing, drawContour, unrollWall } from './map-wall.ts';
import { measureRing, smoothRing, type RingMeasures } from './measure-ring.ts';
import { byCusp, CONTOUR_BY_HAND, JUNCTION_NOT_FOUND, LOWEST_LEVEL_MM, makeBasalCrown, measureWallParts, propagatePlane, readPlaneSd } from './measure-wall-parts.ts';
import { straightenHinge } from './mend-wall.ts';
import { MARK_SD_MM, orderMarks, readMarkedPlane } from './read-marked-plane.ts';
import { estimateEdgeSd } from './propagate.ts';
import { recutCalcium } from './recut-calcium.ts';
import { findCutCentre, remapWall } from './remap-wall.ts';
import { factOf, type FactMaker } from './ring-facts.ts';
import { cylinderFromLps, lpsFromCylinder, makeRootFrame, type RootFrame } from './root-frame.ts';
import { CUSPS, type ByCusp, type CoronaryOstium, type Landmarks, type RootMap, type RootSurvey, type Xyz } from './root-types.ts';
import type { SurveyDocument } from './survey-document.ts';
import type { PlanMessage } from './survey-types.ts';
import { checkContourPlace, isContourByHand, readContour, useContour, type ContourFailureCode, type UsedContour } from './use-contour.ts';

export type RecutFailureCode = ContourFailureCode | 'nadirs-collinear' | 'nadirs-implausible' | 'recut-too-far' | 'recut-needs-scan';

/** Parts of the root that need the picture again; until then they stay as the last survey gave them. */
export type PendingPart = 'calcium' | 'leaflets' | 'ascendingAorta' | 'coronaries';

export interface RecutAnswer {
  readonly root: RootSurvey;
  readonly frame: RootFrame;
  readonly wall: WallTable;
  /** What the page shows as "recomputing". */
  readonly pending: readonly PendingPart[];
  /** About the root as it is now; those of the last survey about plane, names and junction no longer hold. */
  readonly messages: readonly PlanMessage[];
}
/** The ring alone, for a mark that is still being dragged. */
export interface RecutRing {
  readonly frame: RootFrame;
  readonly ring: RingMeasures;
  readonly contourLps: readonly Xyz[];
}

/** Beyond, the wall was seen too slantingly or too far off the middle of the picture to stand for the new root. */
const MOST_TILT_DEG = 20;
const MOST_SHIFT_MM = 8;
/** The outflow tract and the septum are read down to here. */
const NEEDED_LOW_MM = -10.5;
const NEEDED_HIGH_MM = 12;
/** Scatter of the best seen ostium about its own middle. */
const LEAST_OSTIUM_SD_MM = 0.25;
const NEED_PICTURE: readonly PendingPart[] = ['calcium', 'leaflets', 'ascendingAorta'];

/**
 * The root about moved marks, from the wall of the last survey: at once, without the CT. What the survey says with the
 * same marks differs only by the wall being sought anew about the new axis (figures on the method page).
 *
 * Units     LPS mm; every number a Fact with the survey's own intervals, `edited`
 * Frame     of `document`; `root` is the root of the plan that the document belongs to
 * Fails     recut-needs-scan (marks were given back to the tool), recut-too-far, nadirs-collinear, nadirs-implausible, and
 *           as readContour and useContour
 * Source    docs/methods/moved-marks.md
 * Accuracy  docs/methods/moved-marks.md, table; the same marks as the survey's own give its numbers again
 */
export function recutRoot(root: RootSurvey, document: SurveyDocument, marks: Landmarks | null, stamp: FactStamp): Result<RecutAnswer, RecutFailureCode> {
  const nadirs = marks?.nadirsLps ?? (marks?.contourLps ? root.basalPlane.nadirsLps : null);
  const isPlaneKept = nadirs ? document.isMarked && !marks?.contourLps && !isContourByHand(root.basalRing) && isSamePlace(nadirs, root.basalPlane.nadirsLps) : true;
  if (isPlaneKept) {
    if (!nadirs && (document.isMarked || isContourByHand(root.basalRing))) return failNeedsScan();
    const { coronaries, pending } = placeOstia(root, document, marks, null, document.nadirSdMm, stamp);
    return succeed({ root: { ...root, coronaries }, frame: document.frame, wall: document.wall, pending, messages: [] });
  }
  const placed = placeRoot(document, nadirs!, marks?.contourLps ?? null);
  return placed.ok ? succeed(measureRecut(root, document, placed.value, marks, stamp)) : placed;
}

/**
 * Ring and plane about marks that are being dragged: no facts, a few milliseconds.
 * Fails     as recutRoot, without the contour
 */
export function recutRing(document: SurveyDocument, nadirsLps: ByCusp<Xyz>): Result<RecutRing, RecutFailureCode> {
  const placed = placeRoot(document, nadirsLps, null);
  if (!placed.ok) return placed;
  const { frame, table } = placed.value;
  const fine = smoothRing(cutRing(table, BASAL, 0));
  return succeed({ frame, ring: measureRing(fine), contourLps: drawContour(frame, fine, 0) });
}

interface PlacedRoot {
  readonly frame: RootFrame;
  readonly table: WallTable;
  readonly isBridged: Uint8Array;
  readonly crown: Crown;
  readonly order: readonly ('R' | 'L' | 'N')[];
  readonly nadirsLps: ByCusp<Vec3>;
  readonly byHand: UsedContour | null;
  readonly lowMm: number;
}

function placePlane(document: SurveyDocument, nadirs: ByCusp<Xyz>): Result<{ readonly frame: RootFrame; readonly tiltDeg: number }, RecutFailureCode> {
  const read = readMarkedPlane(nadirs, document.frame.normalLps);
  if (!read.ok) return read;
  const plane = read.value;
  const tiltDeg = (Math.acos(Math.min(1, dot(plane.normalLps, document.frame.normalLps))) * 180) / Math.PI;
  const centre = findCutCentre(document.seenWall, document.frame, plane);
  const shiftMm = Math.hypot(...sub(centre, document.frame.originLps));
  if (!(tiltDeg <= MOST_TILT_DEG && shiftMm <= MOST_SHIFT_MM)) return failTooFar(tiltDeg, shiftMm);
  return succeed({ frame: makeRootFrame(centre, plane.normalLps, nadirs.R), tiltDeg });
}

function failTooFar(tiltDeg: number, shiftMm: number): ReturnType<typeof fail<'recut-too-far'>> {
  return fail('recut-too-far', `The plane was turned by ${tiltDeg.toFixed(0)} degrees and its middle moved by ${shiftMm.toFixed(0)} mm: the wall that was found does not reach that far.`,
    'Wait for the scan to be measured again with these marks.', { tiltDeg: Math.round(tiltDeg), shiftMm: Math.round(shiftMm) });
}

function failNeedsScan(): ReturnType<typeof fail<'recut-needs-scan'>> {
  return fail('recut-needs-scan', 'Nadirs or ring were given back to the tool, which needs the picture again.', 'Wait for the scan to be measured again.');
}

/** Coordinates of a plan are rounded to a tenth of a micrometre. */
const SAME_MM = 1e-3;
const isSamePlace = (a: ByCusp<Xyz>, b: ByCusp<Xyz>): boolean => CUSPS.every((c) => Math.hypot(...sub(a[c], b[c])) < SAME_MM);

/** Frame, wall and crown about the marks, as the survey settles them. */
function placeRoot(document: SurveyDocument, nadirs: ByCusp<Xyz>, contourLps: readonly Xyz[] | null): Result<PlacedRoot, RecutFailureCode> {
  const plane = placePlane(document, nadirs);
  if (!plane.ok) return plane;
  let { frame } = plane.value;
  const { order, commissuresLps } = orderMarks(nadirs, frame);
  const contour = contourLps ? readContour(contourLps, frame) : null;
  if (contour && !contour.ok) return contour;
  const astray = contour && checkContourPlace(contour.value, frame);
  if (astray) return astray;
  if (contour) frame = makeRootFrame(contour.value.centreLps, frame.normalLps, nadirs.R);
  const crown = makeBasalCrown(frame, order.map((c) => nadirs[c]), commissuresLps);
  const remapped = remapWall(document.seenWall, document.frame, frame);
  if (!(remapped.lowMm <= NEEDED_LOW_MM && remapped.highMm >= NEEDED_HIGH_MM)) return failTooFar(plane.value.tiltDeg, Math.hypot(...sub(frame.originLps, document.frame.originLps)));
  const automatic = straightenHinge(remapped.wall, (rad) => readCrown(crown, rad));
  const byHand = contour ? useContour(contour.value, automatic) : null;
  if (byHand && !byHand.ok) return byHand;
  return succeed({
    frame, table: byHand?.value.wall ?? automatic, isBridged: Uint8Array.from(remapped.sourceCell, (c) => document.isBridged[c]!), crown, order,
    nadirsLps: nadirs, byHand: byHand?.value ?? null, lowMm: remapped.lowMm,
  });
}

function measureRecut(root: RootSurvey, document: SurveyDocument, placed: PlacedRoot, marks: Landmarks | null, stamp: FactStamp): RecutAnswer {
  const { frame, table } = placed;
  const { blood, voxelMm, blurMm } = document;
  // Marks of the plan that nobody moved count as a person's too, as in the survey.
  const nadirSdMm = byCusp(() => MARK_SD_MM);
  const make: FactMaker = { stamp, doubts: document.doubts, kind: 'edited' };
  const edgeSdMm = estimateEdgeSd(blurMm, voxelMm, blood.noiseHu, blood.levelHu - TISSUE_HU);
  const { parts, junction, junctionMm, sectors } = measureWallParts({ ...placed, nadirSdMm, nadirAlongSdMm: nadirSdMm, edgeSdMm, voxelMm }, make, [], document.valve);
  const messages: PlanMessage[] = [];
  if (!junction) messages.push(JUNCTION_NOT_FOUND);
  if (placed.byHand) messages.push(CONTOUR_BY_HAND);
  const ostia = placeOstia(root, document, marks, frame, nadirSdMm, stamp);
  const recut: RootSurvey = {
    ...root,
    ...parts,
    coronaries: ostia.coronaries,
    ...(root.calcium ? { calcium: recutCalcium(root.calcium, frame, makeCuspSectors(table, sectors, junctionMm), stamp) } : {}),
    map: recutMap(root.map, document.frame, frame, table),
  };
  return { root: recut, frame, wall: table, pending: [...NEED_PICTURE, ...ostia.pending], messages };
}

/** SD of the height of the plane under a point, from those of the three nadirs; as the survey reads it. */
function makePlaneSd(frame: RootFrame, nadirs: ByCusp<Xyz>, nadirSdMm: ByCusp<number>, voxelMm: number): (pointLps: Xyz) => number {
  const doubt = propagatePlane(frame, nadirs, nadirSdMm, voxelMm, 0);
  return (pointLps) => readPlaneSd(doubt, cylinderFromLps(frame, pointLps));
}

/**
 * A marked ostium, or the place of the last survey seen from the new plane (`frame` null: the plane stayed); its own
 * scatter comes from that survey's interval. A mark given back stays until the picture was looked at.
 */
function placeOstia(
  root: RootSurvey, document: SurveyDocument, marks: Landmarks | null, frame: RootFrame | null, nadirSdMm: ByCusp<number>, stamp: FactStamp,
): { readonly coronaries: RootSurvey['coronaries']; readonly pending: readonly PendingPart[] } {
  const nadirs = marks?.nadirsLps ?? root.basalPlane.nadirsLps;
  const here = frame ?? document.frame;
  const planeSd = makePlaneSd(here, frame ? nadirs : root.basalPlane.nadirsLps, nadirSdMm, document.voxelMm);
  const wasPlaneSd = makePlaneSd(document.frame, root.basalPlane.nadirsLps, document.nadirSdMm, document.voxelMm);
  const make: FactMaker = { stamp, doubts: document.doubts, kind: 'edited' };
  let isGivenBack = false;
  const place = (side: 'left' | 'right'): CoronaryOstium | undefined => {
    const mark = marks?.ostiaLps?.[side];
    if (mark) return { ostiumLps: mark, heightMm: factOf(make, cylinderFromLps(here, mark).heightMm, Math.hypot(planeSd(mark), 0.5), 'mm', 'root.coronaries/1', ['root.basalPlane']) };
    const was = root.coronaries[side];
    if (!was || was.heightMm.value === null) return was;
    if (was.heightMm.source.kind === 'edited' && !was.heightMm.source.from.includes('scan')) isGivenBack = true;
    if (!frame) return was;
    const wasSd = (was.heightMm.high! - was.heightMm.low!) / 3.92;
    const ownSd = Math.sqrt(Math.max(LEAST_OSTIUM_SD_MM ** 2, wasSd ** 2 - wasPlaneSd(was.ostiumLps) ** 2));
    const own = was.heightMm.reasons.filter((r) => r.code === 'ostium-faint' || r.code === 'ostium-merged');
    return { ostiumLps: was.ostiumLps, heightMm: factOf(make, cylinderFromLps(frame, was.ostiumLps).heightMm, Math.hypot(planeSd(was.ostiumLps), ownSd), 'mm', 'root.coronaries/1', ['root.basalPlane', 'scan'], own) };
  };
  const left = place('left');
  const right = place('right');
  return { coronaries: { ...(left ? { left } : {}), ...(right ? { right } : {}) }, pending: isGivenBack ? ['coronaries'] : [] };
}

/** Radii of the new wall; brightness of the wall from the old map at the same place. */
function recutMap(was: RootMap, before: RootFrame, frame: RootFrame, table: WallTable): RootMap {
  const { azimuthDeg, heightMm, radiusAt } = unrollWall(table, LOWEST_LEVEL_MM);
  const step = was.azimuthDeg.length;
  const brightness = (deg: number, h: number): number | null => {
    const p = cylinderFromLps(before, lpsFromCylinder(frame, { azimuthRad: (deg * Math.PI) / 180, heightMm: h, radiusMm: radiusAt(deg, h) }));
    const column = ((Math.round((p.azimuthRad / (2 * Math.PI)) * step) % step) + step) % step;
    const row = Math.round(p.heightMm - (was.heightMm[0] ?? 0));
    return was.calciumHu[Math.max(0, Math.min(was.calciumHu.length - 1, row))]?.[column] ?? null;
  };
  return { azimuthDeg, heightMm, radiusMm: heightMm.map((h) => azimuthDeg.map((d) => radiusAt(d, h))), calciumHu: heightMm.map((h) => azimuthDeg.map((d) => brightness(d, h))) };
}
