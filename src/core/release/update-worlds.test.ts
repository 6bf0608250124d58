import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { askReference } from '../../../test/support/release-fixtures.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import { normalAt } from '../math/random.ts';
import { planEnsemble } from './forecast-release.ts';
import { findBand, readExit } from './judge-verdict.ts';
import { REFERENCE_ROOTS } from './reference-roots.ts';
import { WORLDS, type Band, type OpenBand } from './release-types.ts';
import { pickCell, runEnsemblePart } from './run-ensemble.ts';
import { LEAST_WEIGHT, measureLikelihood, MORE_WEIGHT, MOST_RATIO, updateWorlds, type AchievedMotion } from './update-worlds.ts';

const world = (low: number, mid: number, high: number): AchievedMotion['worlds']['middle'] => ({ movementMm: openBand({ low, mid, high }), leaves: { low: readExit(low), mid: readExit(mid), high: readExit(high) } });
function openBand({ low, mid, high }: Band): OpenBand {
  const open = (v: number): number | null => (Number.isFinite(v) ? v : null);
  return { low: open(low), mid: open(mid), high: open(high) };
}
/** A root that stays if it grips, may rise, and flies if it slips. */
const APART = { gripping: world(-0.5, 0, 0.5), middle: world(0, 1, 4), slippery: world(3, 7, Infinity) };
const motion = (movementMm: number, halfMm = 1.5, worlds: AchievedMotion['worlds'] = APART): AchievedMotion => ({ worlds, movementMm, lowMm: movementMm - halfMm, highMm: movementMm + halfMm });
const total = (of: ReturnType<typeof updateWorlds>): number => WORLDS.reduce((s, w) => s + of.weights[w], 0);

describe(`updateWorlds (seed ${seed})`, () => {
  test('without an attempt all three are alike', () => {
    expect(updateWorlds([])).toEqual({ weights: { gripping: 1 / 3, middle: 1 / 3, slippery: 1 / 3 }, fit: { gripping: 'alike', middle: 'alike', slippery: 'alike' } });
  });
  test('worlds that forecast the same are not told apart by anything', () => {
    const same = { gripping: world(0, 1, 4), middle: world(0, 1, 4), slippery: world(0, 1, 4) };
    for (const mm of [-10, 0, 3, 14]) for (const weight of Object.values(updateWorlds([motion(mm, 1, same), motion(mm, 1, same)]).weights)) expect(weight).toBeCloseTo(1 / 3, 12);
  });
  test('a flight speaks for slippery and against gripping, staying the other way round', () => {
    expect(updateWorlds([motion(9)]).fit).toMatchObject({ gripping: 'less', slippery: 'more' });
    const stayed = updateWorlds([motion(0)]);
    expect(stayed.weights.gripping).toBeGreaterThan(stayed.weights.middle);
    expect(stayed.fit.slippery).toBe('less');
  });
  test('one attempt never excludes a world, nor do a hundred', () => {
    fc.assert(fc.property(fc.array(fc.double({ min: -30, max: 30, noNaN: true }), { maxLength: 12 }), (list) => {
      const one = updateWorlds(list.slice(0, 1).map((mm) => motion(mm)));
      const all = updateWorlds(list.map((mm) => motion(mm)));
      for (const w of WORLDS) {
        // Bound of one attempt: 1 : 4 : 4 at worst.
        expect(one.weights[w]).toBeGreaterThanOrEqual(1 / (1 + 2 * MOST_RATIO) - 1e-12);
        expect(all.weights[w]).toBeGreaterThanOrEqual(LEAST_WEIGHT - 1e-12);
      }
      expect(Math.abs(total(all) - 1)).toBeLessThan(1e-12); // rounding of three sums
    }), replay);
    const hundred = updateWorlds(Array.from({ length: 100 }, () => motion(9)));
    expect(hundred.weights.gripping).toBeCloseTo(LEAST_WEIGHT, 12);
    // Raising one to the floor must not push the next one under it.
    const crowd = updateWorlds([motion(9, 1), motion(9, 1), motion(3, 1), motion(9, 1)]);
    for (const w of WORLDS) expect(crowd.weights[w]).toBeGreaterThanOrEqual(LEAST_WEIGHT - 1e-12);
  });
  test('the order of attempts that stay off the floor does not matter', () => {
    const [a, b] = [motion(0.5), motion(2)];
    for (const w of WORLDS) expect(updateWorlds([a, b]).weights[w]).toBeCloseTo(updateWorlds([b, a]).weights[w], 12);
  });
  test('a wider reading says less', () => {
    const spread = (halfMm: number): number => {
      const { weights } = updateWorlds([motion(8, halfMm)]);
      return Math.max(...Object.values(weights)) - Math.min(...Object.values(weights));
    };
    const said = [2, 6, 12, 30].map(spread);
    expect(said).toEqual([...said].sort((p, q) => q - p));
    expect(said.at(-1)).toBeLessThan(0.1);
  });
  test('mirrored forecasts and motions give mirrored answers', () => {
    const mirror = { gripping: world(-0.5, 0, 0.5), middle: world(-4, -1, 0), slippery: world(-Infinity, -7, -3) };
    for (const mm of [-2, 0, 3, 9]) {
      const [up, down] = [updateWorlds([motion(mm)]), updateWorlds([motion(-mm, 1.5, mirror)])];
      for (const w of WORLDS) expect(down.weights[w]).toBeCloseTo(up.weights[w], 7); // error of normalCdf
    }
  });
  test('a direction without a length says something, and a frame that left the zone is read at its edge', () => {
    const seen: AchievedMotion = { worlds: APART, movementMm: null, lowMm: 0, highMm: Infinity };
    expect(updateWorlds([seen]).weights.slippery).toBeGreaterThan(updateWorlds([seen]).weights.gripping);
    expect(updateWorlds([motion(40)])).toEqual(updateWorlds([motion(15)].map((m) => ({ ...m, lowMm: 15 - 1.5, highMm: 15 + 1.5 }))));
  });
  test('a forecast without quantiles, or a reading that is no number, changes nothing', () => {
    const none = { ...APART, middle: { movementMm: { low: null, mid: null, high: null }, leaves: { low: 'none', mid: 'none', high: 'none' } as const } };
    expect(updateWorlds([motion(3, 1, none)])).toEqual(updateWorlds([]));
    expect(updateWorlds([motion(NaN)])).toEqual(updateWorlds([]));
  });
  test('the density of a forecast holds all of it: its integral over the reading is 1', () => {
    for (const of of [APART.gripping, APART.middle, APART.slippery]) {
      let sum = 0;
      // Readings beyond the zone's edge (15 mm) are read at the edge, so the tail that lies there is not integrated.
      for (let mm = -15; mm < 15; mm += 0.01) sum += measureLikelihood(of, motion(mm)) * 0.01;
      expect(sum).toBeGreaterThan(of === APART.slippery ? 0.7 : 0.995);
      expect(sum).toBeLessThan(1.0001);
    }
  });
});

// The full run (six roots, 60 patients, 200 draws, 1 to 3 attempts) is tools/measure-worlds.mjs; this is its small guard.
describe('simulated patients whose world is known (seeds 22 and 31)', () => {
  test('knowing what happened beats not knowing, what it favours is mostly the truth, and the truth is seldom what it disfavours', () => {
    const PATIENTS = 24;
    let score = 0;
    let favoured = 0;
    let favouredRight = 0;
    let disfavoured = 0;
    let disfavouredTruth = 0;
    for (const root of [REFERENCE_ROOTS.flared, REFERENCE_ROOTS.bulge, REFERENCE_ROOTS.calcium]) {
      const plan = { ...planEnsemble(askReference(root)), withUndamped: false, seed: 22 };
      const forecast = runEnsemblePart(plan, 0, 60);
      const at = plan.startsMm.indexOf(4);
      const worlds = Object.fromEntries(WORLDS.map((w, k) => { const b = findBand(pickCell(forecast.movementMm, plan, at, k)); return [w, world(b.low, b.mid, b.high)]; })) as AchievedMotion['worlds'];
      const truth = runEnsemblePart({ ...plan, seed: 31 }, 0, PATIENTS);
      for (let i = 0; i < PATIENTS; i++) for (const [k, w] of WORLDS.entries()) {
        const went = pickCell(truth.movementMm, plan, at, k)[i]!;
        const read = Number.isFinite(went) ? 4 - pickCell(truth.depthMm, plan, at, k)[i]! + normalAt(77, i, k, 2.5) : went > 0 ? 15 : -15;
        const { weights, fit } = updateWorlds([{ ...motion(read, 1.96 * Math.SQRT2, worlds) }]);
        score += Math.log(weights[w] * 3) / (9 * PATIENTS);
        for (const v of WORLDS) {
          if (fit[v] === 'more') { favoured++; if (v === w) favouredRight++; }
          if (fit[v] === 'less') { disfavoured++; if (v === w) disfavouredTruth++; }
        }
      }
    }
    expect(score).toBeGreaterThan(0.05); // 0: equal weights; the full run gives about 0.12
    expect(favoured).toBeGreaterThan(5);
    expect(favouredRight / favoured).toBeGreaterThanOrEqual(MORE_WEIGHT);
    expect(disfavouredTruth / Math.max(1, disfavoured)).toBeLessThan(0.2);
  });
});
