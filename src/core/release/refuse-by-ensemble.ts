import type { Reason } from '../units/fact.ts';
import { findBand, judgeMovement, listDirections, worldsOppose } from './judge-verdict.ts';
import { LIMITS, makeRefusal } from './refuse-release.ts';
import type { Band, ReleaseVerdict, World } from './release-types.ts';
import { pickCell, pickStart, type EnsemblePart, type EnsemblePlan } from './run-ensemble.ts';
import { WORLD_RANGES } from './sample-inputs.ts';

const show = (v: number, digits = 1): string => (v < 0 ? '−' : '') + Math.abs(v).toFixed(digits);
const range = (b: Band, digits = 1): string => `${show(b.low, digits)} to ${show(b.high, digits)}`;

/** Rules 9 and 10 on one world at one start: band too wide, verdict different in the two halves of the samples. */
export function refuseWorld(movementMm: Float64Array, depthMm: Float64Array): readonly Reason[] {
  const out: Reason[] = [];
  const band = findBand(movementMm);
  const depth = findBand(depthMm);
  const leavesBoth = band.low === -Infinity && band.high === Infinity;
  const widthMm = depth.high - depth.low;
  if (leavesBoth) {
    out.push(makeRefusal('release-band-too-wide', 'Some of the releases leave the landing zone upward and some downward.',
      'A surer start depth, a known catheter tension or a surer outflow radius narrows the band; see what would settle it.'));
  } else if (!(widthMm <= LIMITS.bandMm)) {
    out.push(makeRefusal('release-band-too-wide',
      Number.isFinite(widthMm)
        ? `The final depth may lie anywhere in ${show(widthMm, 1)} mm; the limit is ${LIMITS.bandMm} mm.`
        : 'Part of the releases leaves the landing zone, so the final depth has no bounded interval.',
      'A surer start depth, a known catheter tension or a surer outflow radius narrows the band; see what would settle it.'));
  }
  const half = (k: 0 | 1): ReleaseVerdict => judgeMovement(findBand(movementMm.filter((_, i) => i % 2 === k)));
  if (half(0) !== half(1)) {
    out.push(makeRefusal('release-verdict-unstable', `One half of the releases says "${half(0)}", the other "${half(1)}".`, 'Forecast again with more releases (4,000).'));
  }
  return out;
}

/** Rules that need all worlds at one start (5, 6, 8, 13 keep the direction back; 7 keeps the holding back). */
export interface StartRules {
  /** Keep a direction back. */
  readonly blocking: readonly Reason[];
  /** Said beside the answer. */
  readonly caveats: readonly Reason[];
  readonly holding: Reason | null;
  /** Friction needed, the larger of diastole and systole, 5-50-95 %. */
  readonly frictionNeeded: Band;
  readonly driveN: Band;
  readonly tippingMm: Band | null;
}

/** Share of samples that must have a tipping depth for its band to count. */
const LEAST_TIPPING_RATIO = 0.2;

export function refuseStart(plan: EnsemblePlan, part: EnsemblePart, s: number, verdicts: Readonly<Record<World, ReleaseVerdict>>): StartRules {
  const startMm = plan.startsMm[s]!;
  const blocking: Reason[] = [];
  const caveats: Reason[] = [];
  const drive = findBand(pickStart(part.driveN, plan, s));
  const grip = findBand(pickStart(part.gripN, plan, s));
  const slippery = (WORLD_RANGES.slippery.friction[0] + WORLD_RANGES.slippery.friction[1]) / 2;
  if (drive.low < 0 && drive.high > 0 && Math.max(-drive.low, drive.high) < slippery * grip.mid) {
    blocking.push(makeRefusal('release-drive-sign-open',
      `The drive at ${show(startMm)} mm lies in ${range(drive)} N: its sign is open, and it is weaker than the friction even of a slippery wall.`,
      'Measure the outflow radius 5 and 10 mm below the annulus to ± 0.2 mm.'));
  }
  if (worldsOppose(verdicts.gripping, verdicts.slippery)) {
    blocking.push(makeRefusal('release-worlds-disagree', `A gripping wall says "${verdicts.gripping}", a slippery one "${verdicts.slippery}".`,
      'Friction cannot be measured before the release; choose a start at which both say the same.'));
  } else if (verdicts.gripping === 'stays' && verdicts.slippery !== 'stays') {
    caveats.push(makeRefusal('release-worlds-disagree', 'It stays if it grips; nothing can be said if it does not.',
      'Friction cannot be measured before the release; watch the first third of the unsheathing.'));
  }
  const tips = part.tippingMm.filter((v) => v === v);
  const tippingMm = tips.length >= LEAST_TIPPING_RATIO * part.count && tips.length > 0 ? findBand(tips) : null;
  if (tippingMm && startMm >= tippingMm.low && startMm <= tippingMm.high) {
    blocking.push(makeRefusal('release-start-in-tipping-band', `The start lies in the band of the tipping depth, ${range(tippingMm)} mm: shallower is pushed up, deeper down.`,
      'Choose a start outside the band, or measure the outflow radius 5 and 10 mm below the annulus to ± 0.2 mm.'));
  }
  const need = Float64Array.from(pickStart(part.needDiastole, plan, s), (v, i) => Math.max(v, part.needSystole[i * plan.startsMm.length + s]!));
  const frictionNeeded = findBand(need);
  return { blocking, caveats, holding: refuseHolding(frictionNeeded), frictionNeeded, driveN: drive, tippingMm };
}

/** Rule 7: only a friction need below or above every plausible friction says anything about holding. */
export function refuseHolding(need: Band): Reason | null {
  if (need.high < LIMITS.frictionLow || need.low > LIMITS.frictionHigh) return null;
  return makeRefusal('release-holding-friction-dominated',
    `Holding needs a friction of ${range(need, 2)}; what the wall has is not known between ${LIMITS.frictionLow} and ${LIMITS.frictionHigh.toFixed(2)}.`,
    'A pull-out test of this frame in a printed root of this shape would narrow the friction.');
}

/** Rule 13: with the tension unknown, pulling and pushing must say the same. */
export function refuseTension(pulling: ReleaseVerdict, pushing: ReleaseVerdict): Reason | null {
  if (pulling === pushing) return null;
  return makeRefusal('release-tension-unknown', `With 3 N of pull stored in the catheter the answer is "${pulling}", with 3 N of push "${pushing}".`,
    'Say whether the catheter is neutral, pulled or pushed when the release begins.');
}

/** Verdict of a world before rules: from the quantiles of its movement. */
export function judgeCell(plan: EnsemblePlan, part: EnsemblePart, s: number, w: number): ReleaseVerdict {
  return judgeMovement(findBand(pickCell(part.movementMm, plan, s, w)));
}
export const hasDirection = (v: ReleaseVerdict): boolean => listDirections(v).up || listDirections(v).down;
