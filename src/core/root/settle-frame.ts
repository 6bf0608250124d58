import { fail, succeed, type Result } from '../result.ts';
import { add, cross, distance, dot, scale, sub, unit, type Vec3 } from '../math/vec3.ts';
import { applyToPoint, invertAffine } from '../units/affine.ts';
import { lpsPoint } from '../units/frames.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { makeCoarseField } from '../volume/coarse-field.ts';
import { findOpenings } from './find-ostia.ts';
import { findRootCandidates } from './find-root-axis.ts';
import { findTubes, type Tube } from './find-tubes.ts';
import { glanceAtCandidate, lookAtRoot, nadirPoints, planeThrough, ringCentre, settleRoot, TISSUE_HU, turnFrame, type Glance, type RootLook } from './locate-root.ts';
import { MARK_SD_MM, orderMarks, readMarkedPlane } from './read-marked-plane.ts';
import { findBack, nameCusps, type CuspNames } from './name-cusps.ts';
import { lpsFromCylinder, makeRootFrame, type RootFrame } from './root-frame.ts';
import { isTwoLobed, refuseTwoCusps } from './refuse-two-cusps.ts';
import { CUSPS, type ByCusp, type Cusp, type Landmarks } from './root-types.ts';
import { measureCalciumPull } from './measure-calcium-pull.ts';
import { locateNadirs } from './seek-nadirs.ts';
import { seekTwoCusps } from './seek-two-cusps.ts';
import { settleCrown } from './settle-crown.ts';
import { isClearCrown, lookAtSweep, refuseTwoCuspSweep, sweepCandidates } from './sweep-hinges.ts';
import type { SurveyFailureCode } from './survey-types.ts';

/** The basal frame with everything that led to it. */
export interface SettledRoot {
  readonly frame: RootFrame;
  readonly look: RootLook;
  readonly tubes: readonly Tube[];
  readonly nadirsLps: ByCusp<Vec3>;
  readonly nadirSdMm: ByCusp<number>;
  /** SD of each nadir along the wall; wide where the floor of its cusp is flat. */
  readonly nadirAlongSdMm: ByCusp<number>;
  /** LPS point of each commissure, counter-clockwise after the nadir of the same cusp. */
  readonly commissureAfterLps: ByCusp<Vec3>;
  readonly names: CuspNames | null;
  readonly isMarked: boolean;
  /** The last crown fits less well than a settled one: every number that hangs on the nadirs is doubtful. */
  readonly isUneven: boolean;
  /** Cusps whose nadir hangs on hinges beside calcium. */
  readonly beside: readonly Cusp[];
}

/** What the hinge fit leaves open beyond its own covariance, with half the spread of its offset; from phantoms of two makes. */
const HINGE_MODEL_SD_MM = 0.16;
/** Added where the crown is uneven: the model of three like cusps fits it less well. */
const UNEVEN_SD_MM = 0.6;
const BLUR_GUESS_MM = 0.7;
const MAX_CANDIDATES = 3;
/** A crown seen this faintly at a glance is not followed: what is there the sweep of hinges tells better. */
const WORTH_SETTLING = 0.6;
const MAX_SWEPT = 2;

const MARK_BY_HAND = 'Mark the three nadirs by hand and plan again.';

const MARK_MARGIN_MM = 6;

/** Whether a ball about the point lies inside the grid; voxel edges are taken along the three columns of the affine. */
function isWithinScan(volume: CtVolume, point: Vec3, marginMm: number): boolean {
  const inverse = invertAffine(volume.lpsFromVoxel);
  if (!inverse) return false;
  const at = applyToPoint(inverse, lpsPoint(point[0], point[1], point[2]));
  return at.every((v, a) => {
    const margin = marginMm / volume.spacingMm[a]!;
    return v >= margin && v <= volume.dims[a]! - 1 - margin;
  });
}

/** How far the picture agrees with a three-leaflet root. Limits are set on phantoms with and without three sinuses. */
export interface CrownQuality {
  readonly score: number;
  readonly scatterMm: number;
  readonly leastSupport: number;
  readonly spacingDeg: readonly [number, number];
}

export function judgeCrown(look: RootLook): CrownQuality {
  const n = look.crown.crown.nadirRad;
  const gaps = n.map((a, i) => {
    const d = n[(i + 1) % 3]! - a;
    return ((d - 2 * Math.PI * Math.floor(d / (2 * Math.PI))) * 180) / Math.PI;
  });
  return {
    score: look.crownFit.score,
    scatterMm: look.crown.scatterMm,
    leastSupport: Math.min(...look.crown.support),
    spacingDeg: [Math.min(...gaps), Math.max(...gaps)],
  };
}

function isThreeLobed(q: CrownQuality): boolean {
  return q.score > 0.75 && q.scatterMm < 0.6 && q.leastSupport >= 4 && q.spacingDeg[0] > 75 && q.spacingDeg[1] < 165;
}

const LEAST_HINGE_SCORE = 0.45;
/**
 * Whether a swept crown is there on its own plane, too: hinges explain the wall along it (0.58 and more on roots, at most
 * 0.31 elsewhere). That is asked of the picture itself, so attachments that are no parabolas and few trusted hinges need
 * not refuse a root.
 */
function isHeldCrown(q: CrownQuality, hingeScore: number): boolean {
  return hingeScore > LEAST_HINGE_SCORE && q.scatterMm < 1.2 && q.leastSupport >= 2 && q.spacingDeg[0] > 75 && q.spacingDeg[1] < 165;
}

interface Settling {
  readonly look: RootLook;
  readonly quality: CrownQuality;
}
const SURE_SUPPORT = 8;
const ELSEWHERE_MM = 6;
/** A root does not lie across its vessel: cos 30 degrees. */
const SWEPT_COS = 0.866;
const isElsewhere = (g: Glance, than: Glance): boolean =>
  dot(g.frame.normalLps, than.frame.normalLps) < 0.5 || distance(g.frame.originLps, than.frame.originLps) > ELSEWHERE_MM;
const rankCrown = (q: CrownQuality): number => q.score + 0.05 * q.leastSupport;

/** Automatic: coarse field, tubes, waists, crown; the best candidate whose crown fits. */
export function settleFrame(volume: CtVolume, marks: Landmarks | undefined, report: (ratio: number) => void): Result<SettledRoot, SurveyFailureCode> {
  const field = makeCoarseField(volume);
  report(0.08);
  const tubes = findTubes(field);
  if (tubes.length === 0 && !marks?.nadirsLps) {
    return fail('aorta-not-found', 'No round, opacified tube of 17 to 48 mm was found.', 'Check that the scan shows the ascending aorta with contrast, or choose another series.');
  }
  const candidates = findRootCandidates(field, tubes);
  report(0.2);
  if (marks?.nadirsLps) return settleOnMarks(volume, marks.nadirsLps, tubes);
  if (candidates.length === 0) {
    return fail('root-not-found', 'A vessel was found, but none that narrows and opens into a ventricle.', `Check that the scan reaches from the outflow tract to the ascending aorta. ${MARK_BY_HAND}`, { tubes: tubes.length });
  }
  const seen: CrownQuality[] = [];
  const settle = (glance: Glance): Settling | null => {
    const look = settleRoot(volume, glance.frame, 2, BLUR_GUESS_MM);
    report(0.5);
    if (!look) return null;
    const quality = judgeCrown(look);
    seen.push(quality);
    return isThreeLobed(quality) ? { look, quality } : null;
  };
  const likely = candidates.slice(0, MAX_CANDIDATES);
  for (const candidate of likely) {
    const clear = glanceAtCandidate(volume, candidate).filter((g) => g.score >= WORTH_SETTLING);
    for (const glance of clear) {
      const settled = settle(glance);
      if (!settled) continue;
      // A crown held by few hinges may be upside down or elsewhere: then what was seen there instead is settled too.
      const rivals = settled.quality.leastSupport < SURE_SUPPORT ? clear.filter((g) => isElsewhere(g, glance)) : [];
      const best = [settled, ...rivals.flatMap((g) => settle(g) ?? [])].sort((x, y) => rankCrown(y.quality) - rankCrown(x.quality));
      for (const one of best) {
        const root = nameAndTurn(volume, one.look, tubes);
        if (root) return succeed(root);
      }
    }
  }
  const sweeps = sweepCandidates(volume, likely, BLUR_GUESS_MM);
  // Two cusps first: where they hold the wall, a vessel beside them may still show three for a moment.
  const twoCusps = refuseTwoCuspSweep(sweeps);
  if (twoCusps) return twoCusps;
  for (const sweep of sweeps.filter(isClearCrown).slice(0, MAX_SWEPT)) {
    const root = nameAndTurn(volume, lookAtSweep(sweep), tubes, isHeldCrown);
    if (root && dot(root.frame.normalLps, sweep.view.frame.normalLps) > SWEPT_COS) return succeed(root);
  }
  const last = seen[0];
  if (!last) return fail('root-not-opacified', 'The place where a root is expected is not filled with contrast.', 'Choose a series with contrast in the left heart.');
  const lobes = seekTwoCusps(volume, candidates.slice(0, MAX_CANDIDATES));
  if (lobes && isTwoLobed(lobes)) return refuseTwoCusps(lobes);
  return fail(
    'root-model-does-not-fit',
    'The wall does not show three leaflets attached in a crown: the valve may be bicuspid or fused, moved during the scan, or lie outside it.',
    MARK_BY_HAND,
    { crownScore: round(last.score), scatterMm: round(last.scatterMm), leastSupport: last.leastSupport, smallestGapDeg: round(last.spacingDeg[0]), largestGapDeg: round(last.spacingDeg[1]) },
  );
}

const round = (v: number): number => Math.round(v * 100) / 100;

function nameAndTurn(volume: CtVolume, first: RootLook, tubes: readonly Tube[], isGood: (q: CrownQuality, hingeScore: number) => boolean = () => true): SettledRoot | null {
  const turned = turnFrame(first, nadirPoints(first));
  if (!turned) return null;
  const { look, mapped, hingeScore } = settleCrown(volume, first, turned);
  const nadirs = locateNadirs(look);
  const points = nadirs.map((n) => n.pointLps);
  const plane = planeThrough(points, look.frame.normalLps);
  if (!plane) return null;
  const pulls = measureCalciumPull(look.hinges, look.crown.crown);
  const quality = judgeCrown(look);
  if (!isGood(quality, hingeScore)) return null;
  const isUneven = quality.spacingDeg[1] > 140 || quality.spacingDeg[0] < 98 || quality.leastSupport < 5 || Math.max(...look.crown.nadirSdMm) > 0.6;
  const { crown } = look.crown;
  const openings = findOpenings(look.block, mapped.table, look.blood.levelHu, TISSUE_HU, 6, 28);
  const names = nameCusps(look.frame, crown.nadirRad, openings, findBack(look.block, mapped.table, look.blood.levelHu));
  const centre = ringCentre(look, plane);
  const byCusp = <T>(f: (index: number) => T): ByCusp<T> => ({ R: f(names.indexOf.R), L: f(names.indexOf.L), N: f(names.indexOf.N) });
  const frame = makeRootFrame(centre, plane.normalLps, points[names.indexOf.R]!);
  const commissure = (i: number): Vec3 =>
    lpsFromCylinder(look.frame, { azimuthRad: crown.commissureRad[i]!, heightMm: crown.commissureMm[i]!, radiusMm: 12 });
  return {
    frame,
    look,
    tubes,
    nadirsLps: byCusp((i) => points[i]!),
    nadirSdMm: byCusp((i) => Math.min(3, Math.hypot(nadirs[i]!.heightSdMm, pulls[i]!.heightMm, HINGE_MODEL_SD_MM, isUneven ? UNEVEN_SD_MM : 0))),
    nadirAlongSdMm: byCusp((i) => Math.hypot(nadirs[i]!.alongSdMm, pulls[i]!.alongMm, isUneven ? UNEVEN_SD_MM : 0)),
    commissureAfterLps: byCusp(commissure),
    names,
    isMarked: false,
    isUneven,
    // Any pull widens the SD; one beyond the SD that the hinges state themselves is doubted by name.
    beside: CUSPS.filter((c) => pulls[names.indexOf[c]]!.heightMm > nadirs[names.indexOf[c]]!.heightSdMm),
  };
}

/** Height above the marks at which the vessel is looked for: above the sinuses of every root, below the arch. */
const VESSEL_MM = 28;
const CLEARLY_MM = 6;

/**
 * The side of the marked plane on which the aorta lies: where a round vessel runs 28 mm away; where both or neither
 * side shows one, R, L, N counter-clockwise seen from the aorta, as in every heart that is not mirrored (job.md D 12).
 */
function findUpOfMarks(nadirs: ByCusp<readonly [number, number, number]>, middle: Vec3, tubes: readonly Tube[]): Vec3 {
  const byNames = unit(cross(sub(nadirs.L as Vec3, nadirs.R as Vec3), sub(nadirs.N as Vec3, nadirs.R as Vec3)));
  const off = (side: 1 | -1): number => {
    const target = add(middle, scale(byNames, side * VESSEL_MM));
    return Math.min(Infinity, ...tubes.flatMap((t) => t.sections.map((s) => Math.hypot(...sub(s.centreLps, target)))));
  };
  const [above, below] = [off(1), off(-1)];
  return below + CLEARLY_MM < above ? scale(byNames, -1) : byNames;
}

/** A person's nadirs: the plane and the names are theirs; the picture adds wall, blood and commissures. */
function settleOnMarks(volume: CtVolume, nadirs: ByCusp<readonly [number, number, number]>, tubes: readonly Tube[]): Result<SettledRoot, SurveyFailureCode> {
  const points = CUSPS.map((c) => nadirs[c] as Vec3);
  const middle = scale(add(add(points[0]!, points[1]!), points[2]!), 1 / 3);
  const read = readMarkedPlane(nadirs, findUpOfMarks(nadirs, middle, tubes));
  if (!read.ok) return read;
  const plane = read.value;
  if (!points.every((p) => isWithinScan(volume, p, MARK_MARGIN_MM))) {
    return fail('root-outside-scan', `A marked nadir lies outside the scan or within ${MARK_MARGIN_MM} mm of its border.`, 'Check that the marks are LPS coordinates in mm of this series, or use a series that shows the whole root.');
  }
  const first = makeRootFrame(middle, plane.normalLps, points[0]!);
  const options = { lowMm: -16, highMm: 34, crownLowMm: -2, crownHighMm: 2, tiltReachMm: 1 };
  const rough = lookAtRoot(volume, first, options, BLUR_GUESS_MM);
  if (!(rough.blood.levelHu > 100)) {
    return fail('root-not-opacified', Number.isFinite(rough.blood.levelHu) ? `The blood around the marks has ${rough.blood.levelHu.toFixed(0)} HU; 100 and more are needed.` : 'No blood level can be read around the marks.', 'Check that the marks belong to this series.', Number.isFinite(rough.blood.levelHu) ? { bloodHu: round(rough.blood.levelHu) } : {});
  }
  const frame = makeRootFrame(ringCentre(rough, plane), plane.normalLps, points[0]!);
  const { order, commissuresLps } = orderMarks(nadirs, frame);
  const after = (c: Cusp): Vec3 => commissuresLps[order.indexOf(c)]!;
  return succeed({
    frame,
    look: rough,
    tubes,
    nadirsLps: { R: points[0]!, L: points[1]!, N: points[2]! },
    nadirSdMm: { R: MARK_SD_MM, L: MARK_SD_MM, N: MARK_SD_MM },
    nadirAlongSdMm: { R: MARK_SD_MM, L: MARK_SD_MM, N: MARK_SD_MM },
    commissureAfterLps: { R: after('R'), L: after('L'), N: after('N') },
    names: null,
    isMarked: true,
    isUneven: false,
    beside: [],
  });
}

