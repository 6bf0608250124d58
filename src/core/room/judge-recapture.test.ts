import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { makeFrozenFixture } from '../../../test/support/frozen-fixture.ts';
import { depthEntry, logTime, makeLog, makeRoom } from '../../../test/support/room-log.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import { foldRoom } from './fold-room.ts';
import type { FrozenDocument } from './frozen-types.ts';
import { judgeRecapture } from './judge-recapture.ts';
import { readRoomLimits } from './read-room-limits.ts';
import { TRAINING_RULES, TRAINING_TABLE } from '../device/training-table.ts';
import type { RoomEntry } from './room-types.ts';

const { document } = makeFrozenFixture();
const out = (ratio: number | null): RoomEntry => ({ is: 'fraction', ratio });
const BACK: RoomEntry = { is: 'recaptured', isWhole: true };
const once = [out(0.5), BACK] as const;
const NOW = Date.parse(logTime(30));
const judge = (frozen: FrozenDocument, ...entries: readonly RoomEntry[]) => judgeRecapture(frozen, makeRoom(...entries), NOW);
const withLimits = (change: Partial<FrozenDocument['limits']>): FrozenDocument => ({ ...document, limits: { ...document.limits, ...change } });

describe(`judgeRecapture (seed ${seed})`, () => {
  test('D28: table 0.80 and 2 attempts; 0.82 out is closed, 0.70 after two is closed by attempts, unread cannot say', () => {
    expect(judge(document, out(0.82))).toMatchObject({ state: 'closed', because: 'past-fraction', leftRatio: 0 });
    expect(judge(document, ...once, ...once, out(0.7))).toMatchObject({ state: 'closed', because: 'attempts-used', used: 2, left: 0 });
    expect(judge(document, out(0.7), out(null))).toMatchObject({ state: 'cannot say', because: 'fraction-unread', ratio: null });
    expect(judge(document)).toMatchObject({ state: 'cannot say', because: 'fraction-unread' });
    const open = judge(document, ...once, out(0.7));
    expect(open).toMatchObject({ state: 'open', because: 'within-limits', used: 1, left: 1, before: 'nothing' });
    expect(open.leftRatio).toBeCloseTo(0.1, 12);
  });
  test('while the frame opens, a share read longer ago than a live value holds is no yes; before the release it stays', () => {
    const goneS = document.limits.depthGoneS!.value;
    const at = (phase: 'position' | 'releasing', second: number) => judgeRecapture(document, makeRoom([0, { is: 'phase', phase }], [1, out(0.5)]), Date.parse(logTime(second)));
    expect(at('releasing', goneS)).toMatchObject({ state: 'open' });
    expect(at('releasing', goneS + 2)).toMatchObject({ state: 'cannot say', because: 'fraction-old' });
    expect(at('position', goneS + 2)).toMatchObject({ state: 'open' });
    // What is certain does not age: past its share it is closed for good.
    expect(judgeRecapture(document, makeRoom([0, { is: 'phase', phase: 'releasing' }], [1, out(0.9)]), Date.parse(logTime(goneS + 2)))).toMatchObject({ state: 'closed' });
  });
  test('the table’s own share is still open; a strict number of attempts is one less', () => {
    expect(judge(document, out(0.8)).state).toBe('open');
    expect(judge(withLimits({ recaptureAttempts: { ...document.limits.recaptureAttempts!, strict: true } }), ...once, out(0.1))).toMatchObject({ state: 'closed', because: 'attempts-used' });
  });
  test('what was read before a recapture answers nothing after it', () => {
    expect(judge(document, ...once)).toMatchObject({ state: 'cannot say', because: 'fraction-unread', ratio: null });
  });
  test('the newest share counts, also the one that came with a depth', () => {
    expect(judge(document, out(0.3), depthEntry(3, 0.4, { unsheathedRatio: 0.9 }))).toMatchObject({ state: 'closed', because: 'past-fraction', ratio: { ratio: 0.9 } });
    expect(judge(document, depthEntry(3, 0.4, { unsheathedRatio: 0.3 }), out(0.9))).toMatchObject({ state: 'closed', because: 'past-fraction' });
    expect(judge(document, out(0.3), depthEntry(3))).toMatchObject({ state: 'open', ratio: { ratio: 0.3 } });
  });
  test('released, balloon-expandable or of no size in the table', () => {
    expect(judge(document, out(0.5), { is: 'phase', phase: 'released' })).toMatchObject({ state: 'closed', because: 'released' });
    expect(judge({ ...document, device: TRAINING_TABLE.devices[1]! }, out(0.1))).toMatchObject({ state: 'closed', because: 'not-recapturable' });
    expect(judge({ ...document, choice: { ...document.choice, size: 'none' } }, out(0.1))).toMatchObject({ state: 'cannot say', because: 'size-unknown' });
  });
  test('without a signed number of attempts it cannot say, but a certain no stays a no', () => {
    const none = withLimits(readRoomLimits(null));
    expect(judge(none, out(0.5))).toMatchObject({ state: 'cannot say', because: 'attempts-rule-missing', left: null });
    expect(judge(none, out(0.9))).toMatchObject({ state: 'closed', because: 'past-fraction' });
    expect(judge(none, ...once).before).toBe('not known');
  });
  test('looks at the valve from two recaptures on, replaces it from three; looking once does for that recapture only', () => {
    const look: RoomEntry = { is: 'valve-out', inspected: true, replaced: false };
    const renew: RoomEntry = { is: 'valve-out', inspected: false, replaced: true };
    expect(judge(document, ...once).before).toBe('nothing');
    expect(judge(document, ...once, ...once).before).toBe('inspect');
    expect(judge(document, ...once, ...once, look).before).toBe('nothing');
    expect(judge(document, ...once, ...once, { is: 'valve-out', inspected: false, replaced: false }).before).toBe('inspect');
    expect(judge(document, ...once, ...once, ...once, look).before).toBe('replace');
    // A new valve begins again, also when it was itself looked at later.
    expect(judge(document, ...once, ...once, renew, out(0.2))).toMatchObject({ state: 'open', used: 0, left: 2, before: 'nothing' });
    expect(judge(document, ...once, ...once, renew, ...once, look, out(0.2))).toMatchObject({ used: 1, left: 1 });
  });
  test('a tap that is corrected later to a new valve counts from when the valve was out: recaptures after it are its own', () => {
    const log = makeLog([...once, { is: 'valve-out', inspected: true, replaced: false }, ...once, ...once, out(0.2)]);
    const corrected = { ...log[0]!, entryId: 'late', count: log.length + 1, happenedAt: logTime(60), corrects: log[2]!.entryId, entry: { is: 'valve-out', inspected: true, replaced: true } as const };
    expect(judgeRecapture(document, foldRoom([...log, corrected]), NOW)).toMatchObject({ state: 'closed', because: 'attempts-used', used: 2, left: 0 });
  });
  test('more out of the catheter or more attempts never opens what was closed', () => {
    const rank = { closed: 0, 'cannot say': 1, open: 2 } as const;
    fc.assert(fc.property(fc.double({ min: 0, max: 1, noNaN: true }), fc.double({ min: 0, max: 1, noNaN: true }), fc.nat(3), fc.nat(2), (a, b, n, more) => {
      const attempts = (k: number) => Array.from({ length: k }, () => once).flat();
      const less = judge(document, ...attempts(n), out(Math.min(a, b)));
      const worse = judge(document, ...attempts(n + more), out(Math.max(a, b)));
      expect(rank[worse.state]).toBeLessThanOrEqual(rank[less.state]);
    }), { ...replay, numRuns: 60 });
  });
});

describe('readRoomLimits', () => {
  test('reads all ten from the training rules, each marked as unverified', () => {
    const limits = readRoomLimits(TRAINING_RULES);
    expect(Object.values(limits).map((r) => r?.status)).toEqual(Array.from({ length: 10 }, () => 'M'));
    expect(limits).toMatchObject({ depthOldS: { value: 60, unit: 's' }, recaptureAttempts: { value: 2, unit: '1' } });
  });
  test('a rule in another unit, or no rules, is no limit', () => {
    const rules = { ...TRAINING_RULES, rules: TRAINING_RULES.rules.map((r) => (r.code === 'depth-old' ? { ...r, unit: 'min' } : r)) };
    expect(readRoomLimits(rules).depthOldS).toBeNull();
    expect(Object.values(readRoomLimits(null))).toEqual(Array.from({ length: 10 }, () => null));
  });
});
