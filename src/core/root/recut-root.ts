import { dot, sub, type Vec3 } from '../math/vec3.ts';
import { fail, succeed, type Result } from '../result.ts';
import { refuseFact, type FactStamp, type Reason } from '../units/fact.ts';
import { makeCuspSectors } from './calcium-sectors.ts';
import { readCrown, type Crown } from './find-crown.ts';
import { findJunction, type WallTable } from './find-junction.ts';
import { planeThrough, TISSUE_HU } from './locate-root.ts';
import { BASAL, cutRing, drawContour, readTable } from './map-wall.ts';
import { measureRing, smoothRing, type RingMeasures } from './measure-ring.ts';
import { measureSeptum } from './measure-septum.ts';
import { measureJunctionDiameter, measureSinuses, wrapTurn, type Sector } from './measure-sinuses.ts';
import { straightenHinge } from './mend-wall.ts';
import { estimateEdgeSd, propagateNadirs } from './propagate.ts';
import { recutCalcium } from './recut-calcium.ts';
import { findCutCentre, remapWall } from './remap-wall.ts';
import { factOf, makeBasalRing, makeLevel, type FactMaker, type RingOrigin } from './ring-facts.ts';
import { cylinderFromLps, lpsFromCylinder, makeRootFrame, type RootFrame } from './root-frame.ts';
import { CUSPS, type ByCusp, type CoronaryOstium, type Landmarks, type LevelRing, type RootMap, type RootSurvey, type Xyz } from './root-types.ts';
import type { SurveyDocument } from './survey-document.ts';
import type { PlanMessage } from './survey-types.ts';
import { checkContourPlace, CONTOUR_METHOD, FADE_MM, readContour, useContour, type ContourFailureCode, type UsedContour } from './use-contour.ts';

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

/** As the survey: a person's nadir, one SD [M]. */
const MARK_SD_MM = 0.5;
/** As the survey: of a nadir along the wall's radius. */
const NADIR_RADIUS_SD_MM = 0.2;
/** As the survey: where no crown was fitted, commissures stand this high, half way between nadirs. */
const COMMISSURE_MM = 14;
const LOWEST_LEVEL_MM = -12;
const LEVELS_ABOVE_JUNCTION_MM = 6;
/** Beyond, the wall was seen too slantingly or too far off the middle of the picture to stand for the new root. */
const MOST_TILT_DEG = 20;
const MOST_SHIFT_MM = 8;
/** The outflow tract and the septum are read down to here. */
const NEEDED_LOW_MM = -10.5;
const NEEDED_HIGH_MM = 12;
/** Scatter of the best seen ostium about its own middle. */
const LEAST_OSTIUM_SD_MM = 0.25;
const NEED_PICTURE: readonly PendingPart[] = ['calcium', 'leaflets', 'ascendingAorta'];
const byCusp = <T>(f: (c: 'R' | 'L' | 'N') => T): ByCusp<T> => ({ R: f('R'), L: f('L'), N: f('N') });
const xyz = (p: Vec3): Xyz => [p[0], p[1], p[2]];

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
  const isPlaneKept = nadirs ? document.isMarked && !marks?.contourLps && !isDrawn(root) && isSamePlace(nadirs, root.basalPlane.nadirsLps) : true;
  if (isPlaneKept) {
    if (!nadirs && (document.isMarked || isDrawn(root))) return failNeedsScan();
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
  const points = CUSPS.map((c) => nadirs[c] as Vec3);
  const plane = planeThrough(points, document.frame.normalLps);
  if (!plane) return fail('nadirs-collinear', 'The three marked nadirs lie in one line, so they define no plane.', 'Move the marks to the lowest point of each cusp.');
  const sides = points.map((p, i) => Math.hypot(...sub(p, points[(i + 1) % 3]!)));
  if (!(Math.min(...sides) >= 8 && Math.max(...sides) <= 45)) {
    return fail('nadirs-implausible', `The marked nadirs are ${sides.map((s) => s.toFixed(0)).join(', ')} mm apart; 8 to 45 mm are possible.`, 'Check the marks and that they are LPS coordinates in mm.');
  }
  const tiltDeg = (Math.acos(Math.min(1, dot(plane.normalLps, document.frame.normalLps))) * 180) / Math.PI;
  const centre = findCutCentre(document.seenWall, document.frame, plane);
  const shiftMm = Math.hypot(...sub(centre, document.frame.originLps));
  if (!(tiltDeg <= MOST_TILT_DEG && shiftMm <= MOST_SHIFT_MM)) return failTooFar(tiltDeg, shiftMm);
  return succeed({ frame: makeRootFrame(centre, plane.normalLps, points[0]!), tiltDeg });
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
  const azimuth = (c: 'R' | 'L' | 'N'): number => wrapTurn(cylinderFromLps(frame, nadirs[c]).azimuthRad);
  const order = [...CUSPS].sort((a, b) => wrapTurn(azimuth(a) - azimuth('R')) - wrapTurn(azimuth(b) - azimuth('R')));
  const commissures = order.map((c, i) => lpsFromCylinder(frame, { azimuthRad: azimuth(c) + wrapTurn(azimuth(order[(i + 1) % 3]!) - azimuth(c)) / 2, heightMm: COMMISSURE_MM, radiusMm: 12 }));
  const contour = contourLps ? readContour(contourLps, frame) : null;
  if (contour && !contour.ok) return contour;
  const astray = contour && checkContourPlace(contour.value, frame);
  if (astray) return astray;
  if (contour) frame = makeRootFrame(contour.value.centreLps, frame.normalLps, nadirs.R);
  const at = (p: Vec3): { rad: number; mm: number } => {
    const c = cylinderFromLps(frame, p);
    return { rad: wrapTurn(c.azimuthRad), mm: c.heightMm };
  };
  const crown: Crown = {
    nadirRad: order.map((c) => at(nadirs[c]).rad), nadirMm: order.map((c) => at(nadirs[c]).mm),
    commissureRad: commissures.map((p) => at(p).rad), commissureMm: commissures.map((p) => Math.max(6, at(p).mm)),
  };
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
  const { frame, table, isBridged, crown, order, nadirsLps, byHand } = placed;
  const { blood, voxelMm, blurMm } = document;
  const messages: PlanMessage[] = [];
  // Marks of the plan that nobody moved count as a person's too, as in the survey.
  const nadirSdMm = byCusp(() => MARK_SD_MM);
  const make: FactMaker = { stamp, doubts: document.doubts, kind: 'edited' };
  const edge = estimateEdgeSd(blurMm, voxelMm, blood.noiseHu, blood.levelHu - TISSUE_HU);
  const coarse = 0.35 * Math.max(0, voxelMm - 0.6);
  const doubt = propagateNadirs(frame, CUSPS.map((c) => nadirsLps[c]), CUSPS.map((c) => Math.hypot(nadirSdMm[c], coarse)), edge);
  const sectors = byCusp((c): Sector => {
    const i = order.indexOf(c);
    return { from: crown.commissureRad[(i + 2) % 3]!, to: crown.commissureRad[i]! };
  });
  const nadirRad = byCusp((c) => crown.nadirRad[order.indexOf(c)]!);
  const junction = findJunction(table);
  const junctionMm = junction?.heightMm ?? 20;
  if (!junction) messages.push(NO_JUNCTION);
  if (byHand) messages.push(CONTOUR_BY_HAND);
  const handRing: RingOrigin | null = byHand && { method: CONTOUR_METHOD, from: ['landmarks.contourLps', 'root.basalPlane'], spread: byHand.spreadAt };
  const levelAt = (h: number): LevelRing => {
    const share = readBridgedShare(table, isBridged, h);
    if (!handRing || byHand!.shareAt(h) === 0) return makeLevel(frame, table, h, doubt, make, bridgedReason(share), share);
    return makeLevel(frame, table, h, doubt, make, h === 0 ? byHand!.doubts : [...byHand!.doubts, byHand!.carried, ...bridgedReason(share)], share, handRing);
  };
  const ringShare = readBridgedShare(table, isBridged, 0);
  const highest = Math.min(Math.ceil(junctionMm + LEVELS_ABOVE_JUNCTION_MM), table.lowMm + (table.heights - 2) * table.stepMm);
  const levels: LevelRing[] = [];
  for (let h = Math.max(LOWEST_LEVEL_MM, Math.ceil(placed.lowMm)); h <= highest; h++) levels.push(levelAt(h));
  const { contourLps: _contour, ...outflow } = levelAt(-5);
  const septum = measureSeptum(table, { from: nadirRad.R - Math.PI / 3, to: nadirRad.R + Math.PI / 3 });
  const planeSd = Math.max(...CUSPS.map((c) => nadirSdMm[c]));
  const originSd = (1.1 * Math.hypot(...CUSPS.map((c) => nadirSdMm[c]))) / 3;
  const angulation = (Math.acos(Math.min(1, Math.abs(frame.normalLps[2]))) * 180) / Math.PI;
  const noJunction = (method: string) => refuseFact('mm', method, stamp, { code: 'junction-not-found', text: 'The wall above the sinuses shows no junction.', next: 'Mark the junction by hand on the long cuts.' });
  const sinuses = junction ? measureSinuses(table, junction, sectors, nadirRad) : null;
  const ostia = placeOstia(root, document, marks, frame, nadirSdMm, stamp);
  const recut: RootSurvey = {
    ...root,
    basalPlane: {
      pointLps: frame.originLps, normalLps: frame.normalLps, nadirsLps: byCusp((c) => xyz(nadirsLps[c])), tiltUncertaintyDeg: doubt.tilt95Deg,
      nadirUncertaintyMm: byCusp((c) => 2 * Math.hypot(nadirSdMm[c], MARK_SD_MM, NADIR_RADIUS_SD_MM)),
    },
    angulationDeg: factOf(make, angulation, doubt.tilt95Deg / 2.45, 'deg', 'root.angulation/1', ['root.basalPlane']),
    basalRing: handRing ? makeBasalRing(frame, table, doubt, make, byHand!.doubts, 0, handRing) : makeBasalRing(frame, table, doubt, make, bridgedReason(ringShare), ringShare),
    levels,
    outflowTract: outflow,
    sinuses: {
      widthMm: byCusp((c) => (sinuses ? factOf(make, sinuses.widthMm[c], Math.hypot(sinuses.widthSdMm[c], 2 * edge), 'mm', 'root.sinuses/1', ['root.levels'], document.valve) : noJunction('root.sinuses/1'))),
      heightMm: byCusp((c) => (sinuses && junction
        ? factOf(make, sinuses.heightMm[c], Math.hypot(nadirSdMm[c], 1.4 * junction.heightSdMm, 0.25), 'mm', 'root.sinuses/1', ['root.basalPlane', 'root.sinotubularJunction'], document.valve)
        : noJunction('root.sinuses/1'))),
    },
    sinotubularJunction: {
      heightMm: junction ? factOf(make, junction.heightMm, Math.hypot(originSd, junction.heightSdMm), 'mm', 'root.junction/3', ['root.basalPlane', 'root.levels']) : noJunction('root.junction/3'),
      diameterMm: junction ? factOf(make, measureJunctionDiameter(table, junction), Math.hypot(2 * edge, 0.2), 'mm', 'root.junction/3', ['root.levels']) : noJunction('root.junction/3'),
    },
    coronaries: ostia.coronaries,
    ...(root.calcium ? { calcium: recutCalcium(root.calcium, frame, makeCuspSectors(table, sectors, junctionMm), stamp) } : {}),
    septum: {
      bulgeMm: factOf(make, septum.bulgeMm, Math.hypot(edge, septum.bulgeSdMm), 'mm', 'root.septum/1', ['root.map']),
      bulgeHeightMm: factOf(make, septum.bulgeHeightMm, Math.hypot(planeSd, 1), 'mm', 'root.septum/1', ['root.map']),
      angleToBasalPlaneDeg: factOf(make, septum.angleDeg, Math.hypot(doubt.tilt95Deg / 2.45, 1.5), 'deg', 'root.septum/1', ['root.map']),
    },
    map: recutMap(root.map, document.frame, frame, table),
  };
  return { root: recut, frame, wall: table, pending: [...NEED_PICTURE, ...ostia.pending], messages };
}

const NO_JUNCTION: PlanMessage = { code: 'junction-not-found', section: 'root', text: 'The wall above the sinuses shows no junction; levels go to 26 mm.', next: 'Look at the long cuts and mark the junction by hand.' };
const CONTOUR_BY_HAND: PlanMessage = {
  code: 'contour-by-hand', section: 'root',
  text: `The basal ring is the contour a person drew; rings within ${FADE_MM} mm of it lean toward it, all others are as found.`,
  next: 'Leave contourLps out of the landmarks to see the automatic ring.',
};
const isDrawn = (root: RootSurvey): boolean => root.basalRing.areaMm2.source.method === CONTOUR_METHOD;

/** Share of the wall around a height that was bridged over calcium. */
function readBridgedShare(table: WallTable, isBridged: Uint8Array, heightMm: number): number {
  const h = Math.max(0, Math.min(table.heights - 1, Math.round((heightMm - table.lowMm) / table.stepMm)));
  let n = 0;
  for (let a = 0; a < table.azimuths; a++) n += isBridged[h * table.azimuths + a]!;
  return n / table.azimuths;
}

function bridgedReason(share: number): Reason[] {
  if (share < 0.25) return [];
  return [{ code: 'wall-hidden-by-calcium', text: `Calcium hides ${Math.round(100 * share)} % of the wall at this height; it was bridged.`, next: 'Check the contour on the cut through this level.' }];
}

/** SD of the height of the plane under a point, from those of the three nadirs; as the survey reads it. */
function makePlaneSd(frame: RootFrame, nadirs: ByCusp<Xyz>, nadirSdMm: ByCusp<number>, voxelMm: number): (pointLps: Xyz) => number {
  const coarse = 0.35 * Math.max(0, voxelMm - 0.6);
  const { planes } = propagateNadirs(frame, CUSPS.map((c) => nadirs[c]), CUSPS.map((c) => Math.hypot(nadirSdMm[c], coarse)), 0);
  return (pointLps) => {
    const { azimuthRad, radiusMm } = cylinderFromLps(frame, pointLps);
    return Math.hypot(...planes.map((p) => p.c + radiusMm * (p.dx * Math.cos(azimuthRad) + p.dy * Math.sin(azimuthRad))));
  };
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
  const azimuthDeg = Array.from({ length: 72 }, (_, i) => i * 5);
  const topMm = table.lowMm + (table.heights - 1) * table.stepMm;
  const heightMm = Array.from({ length: Math.max(1, Math.floor(topMm - LOWEST_LEVEL_MM) - 8) }, (_, i) => LOWEST_LEVEL_MM + i);
  const radius = (deg: number, h: number): number => {
    const c = (deg / 360) * table.azimuths;
    const a = Math.floor(c) % table.azimuths;
    const f = c - Math.floor(c);
    return readTable(table, a, h) * (1 - f) + readTable(table, (a + 1) % table.azimuths, h) * f;
  };
  const step = was.azimuthDeg.length;
  const brightness = (deg: number, h: number): number | null => {
    const p = cylinderFromLps(before, lpsFromCylinder(frame, { azimuthRad: (deg * Math.PI) / 180, heightMm: h, radiusMm: radius(deg, h) }));
    const column = ((Math.round((p.azimuthRad / (2 * Math.PI)) * step) % step) + step) % step;
    const row = Math.round(p.heightMm - (was.heightMm[0] ?? 0));
    return was.calciumHu[Math.max(0, Math.min(was.calciumHu.length - 1, row))]?.[column] ?? null;
  };
  return { azimuthDeg, heightMm, radiusMm: heightMm.map((h) => azimuthDeg.map((d) => radius(d, h))), calciumHu: heightMm.map((h) => azimuthDeg.map((d) => brightness(d, h))) };
}
