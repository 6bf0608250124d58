import { normalCdf } from '../math/normal-cdf.ts';
import type { WorldForecast, World } from './release-types.ts';
import { WORLDS } from './release-types.ts';

/** What one attempt of the room tells: how far the frame went, against what was forecast from the start that was read. */
export interface AchievedMotion {
  readonly worlds: Readonly<Record<World, Pick<WorldForecast, 'movementMm' | 'leaves'>>>;
  /** + = up, mm; null: only its direction is known. */
  readonly movementMm: number | null;
  /** 95 % interval of what was read; infinite on a side that is open. */
  readonly lowMm: number;
  readonly highMm: number;
}
export type WorldFit = 'more' | 'alike' | 'less';
/** Which friction world a root looks like. The weights are for tests and words; they are never shown as numbers. */
export interface WorldUpdate {
  readonly weights: Readonly<Record<World, number>>;
  readonly fit: Readonly<Record<World, WorldFit>>;
}

/** One attempt may favour one world over another by this factor at most. */
export const MOST_RATIO = 4;
/**
 * An attempt counts with this power of its likelihood: attempts in one root share its walls and forces, so they are not
 * independent, and five numbers are a coarse density. With it the weights are what they say (docs/methods/update-worlds.md).
 */
export const TEMPER = 0.4;
/** No world is ever held for less likely than this, however many attempts speak against it. */
export const LEAST_WEIGHT = 0.1;
/** Weight from which a root looks more like a world, and up to which less. */
export const MORE_WEIGHT = 0.55;
export const LESS_WEIGHT = 0.18;
/** Beyond this the frame has left the zone; the forecast's own tables end there. */
const EDGE_MM = 15;
/** A reading is not better than the click noise of its marks (job.md, D-rules). */
const LEAST_SD_MM = 0.5;
/** A forecast is no narrower than what its frame model leaves out (release.md: bands in whole millimetres). */
const LEAST_SPREAD_MM = 0.5;
const TAIL_MM = 4;
const COUNTED_MM = 1.5;

/**
 * Bounded Bayesian update of the three friction worlds from achieved motions.
 *
 * Equation  weight_w ~ prod_i max((L_w,i / max_v L_v,i)^0.4, 1 / 4), floored at 0.1 and normalised; equal weights before the first.
 *           L = the forecast's 5-50-95 % quantiles as a density (shares .05 .45 .45 .05, even in between, even tails of 4 mm),
 *           convolved with the reading's normal noise
 * Units     mm, + = up
 * Fails     never; without a motion all three are alike
 * Source    docs/methods/update-worlds.md, with its calibration by simulation
 */
export function updateWorlds(motions: readonly AchievedMotion[]): WorldUpdate {
  let weights = WORLDS.map(() => 1 / WORLDS.length);
  for (const motion of motions) {
    const fits = WORLDS.map((w) => measureLikelihood(motion.worlds[w], motion));
    const best = Math.max(...fits);
    if (!(best > 0 && Number.isFinite(best))) continue; // fits none: it tells them not apart
    weights = boundWeights(weights.map((p, i) => p * Math.max((fits[i]! / best) ** TEMPER, 1 / MOST_RATIO)));
  }
  const of = (w: World): number => weights[WORLDS.indexOf(w)]!;
  const byWorld = <T>(read: (w: World) => T): Readonly<Record<World, T>> => ({ gripping: read('gripping'), middle: read('middle'), slippery: read('slippery') });
  return { weights: byWorld(of), fit: byWorld((w) => (of(w) >= MORE_WEIGHT ? 'more' : of(w) <= LESS_WEIGHT ? 'less' : 'alike')) };
}

/** Weights that add up to 1, none below the floor: what the low ones are given is taken from the others in proportion. */
function boundWeights(raw: readonly number[]): number[] {
  const isLow = raw.map(() => false);
  for (;;) {
    const free = 1 - isLow.filter(Boolean).length * LEAST_WEIGHT;
    const rest = raw.reduce((s, v, i) => (isLow[i] ? s : s + v), 0);
    const shares = raw.map((v, i) => (isLow[i] ? LEAST_WEIGHT : (v / rest) * free));
    const next = shares.findIndex((v) => v < LEAST_WEIGHT);
    if (next < 0) return shares;
    isLow[next] = true; // at most all but one: their floors add up to less than 1
  }
}

/** Density (1/mm) of what was read under one world's forecast, or the probability of its direction. */
export function measureLikelihood(world: Pick<WorldForecast, 'movementMm' | 'leaves'>, motion: Pick<AchievedMotion, 'movementMm' | 'lowMm' | 'highMm'>): number {
  const parts = listParts(world);
  if (!parts) return NaN;
  if (motion.movementMm === null) {
    const [from, to] = motion.lowMm > -Infinity ? [COUNTED_MM, Infinity] : [-Infinity, -COUNTED_MM];
    return parts.reduce((s, p) => s + (p.share * Math.max(0, Math.min(to, p.to) - Math.max(from, p.from))) / (p.to - p.from), 0);
  }
  const m = Math.max(-EDGE_MM, Math.min(EDGE_MM, motion.movementMm));
  const sd = Math.max(LEAST_SD_MM, (motion.highMm - motion.lowMm) / 3.92);
  return parts.reduce((s, p) => s + (p.share * (normalCdf((m - p.from) / sd) - normalCdf((m - p.to) / sd))) / (p.to - p.from), 0);
}

interface Part {
  readonly from: number;
  readonly to: number;
  readonly share: number;
}
/** The quantiles as four even pieces; null when the forecast holds no quantile. */
function listParts({ movementMm, leaves }: Pick<WorldForecast, 'movementMm' | 'leaves'>): readonly Part[] | null {
  const close = (v: number | null, exit: WorldForecast['leaves']['low']): number | null => {
    if (v !== null) return Math.max(-EDGE_MM, Math.min(EDGE_MM, v));
    return exit === 'up' ? EDGE_MM : exit === 'down' ? -EDGE_MM : null;
  };
  const [low, mid, high] = [close(movementMm.low, leaves.low), close(movementMm.mid, leaves.mid), close(movementMm.high, leaves.high)];
  if (low === null || mid === null || high === null || !(low <= mid && mid <= high)) return null;
  const piece = (from: number, to: number, share: number): Part => {
    const more = Math.max(0, LEAST_SPREAD_MM - (to - from)) / 2;
    return { from: from - more, to: to + more, share };
  };
  return [piece(low - TAIL_MM, low, 0.05), piece(low, mid, 0.45), piece(mid, high, 0.45), piece(high, high + TAIL_MM, 0.05)];
}
