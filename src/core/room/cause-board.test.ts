import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { makeFrozenFixture } from '../../../test/support/frozen-fixture.ts';
import { depthEntry, logTime, makeLog, makeRoom } from '../../../test/support/room-log.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import type { ReleaseForecast } from '../release/release-types.ts';
import type { LevelRing, RootSurvey } from '../root/root-types.ts';
import { BOARD_EN } from '../text/board-en.ts';
import { makeFact, refuseFact } from '../units/fact.ts';
import { makeCauseBoard, weighEvidence } from './cause-board.ts';
import type { CauseBoard, Evidence } from './cause-types.ts';
import { foldRoom } from './fold-room.ts';
import type { FrozenDocument } from './frozen-types.ts';
import { CAUSE_CODES, type CauseCode, type RoomEntry } from './room-types.ts';

const STAMP = { by: 'test', at: '2026-02-01T08:00:00Z' };
const { document: BASE } = makeFrozenFixture();
const PLANNED = 3;
const fact = (value: number, half: number) => makeFact(value, value - half, value + half, 'mm', 'test', [], STAMP);
const withRoot = (change: Partial<RootSurvey>, of: FrozenDocument = FROZEN): FrozenDocument => ({ ...of, plan: { ...of.plan, root: { ...of.plan.root!, ...change } } });
const FROZEN: FrozenDocument = { ...BASE, choice: { ...BASE.choice, startMm: PLANNED, paceBpm: 180, tension: 'neutral' } };
const UP: RoomEntry = { is: 'moved', direction: 'up', mm: 4 };
const DOWN: RoomEntry = { is: 'moved', direction: 'down', mm: 4 };
/** A start that was read, whatever is to happen before the frame moves, and the movement. */
const board = (frozen: FrozenDocument, moved: RoomEntry, before: readonly RoomEntry[] = [], startMm = PLANNED, halfMm = 0.4): CauseBoard =>
  makeCauseBoard(frozen, makeRoom(...before, depthEntry(startMm, halfMm), { is: 'fraction', ratio: 0.5 }, moved));
const row = (b: CauseBoard, code: CauseCode) => b.rows.find((r) => r.code === code)!;
const sides = (b: CauseBoard, code: CauseCode): readonly Evidence['side'][] => row(b, code).evidence.map((e) => e.side);
const said = (b: CauseBoard, code: CauseCode): string => row(b, code).evidence.map((e) => `${e.side}: ${e.text}`).join('\n');

/** Levels of a cone: radius at the plane and its change per mm toward the aorta. */
function cone(slope: number, radius = 12, half = 0.2): LevelRing[] {
  const of = FROZEN.plan.root!.levels[0]!;
  return [0, -5, -10].map((heightMm): LevelRing => ({ ...of, heightMm, perimeterMm: fact(2 * Math.PI * (radius + slope * heightMm), half) }));
}

describe(`makeCauseBoard (seed ${seed})`, () => {
  test('D38: a jump from a start 1 mm deeper than planned without a pacing log lists all seven, and says against and not known', () => {
    const b = board(FROZEN, UP, [], PLANNED + 1);
    expect(b.rows.map((r) => r.code)).toEqual(CAUSE_CODES);
    expect(b.event).toMatchObject({ attempt: 1, direction: 'up', at: logTime(2) });
    expect(sides(b, 'start-height')).toContain('against');
    expect(said(b, 'start-height')).toContain('wholly below the planned 3.0 mm');
    expect(row(b, 'no-pacing')).toMatchObject({ weight: 'open', evidence: [{ side: 'not known', at: null }] });
    expect(b.closed).toBeNull();
  });
  test('every row says something, no sentence holds a percentage or a score, and each logged fact has its time', () => {
    for (const moved of [UP, DOWN, { is: 'moved', direction: 'unknown', mm: null } as RoomEntry]) {
      const b = board(FROZEN, moved, [{ is: 'pacing', isOn: true, ratePerMin: 180 }, { is: 'wire', did: 'moved', side: 'outer curve' }, { is: 'tension', tension: 'pulling' }]);
      for (const r of b.rows) {
        expect(r.evidence.length, r.code).toBeGreaterThan(0);
        for (const e of r.evidence) {
          expect(e.text).not.toMatch(/%|percent|score|probab|risk|\{/i);
          if (e.side !== 'not known' && e.from === 'log') expect(e.at, e.text).toMatch(/^2026-03-02T10/);
          if (e.from === 'plan' && e.side !== 'not known') expect(e.at, e.text).not.toBeNull();
        }
      }
    }
  });
  test('what is corrected after the movement was so before it', () => {
    const log = makeLog([{ is: 'wire', did: 'moved', side: null }, depthEntry(PLANNED), { is: 'fraction', ratio: 0.5 }, UP]);
    const corrected = { ...log[0]!, entryId: 'late', count: 5, happenedAt: logTime(60), corrects: log[0]!.entryId, entry: { is: 'wire', did: 'moved', side: 'centre' } as const };
    const wire = row(makeCauseBoard(FROZEN, foldRoom([...log, corrected])), 'wire-bias').evidence;
    expect(wire).toContainEqual(expect.objectContaining({ side: 'against', text: BOARD_EN.wireCentre, at: logTime(0) }));
  });
  test('no sentence of the boards holds a percentage, and every weight, cause and reason has its words', () => {
    for (const text of Object.values(BOARD_EN)) expect(text).not.toMatch(/%|percent|probab|\brisk\b|score/i);
    for (const code of CAUSE_CODES) expect(BOARD_EN).toHaveProperty([`cause-${code}`]);
  });
  test('without a movement all seven stand there and nothing is said; a second attempt is the one that counts', () => {
    const quiet = makeCauseBoard(FROZEN, makeRoom(depthEntry(3)));
    expect(quiet).toMatchObject({ event: null, standOut: [], closed: null });
    expect(quiet.rows.map((r) => r.code)).toEqual(CAUSE_CODES);
    const again = makeCauseBoard(FROZEN, makeRoom(depthEntry(3), { is: 'fraction', ratio: 0.5 }, UP, { is: 'recaptured', isWhole: true }, depthEntry(5), { is: 'fraction', ratio: 0.5 }, DOWN));
    expect(again.event).toMatchObject({ attempt: 2, direction: 'down' });
  });
  test('two depths that differ by more than their band are a movement even when nobody tapped it, and their direction wins', () => {
    const measured = makeCauseBoard(FROZEN, makeRoom(depthEntry(3), { is: 'fraction', ratio: 0.5 }, depthEntry(-1)));
    expect(measured.event).toMatchObject({ direction: 'up', motion: { mm: 4, from: 'depth' } });
    const within = makeCauseBoard(FROZEN, makeRoom(depthEntry(3, 2), { is: 'fraction', ratio: 0.5 }, depthEntry(1.2, 2)));
    expect(within.event).toBeNull();
    const saidDown = makeCauseBoard(FROZEN, makeRoom(depthEntry(3), { is: 'fraction', ratio: 0.5 }, DOWN, depthEntry(-1)));
    expect(saidDown.event!.direction).toBe('up');
    // A depth from before the tap does not hold the movement.
    const early = makeCauseBoard(FROZEN, makeRoom(depthEntry(3), { is: 'fraction', ratio: 0.5 }, depthEntry(3.1), UP));
    expect(early.event).toMatchObject({ direction: 'up', motion: { mm: 4, from: 'room' } });
  });

  test('start height: above plan speaks for a rise and against a fall; below plan the other way round; on it, against both', () => {
    expect(sides(board(FROZEN, UP, [], 1), 'start-height')[0]).toBe('for');
    expect(sides(board(FROZEN, DOWN, [], 1), 'start-height')[0]).toBe('against');
    expect(sides(board(FROZEN, DOWN, [], 5), 'start-height')[0]).toBe('for');
    expect(sides(board(FROZEN, UP, [], 5), 'start-height')[0]).toBe('against');
    expect(sides(board(FROZEN, UP, [], 3.2), 'start-height')[0]).toBe('against');
    expect(sides(board(FROZEN, UP, [], 2, 2), 'start-height')[0]).toBe('not known');
    expect(sides(makeCauseBoard(FROZEN, makeRoom({ is: 'fraction', ratio: 0.5 }, UP)), 'start-height')).toEqual(['not known']);
  });
  test('tipping depth: a start above it is pushed up, below it down, within its band nobody knows', () => {
    const release: ReleaseForecast = { ...FROZEN.plan.release!, tippingDepthMm: fact(5, 1) };
    const of = (startMm: number, moved: RoomEntry) => row(board({ ...FROZEN, plan: { ...FROZEN.plan, release } }, moved, [], startMm), 'start-height').evidence.find((e) => e.text.includes('ipping'))!.side;
    expect([of(3, UP), of(3, DOWN), of(7, DOWN), of(7, UP), of(5, UP)]).toEqual(['for', 'against', 'for', 'against', 'not known']);
  });
  test('bulge: below the signed size against; a real one pushes shallow starts up and deep ones down; unmeasured or unsigned not known', () => {
    const septum = (mm: number, half: number) => withRoot({ septum: { ...FROZEN.plan.root!.septum, bulgeMm: fact(mm, half), bulgeHeightMm: fact(-5, 0.5) } });
    const side = (frozen: FrozenDocument, moved: RoomEntry, startMm = 3) => sides(board(frozen, moved, [], startMm), 'septal-bulge');
    expect(side(septum(1, 0.5), UP)).toEqual(['against']);
    expect(side(septum(2, 0.5), UP)).toEqual(['not known']);
    expect(side(septum(4, 0.5), UP)).toEqual(['for']);
    expect(side(septum(4, 0.5), DOWN)).toEqual(['against']);
    expect(side(septum(4, 0.5), DOWN, 11)).toEqual(['for']);
    expect(side(septum(4, 0.5), UP, 8)).toEqual(['not known']);
    const { rules: _none, ...plan } = septum(4, 0.5).plan;
    expect(side({ ...FROZEN, plan }, UP)).toEqual(['not known']);
    expect(side(withRoot({ septum: { ...FROZEN.plan.root!.septum, bulgeMm: refuseFact('mm', 'test', STAMP, { code: 'x', text: 'x', next: 'x' }) } }), UP)).toEqual(['not known']);
  });
  test('taper: narrowing toward the ventricle pushes up, widening down, mirrored; a flat or unmeasured tract is not known', () => {
    const side = (slope: number, moved: RoomEntry) => sides(board(withRoot({ levels: cone(slope) }), moved), 'taper');
    expect([side(0.15, UP), side(0.15, DOWN), side(-0.15, UP), side(-0.15, DOWN)]).toEqual([['for'], ['against'], ['against'], ['for']]);
    expect(side(0.002, UP)).toEqual(['not known']);
    expect(said(board(withRoot({ levels: cone(0.03) }), UP), 'taper')).toContain('held by friction');
    expect(sides(board(withRoot({ levels: cone(0.15).slice(0, 1) }), UP), 'taper')).toEqual(['not known']);
    expect(said(board(withRoot({ levels: cone(0.15) }), UP), 'taper')).toContain('0.15 mm of radius per mm');
  });
  test('wire and tension: what pulled the way it went is clear, the other way is against, what nobody logged is not known', () => {
    const of = (moved: RoomEntry, ...before: RoomEntry[]) => board(FROZEN, moved, before);
    expect(sides(of(UP), 'wire-bias')).toEqual(['not known', 'not known']);
    expect(row(of(UP, { is: 'tension', tension: 'pulling' }), 'wire-bias').weight).toBe('clear');
    expect(row(of(DOWN, { is: 'tension', tension: 'pulling' }), 'wire-bias').weight).toBe('against');
    expect(row(of(UP, { is: 'tension', tension: 'neutral' }, { is: 'wire', did: 'moved', side: 'centre' }), 'wire-bias').weight).toBe('against');
    // The wire before the attempt is where it lay; only a move during it is one more fact.
    expect(sides(of(UP, { is: 'wire', did: 'moved', side: 'outer curve' }), 'wire-bias')).toEqual(['for', 'not known']);
    const during = makeCauseBoard(FROZEN, makeRoom(depthEntry(3), { is: 'wire', did: 'exchanged', side: null }, { is: 'fraction', ratio: 0.5 }, UP));
    expect(said(during, 'wire-bias')).toContain('exchanged during this attempt');
  });
  test('pacing: none where it was planned is clear for a rise and against a fall; as planned is against; slower speaks for it', () => {
    const on = (ratePerMin: number | null): RoomEntry => ({ is: 'pacing', isOn: true, ratePerMin });
    const off: RoomEntry = { is: 'pacing', isOn: false, ratePerMin: null };
    const of = (moved: RoomEntry, ...before: RoomEntry[]) => row(board(FROZEN, moved, before), 'no-pacing').weight;
    expect([of(UP, off), of(DOWN, off), of(UP, on(180)), of(UP, on(140)), of(UP, on(null)), of(UP)]).toEqual(['clear', 'against', 'against', 'some', 'open', 'open']);
    expect(row(board({ ...FROZEN, choice: { ...FROZEN.choice, paceBpm: 70 } }, UP, [off]), 'no-pacing').weight).toBe('some');
  });
  test('calcium: a deposit that stands in pushes like a bulge, none is against, unmeasured is not known; even or uneven is said', () => {
    const calcium = FROZEN.plan.root!.calcium!;
    const deposit = (heightMm: number, protrusionMm: number) => ({ centreLps: [0, 0, 0] as const, volumeMm3: 80, cusp: 'N' as const, heightMm, protrusionMm });
    const mm3 = (v: number) => makeFact(v, v - 3, v + 3, 'mm3', 'test', [], STAMP);
    const of = (deposits: (typeof calcium)['deposits'], [R, L, N]: readonly [number, number, number]) => withRoot({ calcium: { ...calcium, deposits, byCuspMm3: { R: mm3(R), L: mm3(L), N: mm3(N) } } });
    expect(sides(board(of([deposit(-2, 2.5)], [50, 60, 70]), UP, [], 3), 'calcium')).toEqual(['for', 'against']);
    expect(sides(board(of([deposit(-2, 2.5)], [50, 60, 70]), DOWN, [], 8), 'calcium')).toEqual(['for', 'against']);
    expect(sides(board(of([deposit(-2, 0.4)], [20, 20, 200]), UP), 'calcium')).toEqual(['against', 'for']);
    expect(sides(board(of([deposit(-2, 0.4)], [0, 8, 0]), UP), 'calcium')).toEqual(['against']);
    expect(sides(board(of([deposit(9, 2.5)], [50, 60, 100]), UP), 'calcium')).toEqual(['against', 'against']);
    const { calcium: _none, ...root } = FROZEN.plan.root!;
    expect(sides(board({ ...FROZEN, plan: { ...FROZEN.plan, root } }, UP), 'calcium')).toEqual(['not known']);
  });
  test('size: a ring wholly above the table’s range is clear, within it against, across its edge not known', () => {
    const [, to] = FROZEN.device.sizes.find((s) => s.label === FROZEN.choice.size)!.basalPerimeterMm;
    const { release: _none, ...plan } = FROZEN.plan;
    const of = (perimeterMm: number) => row(board(withRoot({ basalRing: { ...FROZEN.plan.root!.basalRing, perimeterMm: fact(perimeterMm, 1) } }, { ...FROZEN, plan }), UP), 'undersized').weight;
    expect([of(to + 1.01), of(to + 0.5), of(to - 1), of(to - 5)]).toEqual(['clear', 'open', 'against', 'against']);
  });

  test('weights: clear, some, mixed, against, open; adding what nobody knows changes none of them', () => {
    const e = (side: Evidence['side'], isClear = false): Evidence => ({ side, text: '', at: null, from: 'plan', isClear });
    expect([[e('for', true)], [e('for')], [e('for', true), e('against')], [e('against')], [], [e('not known')]].map(weighEvidence)).toEqual(['clear', 'some', 'mixed', 'against', 'open', 'open']);
    fc.assert(fc.property(fc.array(fc.constantFrom(e('for'), e('for', true), e('against'))), (list) => weighEvidence([...list, e('not known')]) === weighEvidence(list)), replay);
  });
  test('the heaviest weight that occurs is what stands out, in the board’s own order', () => {
    const b = board(withRoot({ levels: cone(0.15) }), UP, [{ is: 'pacing', isOn: false, ratePerMin: null }], 1);
    const heavy = b.rows.filter((r) => r.weight === 'clear').map((r) => r.code);
    expect(heavy).toEqual(expect.arrayContaining(['taper', 'no-pacing']));
    expect(b.standOut).toEqual(heavy);
  });
  test('a person closes it with several causes or none; a movement after that opens it again', () => {
    const closed = (closedAs: readonly CauseCode[]): RoomEntry => ({ is: 'causes', closedAs, because: 'Seen on the run.', who: 'first operator' });
    const start: readonly RoomEntry[] = [depthEntry(3), { is: 'fraction', ratio: 0.5 }, UP];
    expect(makeCauseBoard(FROZEN, makeRoom(...start, closed(['taper', 'no-pacing']))).closed).toMatchObject({ closedAs: ['taper', 'no-pacing'], who: 'first operator' });
    expect(makeCauseBoard(FROZEN, makeRoom(...start, closed([]))).closed).toMatchObject({ closedAs: [] });
    expect(makeCauseBoard(FROZEN, makeRoom(...start, closed([]), UP)).closed).toBeNull();
  });
  test('later taps that are not about the movement change no row', () => {
    const start: readonly RoomEntry[] = [depthEntry(3), { is: 'fraction', ratio: 0.5 }, UP];
    const then = makeCauseBoard(FROZEN, makeRoom(...start, { is: 'contrast', ml: 20 }, { is: 'wire', did: 'moved', side: 'centre' }, { is: 'pacing', isOn: true, ratePerMin: 180 }));
    expect(then.rows).toEqual(makeCauseBoard(FROZEN, makeRoom(...start)).rows);
  });
});
