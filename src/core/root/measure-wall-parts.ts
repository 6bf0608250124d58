import type { Vec3 } from '../math/vec3.ts';
import { refuseFact, type Fact, type Reason } from '../units/fact.ts';
import type { Crown } from './find-crown.ts';
import { findJunction, type Junction, type WallTable } from './find-junction.ts';
import { measureSeptum } from './measure-septum.ts';
import { measureJunctionDiameter, measureSinuses, wrapTurn, type Sector } from './measure-sinuses.ts';
import { propagateNadirs, type RootUncertainty } from './propagate.ts';
import { factOf, makeBasalRing, makeLevel, type FactMaker, type RingOrigin } from './ring-facts.ts';
import { cylinderFromLps, type RootFrame } from './root-frame.ts';
import { CUSPS, type ByCusp, type Cusp, type LevelRing, type RootSurvey, type Xyz } from './root-types.ts';
import type { PlanMessage } from './survey-types.ts';
import { CONTOUR_METHOD, FADE_MM, type UsedContour } from './use-contour.ts';

export const LOWEST_LEVEL_MM = -12;
const LEVELS_ABOVE_JUNCTION_MM = 6;
/** How far out a nadir lies: between the foot of the leaflet and the wall behind it. */
const NADIR_RADIUS_SD_MM = 0.2;

export const JUNCTION_NOT_FOUND: PlanMessage = {
  code: 'junction-not-found', section: 'root', text: 'The wall above the sinuses shows no junction; levels go to 26 mm.', next: 'Look at the long cuts and mark the junction by hand.',
};
export const CONTOUR_BY_HAND: PlanMessage = {
  code: 'contour-by-hand', section: 'root',
  text: `The basal ring is the contour a person drew; rings within ${FADE_MM} mm of it lean toward it, all others are as found.`,
  next: 'Leave contourLps out of the landmarks to see the automatic ring.',
};

export const byCusp = <T>(f: (c: Cusp) => T): ByCusp<T> => ({ R: f('R'), L: f('L'), N: f('N') });

/** The wall about its basal plane, and what is not known about both. */
export interface WallRoot {
  readonly frame: RootFrame;
  readonly table: WallTable;
  /** 1 where the wall was bridged over calcium; same index as its radii. */
  readonly isBridged: Uint8Array;
  /** In `frame`; nadirs and commissures in the order of `order`. */
  readonly crown: Crown;
  readonly order: readonly Cusp[];
  readonly nadirsLps: ByCusp<Vec3>;
  readonly nadirSdMm: ByCusp<number>;
  /** SD of each nadir along the wall. */
  readonly nadirAlongSdMm: ByCusp<number>;
  readonly edgeSdMm: number;
  readonly voxelMm: number;
  /** The lowest level that the wall can give. */
  readonly lowMm: number;
  readonly byHand: UsedContour | null;
}

/** What wall and plane give without another look at the picture. */
export interface WallParts {
  readonly parts: Pick<RootSurvey, 'basalPlane' | 'angulationDeg' | 'basalRing' | 'levels' | 'outflowTract' | 'sinuses' | 'sinotubularJunction' | 'septum'>;
  readonly doubt: RootUncertainty;
  readonly junction: Junction | null;
  readonly junctionMm: number;
  readonly sectors: ByCusp<Sector>;
  readonly nadirRad: ByCusp<number>;
}

/**
 * Everything of the root that follows from wall, plane and crown: the survey's own numbers, and those about moved marks.
 * Units     LPS mm; every number a Fact with a 95 % interval
 * Shape     `named`: doubts of whatever carries a cusp's name; `valve`: of what hangs on a single cusp beside them
 * Source    docs/methods/root-survey.md, sections 5 and 6
 */
export function measureWallParts(root: WallRoot, make: FactMaker, named: readonly Reason[], valve: readonly Reason[]): WallParts {
  const { frame, table, isBridged, crown, order, nadirSdMm, byHand } = root;
  const doubt = propagatePlane(frame, root.nadirsLps, nadirSdMm, root.voxelMm, root.edgeSdMm);
  const byLeaflet = [...named, ...valve];
  const sectors = byCusp((c): Sector => {
    const i = order.indexOf(c);
    return { from: crown.commissureRad[(i + 2) % 3]!, to: crown.commissureRad[i]! };
  });
  const nadirRad = byCusp((c) => crown.nadirRad[order.indexOf(c)]!);
  const junction = findJunction(table);
  const junctionMm = junction?.heightMm ?? 20;
  const handRing: RingOrigin | null = byHand && { method: CONTOUR_METHOD, from: ['landmarks.contourLps', 'root.basalPlane'], spread: byHand.spreadAt };
  const edited: FactMaker = { ...make, kind: 'edited' };
  const levelAt = (h: number): LevelRing => {
    const share = readBridgedShare(table, isBridged, h);
    if (!handRing || byHand!.shareAt(h) === 0) return makeLevel(frame, table, h, doubt, make, bridgedReason(share), share);
    return makeLevel(frame, table, h, doubt, edited, h === 0 ? byHand!.doubts : [...byHand!.doubts, byHand!.carried, ...bridgedReason(share)], share, handRing);
  };
  const ringShare = readBridgedShare(table, isBridged, 0);
  const highest = Math.min(Math.ceil(junctionMm + LEVELS_ABOVE_JUNCTION_MM), table.lowMm + (table.heights - 2) * table.stepMm);
  const levels: LevelRing[] = [];
  for (let h = Math.max(LOWEST_LEVEL_MM, Math.ceil(root.lowMm)); h <= highest; h++) levels.push(levelAt(h));
  const { contourLps: _contour, ...outflow } = levelAt(-5);
  const septum = measureSeptum(table, { from: nadirRad.R - Math.PI / 3, to: nadirRad.R + Math.PI / 3 });
  const edge = doubt.edgeSdMm;
  const planeSd = Math.max(...CUSPS.map((c) => nadirSdMm[c]));
  // The middle of the plane is the mean of three nadirs, whose errors are partly shared.
  const originSd = (1.1 * Math.hypot(...CUSPS.map((c) => nadirSdMm[c]))) / 3;
  const angulation = (Math.acos(Math.min(1, Math.abs(frame.normalLps[2]))) * 180) / Math.PI;
  const noJunction = (method: string): Fact =>
    refuseFact('mm', method, make.stamp, { code: 'junction-not-found', text: 'The wall above the sinuses shows no junction.', next: 'Mark the junction by hand on the long cuts.' });
  const sinuses = junction ? measureSinuses(table, junction, sectors, nadirRad) : null;
  const parts: WallParts['parts'] = {
    basalPlane: {
      pointLps: frame.originLps,
      normalLps: frame.normalLps,
      nadirsLps: byCusp((c) => xyz(root.nadirsLps[c])),
      tiltUncertaintyDeg: doubt.tilt95Deg,
      // Along the wall a nadir is less certain than across the plane: the floor of a cusp is flat at its lowest point.
      nadirUncertaintyMm: byCusp((c) => 2 * Math.hypot(nadirSdMm[c], root.nadirAlongSdMm[c], NADIR_RADIUS_SD_MM)),
    },
    angulationDeg: factOf(make, angulation, doubt.tilt95Deg / 2.45, 'deg', 'root.angulation/1', ['root.basalPlane']),
    basalRing: handRing
      ? makeBasalRing(frame, table, doubt, edited, byHand!.doubts, 0, handRing)
      : makeBasalRing(frame, table, doubt, make, bridgedReason(ringShare), ringShare),
    levels,
    outflowTract: outflow,
    sinuses: {
      widthMm: byCusp((c) => (sinuses ? factOf(make, sinuses.widthMm[c], Math.hypot(sinuses.widthSdMm[c], 2 * edge), 'mm', 'root.sinuses/1', ['root.levels'], byLeaflet) : noJunction('root.sinuses/1'))),
      heightMm: byCusp((c) =>
        sinuses && junction ? factOf(make, sinuses.heightMm[c], Math.hypot(nadirSdMm[c], 1.4 * junction.heightSdMm, 0.25), 'mm', 'root.sinuses/1', ['root.basalPlane', 'root.sinotubularJunction'], byLeaflet) : noJunction('root.sinuses/1'),
      ),
    },
    sinotubularJunction: {
      heightMm: junction ? factOf(make, junction.heightMm, Math.hypot(originSd, junction.heightSdMm), 'mm', 'root.junction/3', ['root.basalPlane', 'root.levels']) : noJunction('root.junction/3'),
      diameterMm: junction ? factOf(make, measureJunctionDiameter(table, junction), Math.hypot(2 * edge, 0.2), 'mm', 'root.junction/3', ['root.levels']) : noJunction('root.junction/3'),
    },
    septum: {
      bulgeMm: factOf(make, septum.bulgeMm, Math.hypot(edge, septum.bulgeSdMm), 'mm', 'root.septum/1', ['root.map'], named),
      bulgeHeightMm: factOf(make, septum.bulgeHeightMm, Math.hypot(planeSd, 1), 'mm', 'root.septum/1', ['root.map'], named),
      angleToBasalPlaneDeg: factOf(make, septum.angleDeg, Math.hypot(doubt.tilt95Deg / 2.45, 1.5), 'deg', 'root.septum/1', ['root.map'], named),
    },
  };
  return { parts, doubt, junction, junctionMm, sectors, nadirRad };
}

/** What the SDs of the nadirs do to the plane. The phantoms of the calibration have voxels up to 0.6 mm; coarser ones blur the hinge itself. */
export function propagatePlane(frame: RootFrame, nadirsLps: ByCusp<Vec3>, nadirSdMm: ByCusp<number>, voxelMm: number, edgeSdMm: number): RootUncertainty {
  const coarse = 0.35 * Math.max(0, voxelMm - 0.6);
  return propagateNadirs(frame, CUSPS.map((c) => nadirsLps[c]), CUSPS.map((c) => Math.hypot(nadirSdMm[c], coarse)), edgeSdMm);
}

/** SD of the plane's height at a place: over a cusp it moves with its own nadir most, and beyond the ring a little more. */
export function readPlaneSd(doubt: RootUncertainty, place: { readonly azimuthRad: number; readonly radiusMm: number }): number {
  return Math.hypot(...doubt.planes.map((p) => p.c + place.radiusMm * (p.dx * Math.cos(place.azimuthRad) + p.dy * Math.sin(place.azimuthRad))));
}

/** A crown in a basal frame from points in space, counter-clockwise; a commissure stands 6 mm above the plane at least. */
export function makeBasalCrown(frame: RootFrame, nadirsLps: readonly Vec3[], commissuresLps: readonly Vec3[]): Crown {
  const at = (p: Vec3): { rad: number; mm: number } => {
    const c = cylinderFromLps(frame, p);
    return { rad: wrapTurn(c.azimuthRad), mm: c.heightMm };
  };
  const nadirs = nadirsLps.map(at);
  const commissures = commissuresLps.map(at);
  return {
    nadirRad: nadirs.map((n) => n.rad),
    nadirMm: nadirs.map((n) => n.mm),
    commissureRad: commissures.map((n) => n.rad),
    commissureMm: commissures.map((n) => Math.max(6, n.mm)),
  };
}

export const xyz = (p: Vec3): Xyz => [p[0], p[1], p[2]];

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
