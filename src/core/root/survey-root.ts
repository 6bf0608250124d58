import { fail, succeed, type Result } from '../result.ts';
import { refuseFact, type Fact, type Reason } from '../units/fact.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { checkValve } from './check-valve.ts';
import { readCrown, type Crown } from './find-crown.ts';
import { findJunction, type WallTable } from './find-junction.ts';
import { findOpenings, type Opening } from './find-ostia.ts';
import { HINGE_BIAS_MM, TISSUE_HU } from './locate-root.ts';
import { mapWall, unrollWall, type MappedWall } from './map-wall.ts';
import { measureAscending } from './measure-ascending.ts';
import { measureCalcium } from './measure-calcium.ts';
import { CONTOUR_BY_HAND, JUNCTION_NOT_FOUND, LOWEST_LEVEL_MM, makeBasalCrown, measureWallParts, readPlaneSd, xyz } from './measure-wall-parts.ts';
import { bridgeCalcium, openPockets, straightenHinge, type PocketWall } from './mend-wall.ts';
import { isTrusted } from './refine-crown.ts';
import { estimateEdgeSd, type RootUncertainty } from './propagate.ts';
import { factOf, type FactMaker } from './ring-facts.ts';
import { cylinderFromLps, lpsFromCylinder, makeRootFrame } from './root-frame.ts';
import { CUSPS, type ByCusp, type CoronaryOstium, type Cusp, type RootMap, type RootSurvey, type Xyz } from './root-types.ts';
import { traceAttachment, traceOpening } from './seek-nadirs.ts';
import { findTwoCusps } from './seek-two-cusps.ts';
import { findTwoCuspHinges } from './sweep-hinges.ts';
import { settleFrame, type SettledRoot } from './settle-frame.ts';
import type { PlanMessage, SurveyAnswer, SurveyContext, SurveyFailureCode } from './survey-types.ts';
import { traceLeaflet } from './trace-leaflet.ts';
import { checkContourPlace, readContour, useContour, type UsedContour } from './use-contour.ts';

export type { SurveyAnswer, SurveyContext, SurveyFailureCode } from './survey-types.ts';

/** A leaflet trace fainter than this on average may be noise. */
const LEAST_CLEARNESS = 0.25;
/** An ostium lies in the middle of its sinus; farther off it is a pocket or a neighbour. */
const OSTIUM_OFF_RAD = 0.75;
/** Scatter of an ostium's height beyond the plane's. */
const OSTIUM_SD_MM = 0.3;
/** The wall's blur holds its own unevenness too: the scanner's is 0.90 of it on the seeded phantoms, 0.84 on independent roots. */
const POINT_SPREAD_SHARE = 0.87;
/** On the one real scan with voxels of 1.5 mm a funnel was met at its lower lip, some 3 mm below its middle. */
const FAINT_OSTIUM_SD_MM = 1.7;
const COARSE_VOXEL_MM = 1;
const OSTIUM_FAINT: Reason = {
  code: 'ostium-faint',
  text: 'The opening of the artery is only faintly seen (thin artery or coarse voxels), so its middle may be some millimetres off.',
  next: 'Check the ostium on the cut through this cusp and mark it by hand where it is wrong.',
};
/** A mouth that is wider than an artery's has run together with a chamber beside it; on the seeded phantoms the middle is off by up to 1 mm there, on one by 1.7 mm. */
const MERGED_MM2 = 16;
const MERGED_SD_MM = 0.7;
const OSTIUM_MERGED: Reason = {
  code: 'ostium-merged',
  text: 'The opening of the artery is wider than an artery is: it seems to run together with a chamber or vessel beside it, so its middle may be some millimetres off.',
  next: 'Check the ostium on the cut through this cusp and mark it by hand where it is wrong.',
};
const voxelSize = (v: CtVolume): number => Math.cbrt(v.spacingMm[0] * v.spacingMm[1] * v.spacingMm[2]);

/**
 * The whole automatic survey of one contrast CT: from voxels to `root` of plan.json.
 * Units     LPS mm; every number a Fact with a 95 % interval
 * Fails     aorta-not-found, root-not-found, root-not-opacified, root-model-does-not-fit, valve-not-three-leaflet, nadirs-collinear,
 *           nadirs-implausible; with a contour by hand also as readContour and useContour
 * Source    docs/methods/root-survey.md: method, intervals, accuracy table, limits
 */
export function surveyRoot(volume: CtVolume, context: SurveyContext): Result<SurveyAnswer, SurveyFailureCode> {
  const report = context.report ?? (() => undefined);
  const settled = settleFrame(volume, context.marks, report);
  if (!settled.ok) return settled;
  const contour = context.marks?.contourLps ? readContour(context.marks.contourLps, settled.value.frame) : null;
  if (contour && !contour.ok) return contour;
  const astray = contour && checkContourPlace(contour.value, settled.value.frame);
  if (astray) return astray;
  const root = contour ? centreOn(settled.value, contour.value.centreLps) : settled.value;
  const mapped = mapWall(volume, root.frame, root.look.wall.blurMm);
  report(0.75);
  const crown = crownInFrame(root);
  const bridged = bridgeCalcium(mapped.block, mapped.table, mapped.blood.levelHu);
  const attachment = root.isMarked ? null : traceAttachment(root.look, root.frame);
  const straight = attachment ? straightenHinge(bridged.table, attachment, traceOpening(root.look, root.frame)) : straightenHinge(bridged.table, (rad) => readCrown(crown, rad));
  const automatic = openPockets(straight, root.isMarked ? [] : listPocketWalls(root));
  const messages: PlanMessage[] = [];
  const seen = countSeenWall(mapped);
  if (seen < LEAST_SEEN_WALL) {
    return fail('root-model-does-not-fit', `Only ${Math.round(100 * seen)} % of the wall around the basal plane shows an edge between blood and tissue.`, 'Check the marks and that the series shows the root with contrast.', { seenWallRatio: Math.round(100 * seen) / 100 });
  }
  if (!root.isMarked && !findJunction(automatic)) {
    const open = fail('root-model-does-not-fit', 'No junction closes the sinuses above the supposed cusps: the valve may be bicuspid or the scan cut off above.', 'Mark the three nadirs by hand and plan again, or use a series that reaches higher.', {});
    return findTwoCusps(volume, root.tubes) ?? findTwoCuspHinges(volume, root.tubes, root.look.wall.blurMm) ?? open;
  }
  const valve = checkValve(root, mapped, voxelSize(volume));
  if (!valve.ok) return findTwoCusps(volume, root.tubes) ?? (valve.failure.code === 'root-model-does-not-fit' ? findTwoCuspHinges(volume, root.tubes, root.look.wall.blurMm) : null) ?? valve;
  // Three cusps laid over two come out unequal; a raphe explains that as well.
  const twoCusps = root.isUneven && valve.value.doubts.length === 0 ? findTwoCusps(volume, root.tubes) : null;
  if (twoCusps) return twoCusps;
  for (const reason of valve.value.messages) messages.push({ ...reason, section: 'root' });
  const crownDoubts = [...(root.isUneven ? [UNEVEN_CROWN] : []), ...(root.beside.length > 0 ? [doubtBesideCalcium(root.beside)] : [])];
  for (const reason of crownDoubts) messages.push({ ...reason, section: 'root' });
  const doubts = [...context.doubts, ...crownDoubts];
  const make: FactMaker = { stamp: context.stamp, doubts, kind: root.isMarked ? 'edited' : 'computed' };
  const byHand = contour ? useContour(contour.value, automatic) : null;
  if (byHand && !byHand.ok) return byHand;
  const table = byHand?.value.wall ?? automatic;
  if (byHand) messages.push(CONTOUR_BY_HAND);
  const answer = measureAll(volume, context, root, mapped, table, crown, bridged.isBridged, make, messages, byHand?.value ?? null, valve.value.doubts);
  report(1);
  const trace = {
    seenWall: bridged.table, isBridged: bridged.isBridged, blurMm: mapped.fine.blurMm, voxelMm: voxelSize(volume), nadirSdMm: root.nadirSdMm,
    isMarked: root.isMarked, doubts: context.doubts, valve: valve.value.doubts,
  };
  return succeed({ root: answer, blood: mapped.blood, frame: root.frame, wall: table, trace, messages });
}

const LEAST_SEEN_WALL = 0.6;
const UNEVEN_CROWN: Reason = {
  code: 'crown-uneven',
  text: 'The three cusps are unequal or one of them is poorly seen, so a nadir may be several millimetres off.',
  next: 'Check the three nadirs on the long cuts and mark them by hand where they are wrong.',
};

function doubtBesideCalcium(cusps: readonly Cusp[]): Reason {
  return {
    code: 'nadir-beside-calcium',
    text: `Calcium on the ring hides where the leaflet leaves the wall of cusp ${cusps.join(' and ')}: its nadir may be a millimetre and more too low or too high.`,
    next: 'Check this nadir on the long cut through its cusp and mark it by hand where it is wrong.',
  };
}

/** The same root about another axis, parallel to its own. */
function centreOn(root: SettledRoot, centreLps: Xyz): SettledRoot {
  return { ...root, frame: makeRootFrame(centreLps, root.frame.normalLps, root.nadirsLps.R) };
}

/** Share of the wall within 3 mm of the plane where an edge was found. */
function countSeenWall(mapped: MappedWall): number {
  const { fine, table } = mapped;
  let n = 0;
  let all = 0;
  for (let h = 0; h < table.heights; h++) {
    if (Math.abs(table.lowMm + h * table.stepMm) > 3) continue;
    for (let a = 0; a < table.azimuths; a++) {
      all++;
      n += fine.isEdge[h * table.azimuths + a]!;
    }
  }
  return all > 0 ? n / all : 0;
}

/** Cusps counter-clockwise seen from the aorta. */
const orderCusps = (root: SettledRoot): Cusp[] => [...CUSPS].sort((a, b) => fromR(root, a) - fromR(root, b));

/** The crown in the basal frame: nadirs on the plane, commissures where the fit put them. */
function crownInFrame(root: SettledRoot): Crown {
  const order = orderCusps(root);
  return makeBasalCrown(root.frame, order.map((c) => root.nadirsLps[c]), order.map((c) => root.commissureAfterLps[c]));
}

/** Wall lines above the trusted hinges, seen from the basal frame. */
function listPocketWalls(root: SettledRoot): PocketWall[] {
  return root.look.hinges.filter((h) => isTrusted(h) && h.upperAngleRad > 0.2).map((h) => {
    const points = [];
    for (let s = 0; s <= 8; s += 0.25) {
      const bend = h.upperBendPerMm * s * s;
      const at = lpsFromCylinder(root.look.frame, {
        azimuthRad: h.azimuthRad,
        // Lowered like the nadirs: a wall that begins too high lies too far inside.
        heightMm: h.heightMm - HINGE_BIAS_MM + s * Math.cos(h.upperAngleRad) + bend * Math.sin(h.upperAngleRad),
        radiusMm: h.radiusMm + s * Math.sin(h.upperAngleRad) - bend * Math.cos(h.upperAngleRad),
      });
      points.push(cylinderFromLps(root.frame, at));
    }
    return { azimuthRad: points[0]!.azimuthRad, points };
  });
}

/** Azimuth of a nadir counter-clockwise from R. */
function fromR(root: SettledRoot, c: Cusp): number {
  if (c === 'R') return 0;
  const a = cylinderFromLps(root.frame, root.nadirsLps[c]).azimuthRad;
  return a - 2 * Math.PI * Math.floor(a / (2 * Math.PI));
}

function measureAll(
  volume: CtVolume,
  context: SurveyContext,
  root: SettledRoot,
  mapped: MappedWall,
  table: WallTable,
  crown: Crown,
  isBridged: Uint8Array,
  make: FactMaker,
  messages: PlanMessage[],
  byHand: UsedContour | null,
  valve: readonly Reason[],
): RootSurvey {
  const { frame } = root;
  const { blood, block, fine } = mapped;
  const voxelMm = voxelSize(volume);
  const edgeSdMm = estimateEdgeSd(fine.blurMm, voxelMm, blood.noiseHu, blood.levelHu - TISSUE_HU);
  const names = nameReasons(root, messages);
  const byLeaflet = [...names, ...valve];
  const { nadirsLps, nadirSdMm, nadirAlongSdMm } = root;
  const { parts: { septum, ...parts }, doubt, junction, junctionMm, sectors, nadirRad } = measureWallParts(
    { frame, table, isBridged, crown, order: orderCusps(root), nadirsLps, nadirSdMm, nadirAlongSdMm, edgeSdMm, voxelMm, lowMm: table.lowMm, byHand }, make, names, valve,
  );
  if (!junction) messages.push(JUNCTION_NOT_FOUND);
  const tubeSections = nearestTube(root);
  const ascending = measureAscending(volume, tubeSections, frame, junctionMm, blood.levelHu);
  const openings = findOpenings(block, table, blood.levelHu, TISSUE_HU, 6, junctionMm + 3);
  const refused = (code: string, text: string, next: string, unit: Fact['unit'], method: string): Fact =>
    refuseFact(unit, method, context.stamp, { code, text, next });
  const calcium = measureCalcium({
    volume, frame, wall: table, commissureRad: sectors, bloodHu: blood.levelHu, bloodPerMmHu: blood.perMmHu, noiseHu: blood.noiseHu,
    blurMm: POINT_SPREAD_SHARE * fine.blurMm, junctionHeightMm: junctionMm, stamp: context.stamp, doubts: make.doubts,
  });
  return {
    ...parts,
    ascendingAorta: {
      diameterMm: ascending
        ? factOf(make, ascending.diameterMm, Math.hypot(ascending.sdMm, 2 * edgeSdMm), 'mm', 'root.ascending/1', ['scan'])
        : refused('ascending-not-in-field', 'The scan does not show 10 mm of ascending aorta above the junction.', 'Use a series that reaches higher.', 'mm', 'root.ascending/1'),
    },
    coronaries: measureCoronaries(voxelMm, context, root, openings, doubt, nadirRad, make, names, messages),
    leaflets: measureLeaflets(root, mapped, table, nadirRad, make, byLeaflet),
    calcium,
    septum,
    membranousSeptum: {
      lengthMm: refused(
        'membranous-septum-not-seen', 'The edge between membranous and muscular septum is not measured automatically.',
        'Measure it by hand on a cut through the commissure of the right and non-coronary cusps.', 'mm', 'root.membranousSeptum/1',
      ),
    },
    map: makeMap(mapped, table),
  };
}

function nearestTube(root: SettledRoot): SettledRoot['tubes'][number]['sections'] {
  // The tube that runs up from the root: the one with a section closest to the axis 25 mm above the plane.
  const target = lpsFromCylinder(root.frame, { azimuthRad: 0, heightMm: 25, radiusMm: 0 });
  let best: SettledRoot['tubes'][number]['sections'] = [];
  let off = Infinity;
  for (const tube of root.tubes) {
    for (const s of tube.sections) {
      const d = Math.hypot(s.centreLps[0] - target[0], s.centreLps[1] - target[1], s.centreLps[2] - target[2]);
      if (d < off) {
        off = d;
        best = tube.sections;
      }
    }
  }
  return best;
}

/** Doubt about R, L and N themselves touches everything that carries a cusp's name. */
function nameReasons(root: SettledRoot, messages: PlanMessage[]): Reason[] {
  if (!root.names || root.names.margin >= 0.5) return [];
  const reason = { code: 'cusp-names-uncertain', text: 'The coronary ostia do not settle which cusp is which.', next: 'Check the letters R, L and N on the pictures; mark the nadirs by hand if they are wrong.' };
  messages.push({ ...reason, section: 'root' });
  return [reason];
}

function measureCoronaries(
  voxelMm: number,
  context: SurveyContext,
  root: SettledRoot,
  openings: readonly Opening[],
  doubt: RootUncertainty,
  nadirRad: ByCusp<number>,
  make: FactMaker,
  names: readonly Reason[],
  messages: PlanMessage[],
): RootSurvey['coronaries'] {
  const { frame } = root;
  // Coarser voxels than the calibration's, and a faint opening, leave its middle less certain.
  const isFaint = (o: Opening): boolean => voxelMm > COARSE_VOXEL_MM || o.strength < 0.45;
  const isMerged = (o: Opening): boolean => o.areaMm2 > MERGED_MM2;
  const ostiumSd = (o: Opening): number => Math.max(isFaint(o) ? FAINT_OSTIUM_SD_MM : 0, isMerged(o) ? MERGED_SD_MM : 0, OSTIUM_SD_MM * Math.max(1, voxelMm / 0.6));
  const inSector = (c: 'R' | 'L'): Opening | null => {
    let best: Opening | null = null;
    let value = 0;
    for (const o of openings) {
      const off = Math.abs(Math.atan2(Math.sin(o.azimuthRad - nadirRad[c]), Math.cos(o.azimuthRad - nadirRad[c])));
      if (off > OSTIUM_OFF_RAD) continue;
      const v = Math.min(1, o.areaMm2 / 5) * o.strength * (1 - 0.35 * off);
      if (v > value) {
        value = v;
        best = o;
      }
    }
    return best;
  };
  const make1 = (c: 'R' | 'L', side: 'left' | 'right'): CoronaryOstium | undefined => {
    const mark = context.marks?.ostiaLps?.[side];
    if (mark) {
      return { ostiumLps: mark, heightMm: factOf({ ...make, kind: 'edited' }, cylinderFromLps(frame, mark).heightMm, Math.hypot(readPlaneSd(doubt, cylinderFromLps(frame, mark)), 0.5), 'mm', 'root.coronaries/1', ['root.basalPlane']) };
    }
    const o = inSector(c);
    if (!o) {
      messages.push({ code: 'ostium-not-found', section: 'root', text: `No opening of the ${side} coronary artery was found in its sinus.`, next: 'Mark the ostium by hand on the cut through this cusp.' });
      return undefined;
    }
    const reasons = [...names, ...(isFaint(o) ? [OSTIUM_FAINT] : []), ...(isMerged(o) ? [OSTIUM_MERGED] : [])];
    return {
      ostiumLps: xyz(lpsFromCylinder(frame, o)),
      heightMm: factOf(make, o.heightMm, Math.hypot(readPlaneSd(doubt, o), ostiumSd(o)), 'mm', 'root.coronaries/1', ['root.basalPlane', 'scan'], reasons),
    };
  };
  const left = make1('L', 'left');
  const right = make1('R', 'right');
  return { ...(left ? { left } : {}), ...(right ? { right } : {}) };
}

function measureLeaflets(root: SettledRoot, mapped: MappedWall, table: WallTable, nadirRad: ByCusp<number>, make: FactMaker, names: readonly Reason[]): RootSurvey['leaflets'] {
  const out: { [C in Cusp]?: { lengthMm: Fact } } = {};
  for (const c of CUSPS) {
    const hingeRadiusMm = cylinderFromLps(root.frame, root.nadirsLps[c]).radiusMm;
    const trace = traceLeaflet(mapped.block, table, nadirRad[c], hingeRadiusMm, mapped.blood.levelHu, TISSUE_HU);
    if (trace && trace.clearness > LEAST_CLEARNESS) {
      out[c] = { lengthMm: factOf(make, trace.lengthMm, Math.hypot(trace.lengthSdMm, root.nadirSdMm[c]), 'mm', 'root.leaflets/2', ['root.basalPlane', 'root.map', 'scan'], names) };
    }
  }
  return out;
}

/** Unrolled landing zone every 5 degrees and millimetre. */
function makeMap(mapped: MappedWall, table: WallTable): RootMap {
  const { block } = mapped;
  const { azimuthDeg, heightMm, radiusAt } = unrollWall(table, LOWEST_LEVEL_MM);
  const brightest = (deg: number, h: number): number | null => {
    const a = Math.round((deg / 360) * table.azimuths) % table.azimuths;
    const row = Math.round((h - block.lowMm) / block.heightStepMm);
    const r = radiusAt(deg, h);
    let most = -Infinity;
    for (let k = Math.max(0, Math.round((r - 2) / block.radiusStepMm)); k <= Math.min(block.radii - 1, Math.round((r + 1) / block.radiusStepMm)); k++) {
      const v = block.valuesHu[(row * block.azimuths + a) * block.radii + k]!;
      if (v > most) most = v;
    }
    return Number.isFinite(most) ? most : null;
  };
  return {
    azimuthDeg,
    heightMm,
    radiusMm: heightMm.map((h) => azimuthDeg.map((d) => radiusAt(d, h))),
    calciumHu: heightMm.map((h) => azimuthDeg.map((d) => brightest(d, h))),
  };
}
