import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { makeFrozenFixture } from '../../../test/support/frozen-fixture.ts';
import { logTime, makeDepth } from '../../../test/support/room-log.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import { TRAINING_RULES } from '../device/training-table.ts';
import { judgeDepthAge, judgeDepthPlace, judgeLiveDepth, LEAST_CLICKS, readDepthWindow, type DepthWindow } from './judge-depth-place.ts';
import { readRoomLimits } from './read-room-limits.ts';

const WINDOW: DepthWindow = { state: 'window', lowMm: 1, highMm: 2 };
const LIMITS = readRoomLimits(TRAINING_RULES);
const placeOf = (depthMm: number, halfMm = 0.4, window = WINDOW): string => judgeDepthPlace(makeDepth(depthMm, halfMm), window).place;
const NOW = Date.parse(logTime(0));

describe(`judgeDepthPlace (seed ${seed})`, () => {
  test('D37: 1.5 u 0.2 in [1, 2] is inside, 0.8 straddles, 2.9 is deeper, and -1 is higher', () => {
    expect([1.5, 0.8, 2.9, -1].map((mm) => placeOf(mm))).toEqual(['inside', 'straddles', 'deeper', 'higher']);
  });
  test('a band that ends on the edge of the window is still inside, and a hair beyond is not', () => {
    expect(placeOf(1.5, 0.5)).toBe('inside');
    expect(placeOf(1.5, 0.5 + 1e-9)).toBe('straddles');
    // A band as wide as the window holds both edges.
    expect(placeOf(1.5, 0.6)).toBe('straddles');
  });
  test('no reading, no band, no view, a broken number or single clicks are never a yes', () => {
    const because = (change: Parameters<typeof makeDepth>[2]) => judgeDepthPlace(makeDepth(1.5, 0.4, change), WINDOW);
    expect(judgeDepthPlace(null, WINDOW)).toEqual({ place: 'cannot say', because: 'not-read' });
    expect(because({ lowMm: 1.5, highMm: 1.5 }).because).toBe('no-band');
    expect(because({ views: [] }).because).toBe('no-view');
    for (const broken of [{ depthMm: NaN }, { lowMm: NaN }, { highMm: Infinity }, { lowMm: 1.6 }]) expect(because(broken)).toEqual({ place: 'cannot say', because: 'reading-broken' });
    expect(because({ clicks: LEAST_CLICKS - 1 }).because).toBe('single-clicks');
    expect(because({ clicks: LEAST_CLICKS }).place).toBe('inside');
    // By eye: once within 0.4 mm is not believed, twice is; once within 2 mm is what one reading is worth.
    expect(because({ clicks: 1, by: 'entered' }).because).toBe('single-clicks');
    expect(because({ clicks: 2, by: 'entered' }).place).toBe('inside');
    const wide = { ...makeDepth(3, 2), by: 'entered' as const, clicks: 1 };
    expect(judgeDepthPlace(wide, { state: 'window', lowMm: 0.5, highMm: 5.5 }).place).toBe('inside');
  });
  test('without a window, with an empty or an incomplete one nothing is inside; beyond a known limit is beyond', () => {
    expect(placeOf(1.5, 0.1, { state: 'none', lowMm: null, highMm: null })).toBe('cannot say');
    expect(placeOf(1.5, 0.1, { state: 'empty', lowMm: null, highMm: null })).toBe('cannot say');
    expect(placeOf(1.5, 0.1, { ...WINDOW, state: 'incomplete' })).toBe('cannot say');
    expect(placeOf(4, 0.1, { ...WINDOW, state: 'incomplete' })).toBe('deeper');
  });
  test('a narrower band of the same depth never turns a yes into a no, and the answer moves one way with depth', () => {
    const order = ['higher', 'straddles', 'inside', 'straddles', 'deeper'];
    fc.assert(fc.property(fc.double({ min: -5, max: 10, noNaN: true }), fc.double({ min: 0.01, max: 4, noNaN: true }), fc.double({ min: 0.1, max: 1, noNaN: true }), (mm, half, share) => {
      const wide = placeOf(mm, half);
      const narrow = placeOf(mm, half * share);
      if (wide !== 'straddles') expect(narrow).toBe(wide);
    }), replay);
    const seen = Array.from({ length: 81 }, (_, i) => placeOf(-2 + i / 10, 0.3)).filter((p, i, all) => p !== all[i - 1]);
    expect(seen).toEqual(order);
  });
});

describe('readDepthWindow', () => {
  const { document } = makeFrozenFixture();
  test('is that of the size that goes in, and a stop agreed at the huddle only narrows it', () => {
    const { landing } = document.plan;
    const window = readDepthWindow(document);
    expect(window.highMm! - window.lowMm!).toBeGreaterThan(1);
    expect(window).toMatchObject({ lowMm: landing!.aimLowMm, highMm: landing!.aimHighMm });
    const agreed = (stop: number) => readDepthWindow({ ...document, huddle: { ...document.huddle, 'depth.stopMm': stop } });
    expect(agreed(window.highMm! - 0.5).highMm).toBe(window.highMm! - 0.5);
    expect(agreed(window.highMm! + 5).highMm).toBe(window.highMm);
    expect(agreed(window.lowMm! - 1).state).toBe('empty');
  });
  test('a limit that is not known leaves it incomplete until the team accepted exactly that by name', () => {
    const landing = { ...document.plan.landing!, state: 'incomplete' as const, limits: document.plan.landing!.limits.map((l, i) => ({ ...l, isKnown: i > 1 })) };
    const [first, second] = landing.limits.map((l) => l.code) as [string, string];
    const of = (...codes: readonly string[]) => readDepthWindow({ ...document, plan: { ...document.plan, landing }, acceptedDoubts: codes.map((code) => ({ section: 'landing', code, because: 'seen', by: 'A' })) });
    expect(of().state).toBe('incomplete');
    expect(of(first).state).toBe('incomplete');
    expect(of(first, `landing-${second}-unknown`)).toMatchObject({ state: 'window', accepted: [first, second] });
    const elsewhere = readDepthWindow({ ...document, plan: { ...document.plan, landing }, acceptedDoubts: [first, second].map((code) => ({ section: 'size', code, because: 'seen', by: 'A' })) });
    expect(elsewhere.state).toBe('incomplete');
  });
  test('a window of another size is none', () => {
    expect(readDepthWindow({ ...document, choice: { ...document.choice, size: '30' } }).state).toBe('none');
    const { landing: _none, ...plan } = document.plan;
    expect(readDepthWindow({ ...document, plan }).state).toBe('none');
  });
});

describe('age of a live depth', () => {
  const age = (seconds: number) => judgeDepthAge(logTime(0), NOW + seconds * 1000, LIMITS);
  test('is fresh to 60 s, grey after, and no answer after 180 s', () => {
    expect([0, 60, 60.001, 180, 180.001].map((s) => age(s).state)).toEqual(['fresh', 'fresh', 'old', 'old', 'gone']);
    expect(age(61)).toEqual({ state: 'old', ageS: 61 });
  });
  test('a strict rule counts its own second; without rules nobody says that it is fresh', () => {
    const strict = { depthOldS: { ...LIMITS.depthOldS!, strict: true }, depthGoneS: LIMITS.depthGoneS };
    expect(judgeDepthAge(logTime(0), NOW + 60_000, strict).state).toBe('old');
    expect(judgeDepthAge(logTime(0), NOW + 1000, { depthOldS: null, depthGoneS: null })).toEqual({ state: 'not known', ageS: 1 });
  });
  test('a time that cannot be read, or one ahead of the clock, is never taken for younger than now', () => {
    expect(judgeDepthAge('yesterday', NOW, LIMITS)).toEqual({ state: 'not known', ageS: null });
    expect(age(-5)).toEqual({ state: 'fresh', ageS: 0 });
  });
  test('a depth that is gone or of unknown age places nothing', () => {
    const live = (seconds: number, at = logTime(0)) => judgeLiveDepth({ reading: makeDepth(1.5), at }, WINDOW, NOW + seconds * 1000, LIMITS);
    expect(live(10)).toMatchObject({ place: 'inside', age: { state: 'fresh' } });
    expect(live(100)).toMatchObject({ place: 'inside', age: { state: 'old' } });
    expect(live(181)).toMatchObject({ place: 'cannot say', because: 'too-old' });
    expect(live(0, 'noon')).toMatchObject({ place: 'cannot say', because: 'no-age' });
    for (const before of ['moved', 'released'] as const) expect(judgeLiveDepth({ reading: makeDepth(1.5), at: logTime(0), before }, WINDOW, NOW + 10_000, LIMITS)).toMatchObject({ place: 'cannot say', because: `${before}-since` });
    expect(judgeLiveDepth(null, WINDOW, NOW, LIMITS)).toEqual({ place: 'cannot say', because: 'not-read', age: null });
  });
});
