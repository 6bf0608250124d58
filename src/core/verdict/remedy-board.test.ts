import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { CLOCK, fact, NO_SIGNS, VERDICT_RULES, withRule, witness } from '../../../test/support/verdict-fixtures.ts';
import type { RuleSet } from '../device/device-types.ts';
import { chooseBalloon, listBalloonLimits, type BalloonLimit } from './choose-balloon.ts';
import { compareLeakSites, doArcsMeet, type SeenLeak } from './compare-leak-sites.ts';
import { fuseWitnesses } from './fuse-witnesses.ts';
import { judgeWaiting } from './judge-waiting.ts';
import { findVerdictRule } from './read-leak-rules.ts';
import { makeRemedyBoard, type RemedyInputs } from './remedy-board.ts';
import { REMEDIES } from './verdict-types.ts';

const limit = (code: BalloonLimit['code'], mm: number | null, isStrict = false): BalloonLimit => ({ code, mm, isKnown: mm !== null, isStrict, because: 'test', isUnverified: false });
const D41 = [limit('table', 24), limit('ring', 23.2), limit('junction', 22.5)];

describe('D41 chooseBalloon', () => {
  test('20, 22, 23, 24 mm against 24, 23.2 and 22.5: 22 mm, bound by the junction', () => {
    expect(chooseBalloon([20, 22, 23, 24], D41)).toMatchObject({ state: 'fits', mm: 22, binding: 'junction' });
  });
  test('limits of 19: NONE FITS', () => {
    expect(chooseBalloon([20, 22, 23, 24], [limit('table', 24), limit('ring', 19)])).toMatchObject({ state: 'NONE FITS', mm: null, binding: 'ring' });
  });
  test('a balloon of exactly the limit is allowed, unless the rule is strict', () => {
    expect(chooseBalloon([20, 22.5], D41).mm).toBe(22.5);
    expect(chooseBalloon([20, 22.5], [...D41.slice(0, 2), limit('junction', 22.5, true)]).mm).toBe(20);
  });
  test('a limit that is not known is not skipped; known ones that leave none still say so', () => {
    expect(chooseBalloon([20], [...D41, limit('outflow-calcium', null)])).toMatchObject({ state: 'CANNOT SAY', mm: null, unknown: ['outflow-calcium'] });
    expect(chooseBalloon([23], [...D41, limit('outflow-calcium', null)]).state).toBe('NONE FITS');
    expect(chooseBalloon([20], []).state).toBe('CANNOT SAY');
    expect(chooseBalloon([20], [{ ...limit('ring', Number.NaN), isKnown: true }]).state).toBe('CANNOT SAY');
  });
  test('with no balloon at hand nothing fits; numbers that are no diameters are not at hand', () => {
    expect(chooseBalloon([], D41).state).toBe('NONE FITS');
    expect(chooseBalloon([Number.NaN, -3, 0, Number.POSITIVE_INFINITY], D41).state).toBe('NONE FITS');
  });
  test(`the chosen one keeps every limit and none larger at hand does (seed ${seed})`, () => {
    const mm = fc.double({ min: 10, max: 40, noNaN: true });
    fc.assert(fc.property(fc.array(mm, { minLength: 1, maxLength: 8 }), fc.array(mm, { minLength: 1, maxLength: 4 }), (hand, limits) => {
      const choice = chooseBalloon(hand, limits.map((v) => limit('ring', v)));
      const allowed = hand.filter((b) => limits.every((l) => b <= l));
      expect(choice.mm).toBe(allowed.length > 0 ? Math.max(...allowed) : null);
    }), replay);
  });
});

const ROOT = {
  basalRing: { perimeterDiameterMm: fact(24, 'mm', 0.5) }, outflowTract: { perimeterMm: fact(25 * Math.PI, 'mm', 1) },
  sinotubularJunction: { diameterMm: fact(28, 'mm', 1) }, calcium: { outflowMm3: fact(5, 'mm3', 3) },
} as unknown as Parameters<typeof listBalloonLimits>[1];
const limitsOf = (calcium: number | null, rules: RuleSet | null = VERDICT_RULES) =>
  Object.fromEntries(listBalloonLimits({ balloonMaxMm: 25 }, { ...ROOT!, calcium: { outflowMm3: fact(calcium, 'mm3', 3) } } as never, rules).map((l) => [l.code, l]));

describe('listBalloonLimits', () => {
  test('takes the small end of each band; little calcium sets no limit and is known', () => {
    const found = limitsOf(5);
    expect(found['table']!.mm).toBe(25);
    expect(found['ring']!.mm).toBe(23.5);
    expect(found['outflow-tract']!.mm).toBeCloseTo(25 - 1 / Math.PI, 9);
    expect(found['junction']!.mm).toBe(27);
    expect(found['outflow-calcium']).toMatchObject({ mm: null, isKnown: true });
  });
  test('calcium that may reach the signed volume lowers the limit: 16.9 + 3 does not, 17 + 3 does', () => {
    expect(limitsOf(16.9)['outflow-calcium']!.mm).toBeNull();
    expect(limitsOf(17)['outflow-calcium']).toMatchObject({ mm: 23.5 * 0.95, isUnverified: true });
  });
  test('a missing fact or rule leaves its limit unknown', () => {
    expect(limitsOf(null)['outflow-calcium']).toMatchObject({ mm: null, isKnown: false });
    expect(limitsOf(5, withRule('balloon-ring-ratio', null))['ring']).toMatchObject({ mm: null, isKnown: false });
    expect(limitsOf(5, withRule('balloon-ring-ratio', { unit: 'mm' }))['ring']!.isKnown).toBe(false);
    expect(listBalloonLimits(null, null, VERDICT_RULES).every((l) => !l.isKnown)).toBe(true);
  });
});

const SE = { kind: 'self-expanding', isWaitAllowed: null } as const;
const BE = { kind: 'balloon-expandable', isWaitAllowed: null } as const;

describe('judgeWaiting', () => {
  test('self-expanding: the signed time runs from release, then is over', () => {
    expect(judgeWaiting(SE, CLOCK, VERDICT_RULES)).toMatchObject({ state: 'running', sinceS: 360, leftS: 240, isUnverified: true });
    expect(judgeWaiting(SE, { ...CLOCK, nowAt: '2026-03-02T10:20:00.000Z' }, VERDICT_RULES)).toMatchObject({ state: 'over', leftS: 0 });
  });
  test('a later manoeuvre begins the time anew, one before the release does not', () => {
    expect(judgeWaiting(SE, { ...CLOCK, lastManoeuvreAt: '2026-03-02T10:15:00.000Z' }, VERDICT_RULES).leftS).toBe(540);
    expect(judgeWaiting(SE, { ...CLOCK, lastManoeuvreAt: '2026-03-02T10:00:00.000Z' }, VERDICT_RULES).leftS).toBe(240);
  });
  test('D46 balloon-expandable: not offered unless the table allows it', () => {
    expect(judgeWaiting(BE, CLOCK, VERDICT_RULES).state).toBe('not offered');
    expect(judgeWaiting({ ...BE, isWaitAllowed: false }, CLOCK, VERDICT_RULES).state).toBe('not offered');
    expect(judgeWaiting({ ...BE, isWaitAllowed: true }, CLOCK, VERDICT_RULES).state).toBe('running');
  });
  test('a manoeuvre or a now that cannot be read: nobody can say, and the timer does not run from the release', () => {
    for (const change of [{ lastManoeuvreAt: 'noon' }, { nowAt: '' }]) expect(judgeWaiting(SE, { ...CLOCK, ...change }, VERDICT_RULES)).toMatchObject({ state: 'cannot say', leftS: null });
  });
  test('without release or signed time nobody can say', () => {
    expect(judgeWaiting(SE, { ...CLOCK, releasedAt: null }, VERDICT_RULES).state).toBe('cannot say');
    expect(judgeWaiting(SE, CLOCK, null).state).toBe('cannot say');
  });
});

const LINE = findVerdictRule(VERDICT_RULES, 'leak-decision-line');
const MODERATE = fuseWitnesses([witness('pressure', [2, 4]), witness('echo', [2, 3])], LINE);
const GOOD = { ...NO_SIGNS, leakPlace: 'beside the frame', framePlace: 'inside', frameOpening: 'not fully open', isFrameMoving: false, hasEffusion: false, isCoronaryFlowNormal: true, isCirculationStable: true, isSnareReady: true, isClosureReady: false, isSurgeryAgreed: true } as const;
const INPUTS: RemedyInputs = { kind: 'self-expanding', verdict: MODERATE, waiting: judgeWaiting(SE, CLOCK, VERDICT_RULES), balloon: chooseBalloon([22, 23], D41), second: { state: 'none', valves: [] }, signs: GOOD };
const states = (change: Partial<RemedyInputs> = {}) => Object.fromEntries(makeRemedyBoard({ ...INPUTS, ...change }).map((r) => [r.code, r.state]));
const row = (code: string, change: Partial<RemedyInputs> = {}) => makeRemedyBoard({ ...INPUTS, ...change }).find((r) => r.code === code)!;

describe('D46 makeRemedyBoard', () => {
  test('lists all in the fixed order whatever is known, each with gain and limit', () => {
    for (const board of [makeRemedyBoard(INPUTS), makeRemedyBoard({ ...INPUTS, signs: NO_SIGNS, second: null, verdict: fuseWitnesses([], LINE) })]) {
      expect(board.map((r) => r.code)).toEqual(['wait', 'post-dilate', 'second-valve', 'snare', 'closure', 'surgery']);
      for (const r of board) expect(r.gain.length > 10 && r.limit.length > 10 && r.mustBeTrue.length > 0).toBe(true);
    }
    expect(REMEDIES.length).toBe(6);
  });
  test('self-expanding, moderate: wait with timer and post-dilatation with its size are open', () => {
    expect(states()).toEqual({ wait: 'open', 'post-dilate': 'open', 'second-valve': 'closed', snare: 'closed', closure: 'closed', surgery: 'open' });
    expect(row('wait').detail).toContain('4 min 0 s of 10 min left');
    expect(row('post-dilate').detail).toBe('22 mm at most, bound by sinotubular junction (22.5 mm).');
  });
  test('balloon-expandable: wait is closed, and so is the snare', () => {
    expect(states({ kind: 'balloon-expandable', waiting: judgeWaiting(BE, CLOCK, VERDICT_RULES) })).toMatchObject({ wait: 'closed', snare: 'closed' });
  });
  test('NONE FITS closes post-dilatation; limits that are not known leave it unsaid', () => {
    expect(row('post-dilate', { balloon: chooseBalloon([24], D41) })).toMatchObject({ state: 'closed', detail: 'NONE FITS: sinotubular junction leaves 22.5 mm.' });
    expect(row('post-dilate', { balloon: chooseBalloon([22], [...D41, limit('outflow-calcium', null)]) })).toMatchObject({ state: 'cannot say', detail: 'CANNOT SAY: not known are calcium below the ring.' });
  });
  test('a leak through the leaflets closes balloon and plug and is a reason for a second valve', () => {
    const central = { signs: { ...GOOD, leakPlace: 'through the leaflets' }, second: { state: 'ready', valves: [] } } as const;
    expect(states(central)).toMatchObject({ 'post-dilate': 'closed', closure: 'closed', 'second-valve': 'open' });
  });
  test('a frame too deep opens snare and second valve; calcium, place, effusion, coronary are named against the balloon', () => {
    const deep = { signs: { ...GOOD, framePlace: 'deeper', hasEffusion: true, isCoronaryFlowNormal: false } } as const;
    expect(states(deep)).toMatchObject({ snare: 'open', 'post-dilate': 'open' });
    const signs = row('post-dilate', { ...deep, balloon: chooseBalloon([20], [...D41, limit('outflow-calcium', 22)]) }).contraSigns;
    expect(signs.filter((s) => s.isPresent).map((s) => s.text)).toEqual(['Calcium below the ring reaches the signed volume:', 'The frame stands outside its window:', 'Pericardial effusion:', 'A coronary artery does not fill as before:']);
  });
  test('agreed below the line closes what needs a leak; not settled leaves it unsaid', () => {
    const mild = fuseWitnesses([witness('pressure', [0, 1]), witness('echo', [1, 1])], LINE);
    expect(states({ verdict: mild })).toMatchObject({ wait: 'open', 'post-dilate': 'closed', surgery: 'closed' });
    expect(states({ verdict: fuseWitnesses([witness('pressure', [1, 3]), witness('echo', [1, 3])], LINE) })).toMatchObject({ 'post-dilate': 'cannot say', surgery: 'cannot say' });
  });
  test('nobody looked: nothing is open, and everything unknown is listed', () => {
    const board = makeRemedyBoard({ ...INPUTS, signs: NO_SIGNS, second: null });
    expect(board.some((r) => r.state === 'open')).toBe(false);
    expect(board.find((r) => r.code === 'post-dilate')!.unknown).toHaveLength(7); // where the leak runs, and six signs
  });
  test('E10, E12: no percentage and no score anywhere', () => {
    expect(JSON.stringify(makeRemedyBoard(INPUTS))).not.toMatch(/%|percent|score|recommend|best/i);
  });
});

const gap = (fromDeg: number, toDeg: number, cusp: 'R' | 'L' | 'N' = 'N') => ({ cusp, fromDeg, toDeg, heightMm: -3, gapMm: 1.2 });
const seen = (arcDeg: SeenLeak['arcDeg'], cusp: SeenLeak['cusp'] = null): SeenLeak => ({ cusp, arcDeg, by: 'Reader One', at: CLOCK.nowAt });

describe('compareLeakSites', () => {
  test('a leak in a gap, beside it, elsewhere, and one nobody foresaw', () => {
    const states = (s: readonly SeenLeak[]) => { const c = compareLeakSites([gap(230, 260)], s); return [c.rows[0]!.state, c.unforeseen.length]; };
    expect(states([seen([240, 250])])).toEqual(['seen here', 0]);
    expect(states([seen([275, 290])])).toEqual(['beside', 0]);
    expect(states([seen([276, 290])])).toEqual(['not seen here', 1]);
    expect(states([seen(null, 'N')])).toEqual(['beside', 0]);
    expect(states([seen(null, 'L')])).toEqual(['not seen here', 1]);
    expect(states([])).toEqual(['not seen here', 0]);
  });
  test('nobody looked is not "no leak"; no forecast is not "no gap"', () => {
    expect(compareLeakSites([gap(0, 10)], null)).toMatchObject({ state: 'not looked', rows: [{ state: 'not looked' }] });
    expect(compareLeakSites(null, [seen([0, 10])])).toMatchObject({ state: 'no forecast', rows: [] });
  });
  test(`arcs meet across 0, and turning both changes nothing (seed ${seed})`, () => {
    expect(doArcsMeet([350, 10], [5, 20], 0)).toBe(true);
    expect(doArcsMeet([350, 10], [11, 340], 0)).toBe(false);
    expect(doArcsMeet([0, 360], [77, 78], 0)).toBe(true);
    const deg = fc.integer({ min: 0, max: 359 });
    fc.assert(fc.property(deg, fc.integer({ min: 1, max: 200 }), deg, fc.integer({ min: 1, max: 200 }), deg, (a, al, b, bl, by) => {
      const [first, second] = [[a, (a + al) % 360], [b, (b + bl) % 360]] as const;
      const turned = ([from, to]: readonly [number, number]) => [(from + by) % 360, (to + by) % 360] as const;
      const meets = doArcsMeet(first, second, 15);
      expect(doArcsMeet(turned(first), turned(second), 15)).toBe(meets);
      expect(doArcsMeet(second, first, 15)).toBe(meets);
    }), replay);
  });
});
