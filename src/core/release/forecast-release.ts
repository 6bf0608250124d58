import { makeFact, refuseFact, type Fact, type FactStamp, type Reason } from '../units/fact.ts';
import { bandInflatedFrame, type RingBand } from './band-frame.ts';
import { estimateInflatedFrame, type CuspAzimuths } from './inflated-frame.ts';
import { findBand, joinWorlds, judgeMovement, readExit } from './judge-verdict.ts';
import { findReachDepths } from './key-depths.ts';
import { rankDrivers } from './rank-drivers.ts';
import { hasDirection, judgeCell, refuseStart, refuseTension, refuseWorld, type StartRules } from './refuse-by-ensemble.ts';
import { LIMITS, makeRefusal, refuseByEvidence, refuseNewtons, type ReleaseEvidence } from './refuse-release.ts';
import type { Band, FrameModel, FrameRingFacts, GeometrySpread, OpenBand, ReleaseChoice, ReleaseForecast, ReleaseVerdict, StartForecast, WallBasis, World, WorldForecast } from './release-types.ts';
import { WORLDS } from './release-types.ts';
import { pickCell, pickStart, runEnsemblePart, type EnsemblePart, type EnsemblePlan } from './run-ensemble.ts';
import { makeReleaseTables, tabulateRelease } from './tabulate-release.ts';
import { combineWall, NOMINAL_WALL } from './wall-grid.ts';

export const RELEASE_MODEL = 'release/1: a reduced-order model, not a measurement; not checked on a bench';

export interface ReleaseQuestion {
  readonly frame: FrameModel;
  /** The same frame with rings half as far apart: the guard of rule 10. */
  readonly fineFrame: FrameModel;
  /** Error of the drive that the ring distance leaves, N, where it was estimated already (`refineRings`). */
  readonly ringErrorN?: number | undefined;
  readonly basis: WallBasis;
  readonly spread: GeometrySpread;
  readonly cusps: CuspAzimuths;
  readonly evidence: ReleaseEvidence;
  readonly choice: ReleaseChoice;
  readonly startMm: number;
  /** Rising; `startMm` is added when it is not among them. */
  readonly sweepMm: readonly number[];
  readonly releases: number;
  readonly seed: number;
  readonly stamp: FactStamp;
}

/** The ensemble a question asks for; plain data for workers. */
export function planEnsemble(q: ReleaseQuestion): EnsemblePlan {
  const startsMm = [...new Set([...q.sweepMm, q.startMm])].sort((a, b) => a - b);
  return {
    frame: q.frame, basis: q.basis, spread: q.spread, choice: q.choice, seed: q.seed, startsMm, worlds: WORLDS, withUndamped: true,
  };
}

/** Why nothing can be forecast before any release is run; empty when there is no such reason. */
export function listBlockers(q: ReleaseQuestion): readonly Reason[] {
  const out = [...refuseByEvidence(q.evidence, q.spread, q.startMm)];
  const errorN = q.ringErrorN ?? measureRingError(q);
  if (!(errorN <= LIMITS.driveN)) {
    out.push(makeRefusal('release-verdict-unstable', `The distance of the rings leaves the drive uncertain by ${errorN.toFixed(2)} N; at most ${LIMITS.driveN} N is allowed.`,
      'Check the wall on the unrolled map for a step; smooth it by hand where it is false.'));
  }
  return out;
}

/** Forecast in one go; workers run the parts themselves and call `concludeForecast`. */
export function forecastRelease(q: ReleaseQuestion): ReleaseForecast {
  const blockers = listBlockers(q);
  if (blockers.length > 0) return refuseForecast(q, blockers);
  const plan = planEnsemble(q);
  return concludeForecast(q, runEnsemblePart(plan, 0, q.releases));
}

/** Largest change of the nominal released drive when the rings are twice as dense, over depths -2 to 12 mm. */
export function measureRingError(q: Pick<ReleaseQuestion, 'frame' | 'fineFrame' | 'basis'>): number {
  const wall = combineWall(q.basis, NOMINAL_WALL);
  const drive = (frame: FrameModel): Float64Array => {
    const t = tabulateRelease(wall, { frame, frameFactor: 1, biasMm: 0, biasAzimuthRad: 0 }, makeReleaseTables([]));
    return t.upN.map((up, i) => up - t.downN[i]!);
  };
  const [coarse, fine] = [drive(q.frame), drive(q.fineFrame)];
  const { lowMm, stepMm } = makeReleaseTables([]);
  let worst = 0;
  coarse.forEach((d, p) => {
    const depth = -(lowMm + p * stepMm);
    if (depth >= LIMITS.startMm[0] && depth <= LIMITS.startMm[1]) worst = Math.max(worst, Math.abs(d - fine[p]!));
  });
  return worst;
}

/** At second order the error of the denser rings is a third of the change that halving their distance makes. */
const ORDER_2 = 3;

/**
 * The question on denser rings where the usual ones are too coarse for this wall (rule 10: refine or refuse).
 * Source    docs/methods/release.md, ring refinement: measured order 2.0
 */
export function refineRings(q: ReleaseQuestion): ReleaseQuestion {
  if (q.ringErrorN !== undefined) return q;
  const changeN = measureRingError(q);
  return changeN <= LIMITS.driveN ? { ...q, ringErrorN: changeN } : { ...q, frame: q.fineFrame, ringErrorN: changeN / ORDER_2 };
}

/** A forecast that answers nothing, with its reasons. */
export function refuseForecast(q: ReleaseQuestion, reasons: readonly Reason[]): ReleaseForecast {
  const reason = reasons[0]!;
  const none = { gripping: null, middle: null, slippery: null };
  return {
    seed: q.seed, releases: 0, startMm: q.startMm, choice: q.choice, sweep: [], answer: 'cannot say', drivers: [], refusals: reasons,
    repellingDepthMm: none, divingDepthMm: none, isReachContiguous: true, tippingDepthMm: null,
    frictionNeeded: refuseFact('1', 'release.frictionNeeded/1', q.stamp, reason),
    driveN: refuseFact('N', 'release.drive/1', q.stamp, reason),
    expectedFrame: null, recapture: readRecapture(q.frame), forceSource: q.frame.forceSource, model: RELEASE_MODEL,
  };
}

/** The answer from the finished ensemble of `planEnsemble(q)`. */
export function concludeForecast(q: ReleaseQuestion, part: EnsemblePart): ReleaseForecast {
  const plan = planEnsemble(q);
  const chosen = plan.startsMm.indexOf(q.startMm);
  const newtons = refuseNewtons(q.frame);
  const sweep = plan.startsMm.map((startMm, s): StartForecast => ({
    startMm,
    worlds: mapWorlds((world, w) => concludeWorld(q, plan, part, s, w, newtons)),
  }));
  const raw = mapWorlds((_, w) => judgeCell(plan, part, chosen, w));
  const rules = refuseStart(plan, part, chosen, raw);
  const tension = q.choice.tension === 'unknown' ? judgeTension(plan, part, chosen) : null;
  const here = sweep[chosen]!.worlds;
  const answer = answerStart(here, rules, tension);
  const middle = WORLDS.indexOf('middle');
  const reach = mapWorlds((_, w) =>
    findReachDepths(plan.startsMm.map((startMm, s) => ({ startMm, movementMm: findBand(pickCell(part.movementMm, plan, s, w)).mid }))),
  );
  return {
    seed: q.seed,
    releases: part.count,
    startMm: q.startMm,
    choice: q.choice,
    sweep,
    answer,
    drivers: rankDrivers(pickCell(part.movementMm, plan, chosen, middle), q.seed, part.first).drivers,
    refusals: listReasons(here, rules, tension, newtons),
    repellingDepthMm: mapWorlds((world) => reach[world].repellingMm),
    divingDepthMm: mapWorlds((world) => reach[world].divingMm),
    isReachContiguous: WORLDS.every((world) => reach[world].isRepellingContiguous && reach[world].isDivingContiguous),
    tippingDepthMm: rules.tippingMm ? makeBandFact(rules.tippingMm, 'mm', 'release.tippingDepth/1', q.stamp, []) : null,
    frictionNeeded: makeBandFact(rules.frictionNeeded, '1', 'release.frictionNeeded/1', q.stamp, rules.holding ? [rules.holding] : []),
    driveN: newtons ? refuseFact('N', 'release.drive/1', q.stamp, newtons) : makeBandFact(rules.driveN, 'N', 'release.drive/1', q.stamp, []),
    expectedFrame: expectFrame(q, here.middle, plan, part, pickCell(part.depthMm, plan, chosen, middle)),
    recapture: readRecapture(q.frame),
    forceSource: q.frame.forceSource,
    model: RELEASE_MODEL,
  };
}

function concludeWorld(q: ReleaseQuestion, plan: EnsemblePlan, part: EnsemblePart, s: number, w: number, newtons: Reason | null): WorldForecast {
  const movement = pickCell(part.movementMm, plan, s, w);
  const depth = pickCell(part.depthMm, plan, s, w);
  const band = findBand(movement);
  const undamped = findBand(pickCell(part.undampedMm, plan, s, w));
  const reasons = refuseWorld(movement, depth);
  const verdict = judgeMovement(band);
  return {
    answer: reasons.length > 0 ? 'cannot say' : verdict,
    movementMm: openBand(band),
    finalDepthMm: makeBandFact(findBand(depth), 'mm', 'release.finalDepth/1', q.stamp, reasons),
    holdingMarginN: newtons
      ? refuseFact('N', 'release.holdingMargin/1', q.stamp, newtons)
      : makeBandFact(findBand(pickCell(part.marginN, plan, s, w)), 'N', 'release.holdingMargin/1', q.stamp, []),
    leaves: { low: readExit(band.low), mid: readExit(band.mid), high: readExit(band.high) },
    undampedMovementMm: differs(band, undamped) ? openBand(undamped) : null,
    reasons,
  };
}

/** Both stops are shown when they differ by more than this (2.9b). */
const SHOWN_MM = 1;
const differs = (a: Band, b: Band): boolean =>
  (['low', 'mid', 'high'] as const).some((k) => a[k] !== b[k] && !(Math.abs(a[k] - b[k]) <= SHOWN_MM));

const openBand = (b: Band): OpenBand => {
  const open = (v: number): number | null => (Number.isFinite(v) ? v : null);
  return { low: open(b.low), mid: open(b.mid), high: open(b.high) };
};

/** Value = 50 %, low and high = 5 and 95 % quantiles. An edge outside the landing zone is no number. */
function makeBandFact(b: Band, unit: Fact['unit'], method: string, stamp: FactStamp, reasons: readonly Reason[]): Fact {
  if (![b.low, b.mid, b.high].every((v) => Number.isFinite(v))) {
    const leaves: Reason = reasons[0] ?? {
      code: 'release-leaves-landing-zone',
      text: 'Part of the releases leaves the landing zone.',
      next: 'Choose another start or size; see the sweep of starts.',
    };
    return refuseFact(unit, method, stamp, leaves);
  }
  return makeFact(b.mid, b.low, b.high, unit, method, ['root.map', 'root.calcium', 'devices'], stamp, reasons);
}

function mapWorlds<T>(read: (world: World, index: number) => T): Record<World, T> {
  const [g, m, s] = WORLDS.map(read) as [T, T, T];
  return { gripping: g, middle: m, slippery: s };
}

interface TensionVerdict {
  readonly reason: Reason | null;
}
function judgeTension(plan: EnsemblePlan, part: EnsemblePart, s: number): TensionVerdict {
  return {
    reason: refuseTension(
      judgeMovement(findBand(pickStart(part.pulledMm, plan, s))),
      judgeMovement(findBand(pickStart(part.pushedMm, plan, s))),
    ),
  };
}

/** The middle world's answer unless a rule keeps it back. A start that stays in every world needs no direction. */
function answerStart(here: StartForecast['worlds'], rules: StartRules, tension: TensionVerdict | null): ReleaseVerdict {
  const answer = joinWorlds(here.gripping.answer, here.middle.answer, here.slippery.answer);
  if (WORLDS.every((w) => here[w].answer === 'stays')) return 'stays';
  if (tension?.reason) return 'cannot say';
  return rules.blocking.length > 0 && hasDirection(answer) ? 'cannot say' : answer;
}

function listReasons(here: StartForecast['worlds'], rules: StartRules, tension: TensionVerdict | null, newtons: Reason | null): readonly Reason[] {
  const all = [
    ...rules.blocking, ...rules.caveats, ...(tension?.reason ? [tension.reason] : []), ...(rules.holding ? [rules.holding] : []),
    ...(newtons ? [newtons] : []),
    ...WORLDS.flatMap((world) => here[world].reasons.map((r) => ({ ...r, text: `In the ${world} world: ${r.text.charAt(0).toLowerCase()}${r.text.slice(1)}` }))),
  ];
  return all;
}

function expectFrame(q: ReleaseQuestion, middle: WorldForecast, plan: EnsemblePlan, part: EnsemblePart, depthsMm: Float64Array): ReleaseForecast['expectedFrame'] {
  const depth = middle.movementMm.mid === null ? q.startMm : q.startMm - middle.movementMm.mid;
  const nominal = estimateInflatedFrame(q.frame, combineWall(q.basis, NOMINAL_WALL), depth, q.cusps);
  const movement = pickCell(part.movementMm, plan, plan.startsMm.indexOf(q.startMm), WORLDS.indexOf('middle'));
  const bands = bandInflatedFrame(plan, q.cusps, part.first, depthsMm.map((mm, i) => (Number.isFinite(movement[i]!) ? mm : NaN)));
  if (!bands) return nominal;
  const mm = (b: Band): Fact => makeBandFact(b, 'mm', 'release.expectedFrame/1', q.stamp, []);
  const ring = (r: RingBand): FrameRingFacts => ({
    meanDiameterMm: mm(r.meanDiameterMm), minDiameterMm: mm(r.minDiameterMm), maxDiameterMm: mm(r.maxDiameterMm),
    minOverMaxRatio: makeBandFact(r.minOverMaxRatio, '1', 'release.expectedFrame/1', q.stamp, []),
  });
  return { ...nominal, facts: { inflow: ring(bands.inflow), waist: ring(bands.waist), largestGapMm: mm(bands.largestGapMm) } };
}

function readRecapture(frame: FrameModel): ReleaseForecast['recapture'] {
  if (frame.recaptureRatio === null) return null;
  return { unsheathedRatio: frame.recaptureRatio, uncoveredMm: frame.recaptureRatio * frame.heightMm };
}
