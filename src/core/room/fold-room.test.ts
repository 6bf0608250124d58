import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import type { DepthReading } from '../projection/depth-types.ts';
import { emptyRoom, foldRoom, mergeRecords } from './fold-room.ts';
import type { AnyRecord } from './merge-records.ts';
import type { RoomEntry, RoomRecord } from './room-types.ts';
import { CAUSE_CODES, ROOM_PHASES } from './room-types.ts';

const at = (second: number): string => new Date(Date.UTC(2026, 2, 2, 9, 0, 0) + Math.round(second * 1000)).toISOString();
const depth = (depthMm: number, unsheathedRatio: number | null = null): DepthReading => ({ depthMm, lowMm: depthMm - 1, highMm: depthMm + 1, state: 'uncorrected', by: 'entered', views: [{ primaryDeg: 10, secondaryDeg: -20 }], cusp: 'N', edge: 'inflow', clicks: 1, unsheathedRatio });
let made = 0;
function record(second: number, entry: RoomEntry | null, more: Partial<RoomRecord> = {}): RoomRecord {
  made += 1;
  return { entryId: `entry-${made}`, clientId: 'page-a', place: 'desk', count: made, monotonicMs: second * 1000, clientAt: at(second), happenedAt: at(second), offset: { addedMs: 0, withinMs: 5 }, corrects: null, entry, ...more };
}
/** A log of one page, in the order given, one tap a second. */
function log(...entries: readonly RoomEntry[]): RoomRecord[] {
  return entries.map((entry, i) => record(i, entry, { count: i + 1 }));
}
const phase = (name: (typeof ROOM_PHASES)[number]): RoomEntry => ({ is: 'phase', phase: name });

describe(`foldRoom (seed ${seed})`, () => {
  test('an empty log is an empty room', () => {
    expect(foldRoom([])).toEqual(emptyRoom());
  });

  test('jump, recapture, second start, release: two attempts, and what was read before the recapture is void', () => {
    const room = foldRoom(log(
      phase('position'), { is: 'depth', reading: depth(5) }, { is: 'depth', reading: depth(4) }, { is: 'hold', hold: 'A', answer: 'go on', who: 'first operator' },
      phase('releasing'), { is: 'fraction', ratio: 0.4 }, { is: 'depth', reading: depth(1, 0.6) }, { is: 'moved', direction: 'up', mm: 3 }, { is: 'pacing', isOn: true, ratePerMin: 120 },
      { is: 'recaptured', isWhole: true },
      { is: 'depth', reading: depth(3) }, phase('releasing'), { is: 'depth', reading: depth(3.2, 0.5) }, phase('released'), { is: 'depth', reading: depth(3.4, 1) },
    ));
    expect(room.recaptures).toBe(1);
    const [first, second] = room.attempts;
    expect(room.attempts).toHaveLength(2);
    expect(first).toMatchObject({ number: 1, beganAt: at(1), start: { reading: { depthMm: 4 } }, last: { reading: { depthMm: 1 } }, ratio: { ratio: 0.4 }, moved: { direction: 'up', mm: 3 }, wasPaced: null, endedBy: 'recaptured', endedAt: at(9) });
    expect(second).toMatchObject({ number: 2, start: { reading: { depthMm: 3 } }, last: { reading: { depthMm: 3.4 } }, ratio: null, moved: null, wasPaced: true, endedBy: 'released', endedAt: at(13) });
    expect(room).toMatchObject({ releasedAt: at(13), depth: { reading: { depthMm: 3.4 } }, phase: { phase: 'released' } });
  });

  test('after a recapture nothing read before it stands any more, and the same recapture said by two people is one', () => {
    const room = foldRoom(log({ is: 'depth', reading: depth(4) }, { is: 'hold', hold: 'A', answer: 'go on', who: 'x' }, phase('releasing'), { is: 'recaptured', isWhole: true }, { is: 'recaptured', isWhole: true }));
    expect(room).toMatchObject({ depth: null, holds: {}, recaptures: 1, releasedAt: null, phase: { phase: 'position', at: at(3) } });
    expect(room.attempts).toHaveLength(1);
  });

  test('a depth that was read before the frame moved or was let go says so; one read after it does not', () => {
    const moved = [phase('releasing'), { is: 'depth', reading: depth(3, 0.5) }, { is: 'moved', direction: 'up', mm: null }] as const;
    expect(foldRoom(log(...moved)).depth).toMatchObject({ before: 'moved' });
    expect(foldRoom(log(...moved, phase('released'))).depth).toMatchObject({ before: 'released' });
    expect(foldRoom(log(...moved, { is: 'depth', reading: depth(1, 0.5) })).depth).not.toHaveProperty('before');
  });

  test('the newest verdict stands until a manoeuvre, which is named; one given after it stands again', () => {
    const verdict = (word: 'AGREE' | 'DISAGREE'): RoomEntry => ({ is: 'verdict', answerSha256: 'ab'.repeat(32), word, side: word === 'AGREE' ? 'below' : null, witnesses: [], remedies: [], waitUntil: null, next: '' });
    const released = [{ is: 'depth', reading: depth(4) }, phase('releasing'), phase('released'), phase('result')] as const;
    expect(foldRoom(log(...released)).verdict).toBeNull();
    expect(foldRoom(log(...released, verdict('DISAGREE'), verdict('AGREE'))).verdict).toMatchObject({ word: 'AGREE', at: at(5), voidBy: null });
    const manoeuvres: readonly (readonly [RoomEntry, string])[] = [
      [{ is: 'dilated', balloonMm: 22, when: 'after' }, 'dilated'], [{ is: 'recaptured', isWhole: true }, 'recaptured'], [{ is: 'valve-out', inspected: true, replaced: true }, 'valve-out'],
      [{ is: 'moved', direction: 'up', mm: null }, 'moved'], [phase('valve-in'), 'next valve'],
    ];
    for (const [entry, what] of manoeuvres) {
      expect(foldRoom(log(...released, verdict('AGREE'), entry)).verdict, what).toMatchObject({ word: 'AGREE', at: at(4), voidBy: { what, at: at(5) } });
      expect(foldRoom(log(...released, entry, verdict('AGREE'))).verdict, what).toMatchObject({ voidBy: null });
    }
    // The first that was logged since is named.
    expect(foldRoom(log(...released, verdict('AGREE'), manoeuvres[0]![0], manoeuvres[3]![0])).verdict?.voidBy).toEqual({ what: 'dilated', at: at(5) });
    expect(foldRoom(log(phase('releasing'), verdict('AGREE'), phase('released'))).verdict).toMatchObject({ voidBy: { what: 'released' } });
    // What changes nothing at the valve voids nothing: a tap back to the step, a balloon before the valve, closing.
    for (const entry of [phase('released'), phase('closing'), { is: 'dilated', balloonMm: 20, when: 'before' }, { is: 'hold', hold: 'C', answer: 'act', who: 'x' }] as const) expect(foldRoom(log(...released, verdict('AGREE'), entry)).verdict?.voidBy).toBeNull();
  });

  test('a verdict that is taken back gives way to the one before it; a manoeuvre that is taken back makes none void', () => {
    const verdict = (word: 'AGREE' | 'DISAGREE'): RoomEntry => ({ is: 'verdict', answerSha256: 'ab'.repeat(32), word, side: null, witnesses: [], remedies: [], waitUntil: null, next: '' });
    const [first, second, balloon] = [record(1, verdict('DISAGREE')), record(2, verdict('AGREE')), record(3, { is: 'dilated', balloonMm: null, when: 'after' })] as const;
    expect(foldRoom([first, second, record(4, null, { corrects: second.entryId })]).verdict).toMatchObject({ word: 'DISAGREE', at: at(1), voidBy: null });
    expect(foldRoom([first, record(4, null, { corrects: first.entryId })]).verdict).toBeNull();
    expect(foldRoom([first, second, balloon]).verdict?.voidBy).not.toBeNull();
    expect(foldRoom([first, second, balloon, record(4, null, { corrects: balloon.entryId })]).verdict).toMatchObject({ word: 'AGREE', voidBy: null });
    // Copies and order of arrival change nothing.
    expect(foldRoom([balloon, second, first, second]).verdict).toEqual(foldRoom([first, second, balloon]).verdict);
  });

  test('a balloon that another page logs late makes a verdict void that did not know of it; one that the verdict knew of does not', () => {
    const verdict = (roundAt: string | null): RoomEntry => ({ is: 'verdict', answerSha256: 'ab'.repeat(32), word: 'AGREE', side: 'below', witnesses: [], remedies: [], waitUntil: null, next: '', roundAt });
    const out = [record(1, phase('releasing')), record(2, phase('released'))];
    const balloon = record(3, { is: 'dilated', balloonMm: 22, when: 'after' });
    expect(foldRoom([...out, record(5, verdict(at(2)))]).verdict?.voidBy).toBeNull();
    expect(foldRoom([...out, record(5, verdict(at(2))), balloon]).verdict?.voidBy).toEqual({ what: 'dilated', at: at(3) });
    expect(foldRoom([...out, balloon, record(5, verdict(at(3)))]).verdict?.voidBy).toBeNull();
    expect(foldRoom([...out, record(5, verdict(null))]).verdict?.voidBy).toEqual({ what: 'released', at: at(2) });
  });

  test('a second valve after full release begins an attempt of its own; the wait of the first one is not its wait', () => {
    const released = log({ is: 'depth', reading: depth(4) }, phase('releasing'), phase('released'), { is: 'depth', reading: depth(0) }, phase('result'));
    expect(foldRoom(released)).toMatchObject({ releasedAt: at(2), depth: { reading: { depthMm: 0 } }, attempts: [{ last: { reading: { depthMm: 0 } } }] });
    const second = foldRoom([...released, record(5, phase('valve-in'), { count: 6 }), record(6, { is: 'depth', reading: depth(3) }, { count: 7 })]);
    expect(second).toMatchObject({ releasedAt: null, depth: { reading: { depthMm: 3 } }, attempts: [{ endedBy: 'released' }, { number: 2, endedBy: null, start: { reading: { depthMm: 3 } } }] });
  });

  test('a valve that is out of the body was recaptured, also when nobody tapped it; one that never opened was not', () => {
    expect(foldRoom(log(phase('releasing'), { is: 'valve-out', inspected: true, replaced: false }))).toMatchObject({ recaptures: 1, valveOut: { inspected: true, at: at(1) } });
    expect(foldRoom(log({ is: 'depth', reading: depth(4) }, { is: 'valve-out', inspected: true, replaced: false })).recaptures).toBe(0);
  });

  test('whether it was paced: yes, no, or not known; what came after the movement does not count', () => {
    const paced = (...entries: RoomEntry[]): boolean | null => foldRoom(log(...entries)).attempts[0]!.wasPaced;
    const [on, off]: RoomEntry[] = [{ is: 'pacing', isOn: true, ratePerMin: null }, { is: 'pacing', isOn: false, ratePerMin: null }];
    expect(paced(phase('releasing'))).toBeNull();
    expect(paced(on!, phase('releasing'))).toBe(true);
    expect(paced(on!, off!, phase('releasing'))).toBe(false);
    expect(paced(on!, off!, phase('releasing'), on!)).toBe(true);
    expect(paced(off!, phase('releasing'), { is: 'moved', direction: 'down', mm: null }, on!)).toBe(false);
  });

  test('sums, totals, lists and cards', () => {
    const room = foldRoom(log(
      { is: 'contrast', ml: 20 }, { is: 'contrast', ml: 15.5 }, { is: 'heparin', units: 5000 }, { is: 'act', seconds: 260 }, { is: 'heparin', units: 2000 },
      { is: 'radiation', airKermaMGy: 100, doseAreaGyCm2: null, fluoroscopyMin: 3 }, { is: 'radiation', airKermaMGy: 250, doseAreaGyCm2: 30, fluoroscopyMin: null },
      { is: 'rescue', card: 'tamponade', did: 'opened', line: null }, { is: 'rescue', card: 'bleed', did: 'opened', line: null },
      { is: 'rescue', card: 'tamponade', did: 'ticked', line: 2 }, { is: 'rescue', card: 'tamponade', did: 'ticked', line: 2 }, { is: 'rescue', card: 'tamponade', did: 'ticked', line: 0 },
      { is: 'rescue', card: 'tamponade', did: 'unticked', line: 0 }, { is: 'rescue', card: 'bleed', did: 'closed', line: null },
    ));
    expect(room).toMatchObject({ contrastMl: 35.5, heparin: [{ units: 5000 }, { units: 2000, at: at(4) }], act: [{ seconds: 260 }], radiation: { airKermaMGy: 250, doseAreaGyCm2: 30, fluoroscopyMin: 3, at: at(6) } });
    expect(room.rescue).toEqual([{ card: 'tamponade', openedAt: at(7), ticked: [{ line: 2, at: at(9) }] }]);
  });

  test('a new movement opens the cause board again', () => {
    const closed = log({ is: 'moved', direction: 'up', mm: 2 }, { is: 'causes', closedAs: ['taper'], because: '', who: 'x' });
    expect(foldRoom(closed).causes).toMatchObject({ closedAs: ['taper'] });
    expect(foldRoom([...closed, record(9, { is: 'moved', direction: 'up', mm: 2 }, { count: 3 })]).causes).toBeNull();
  });
});

describe('corrections', () => {
  test('a correction replaces and stands at the time of what it corrects; the replaced one stays in the log', () => {
    const [first, later] = [record(10, { is: 'contrast', ml: 80 }), record(20, { is: 'contrast', ml: 10 })];
    const fix = record(30, { is: 'contrast', ml: 8 }, { corrects: first!.entryId });
    const room = foldRoom([first, later, fix]);
    expect(room.contrastMl).toBe(18);
    expect(room.records.map((r) => r.standing)).toEqual(['superseded', 'current', 'current']);
    expect(foldRoom([record(10, { is: 'pacing', isOn: false, ratePerMin: null }, { entryId: 'wrong-tap' }), record(12, { is: 'pacing', isOn: true, ratePerMin: 120 }, { corrects: 'wrong-tap' })]).pacing).toMatchObject({ isOn: true, at: at(10) });
  });

  test('taken back, it does not count; corrected again, it does', () => {
    const tap = record(1, { is: 'heparin', units: 500 });
    const back = record(2, null, { corrects: tap.entryId });
    const room = foldRoom([tap, back]);
    expect(room.heparin).toEqual([]);
    expect(room.records.map((r) => r.standing)).toEqual(['taken back', 'current']);
    expect(foldRoom([tap, back, record(3, { is: 'heparin', units: 5000 }, { corrects: back.entryId })]).heparin).toEqual([{ units: 5000, at: at(1) }]);
  });

  test('of two people who correct the same tap the later one decides', () => {
    const tap = record(1, { is: 'contrast', ml: 100 });
    const fixes = [record(3, { is: 'contrast', ml: 11 }, { corrects: tap.entryId, clientId: 'page-a' }), record(2, { is: 'contrast', ml: 12 }, { corrects: tap.entryId, clientId: 'page-b' })];
    expect(foldRoom([tap, ...fixes]).contrastMl).toBe(11);
  });

  test('it decides although the clock of its page lies behind', () => {
    const tap = record(60, { is: 'contrast', ml: 100 });
    expect(foldRoom([tap, record(1, { is: 'contrast', ml: 10 }, { corrects: tap.entryId, clientId: 'page-b' })]).contrastMl).toBe(10);
  });

  test('before the tap that it corrects has arrived it counts by itself', () => {
    const fix = record(5, { is: 'contrast', ml: 10 }, { corrects: 'not-here-yet' });
    expect(foldRoom([fix]).contrastMl).toBe(10);
    expect(foldRoom([fix, record(4, { is: 'contrast', ml: 100 }, { entryId: 'not-here-yet' })]).contrastMl).toBe(10);
  });

  test('records that correct themselves or each other do not hang the fold', () => {
    const itself = record(1, { is: 'contrast', ml: 1 }, { entryId: 'self', corrects: 'self' });
    const ring = [record(2, { is: 'contrast', ml: 2 }, { entryId: 'one', corrects: 'two' }), record(3, { is: 'contrast', ml: 4 }, { entryId: 'two', corrects: 'one' })];
    expect(foldRoom([itself, ...ring]).contrastMl).toBe(5);
  });
});

describe(`mergeRecords (seed ${seed})`, () => {
  test('the copy of the log wins over the one that waits', () => {
    const waiting = record(1, phase('access'));
    const logged = { ...waiting, by: 'person-1', seq: 7 };
    for (const merged of [mergeRecords([waiting], [logged]), mergeRecords([logged], [waiting])]) expect(merged).toEqual([logged]);
  });

  test('of one millisecond, what the log took first comes first and what waits comes last', () => {
    const first = { ...record(5, phase('releasing'), { clientId: 'page-z', count: 1 }), by: 'ann', seq: 7 };
    const then = { ...record(5, { is: 'recaptured', isWhole: true }, { clientId: 'page-a', count: 1 }), by: 'ann', seq: 8 };
    const waits = { ...record(5, { is: 'note', text: 'waits' }, { clientId: 'page-0', count: 1 }), by: null, seq: null };
    for (const merged of [mergeRecords<AnyRecord>([waits, then, first]), mergeRecords<AnyRecord>([first], [then], [waits])]) expect(merged).toEqual([first, then, waits]);
    expect(foldRoom([then, first]).phase?.phase).toBe('position');
  });
  test('a page keeps its own order when its clock is set back between two taps', () => {
    const room = foldRoom([
      record(10, { is: 'pacing', isOn: true, ratePerMin: 120 }, { clientId: 'page-c', count: 1 }), record(9.9, { is: 'pacing', isOn: false, ratePerMin: null }, { clientId: 'page-c', count: 2 }),
    ]);
    expect(room.pacing?.isOn).toBe(false);
  });

  test('counts that never came are named, also before the first that did', () => {
    const taps = [2, 3, 6].map((count) => record(count, phase('access'), { clientId: 'page-d', count }));
    expect(foldRoom(taps).holes).toEqual([{ clientId: 'page-d', missing: [1, 4, 5] }]);
  });

  const entry = fc.oneof<fc.Arbitrary<RoomEntry | null>[]>(
    fc.constantFrom(...ROOM_PHASES).map((p) => ({ is: 'phase' as const, phase: p })),
    fc.boolean().map((isOn) => ({ is: 'pacing' as const, isOn, ratePerMin: null })),
    fc.integer({ min: 0, max: 9 }).map((ml) => ({ is: 'contrast' as const, ml })),
    fc.integer({ min: -3, max: 9 }).map((mm) => ({ is: 'depth' as const, reading: depth(mm) })),
    fc.constantFrom<RoomEntry | null>({ is: 'recaptured', isWhole: true }, { is: 'moved', direction: 'up', mm: 2 }, { is: 'causes', closedAs: CAUSE_CODES, because: '', who: 'x' }, null),
  );
  const room = fc.array(fc.record({ entry, second: fc.integer({ min: 0, max: 40 }), client: fc.constantFrom('page-a', 'page-b', 'page-c'), corrects: fc.option(fc.nat({ max: 30 }), { freq: 3 }) }), { maxLength: 30 })
    .map((taps) => {
      const counts = new Map<string, number>();
      return taps.map(({ entry: e, second, client, corrects }, i) => {
        counts.set(client, (counts.get(client) ?? 0) + 1);
        return record(second, e, { entryId: `tap-${i}`, clientId: client, count: counts.get(client)!, corrects: corrects === null ? null : `tap-${corrects}` });
      });
    });

  test('state does not depend on the order of arrival, on copies, or on how the log was cut into lists', () => {
    fc.assert(fc.property(room, fc.infiniteStream(fc.nat()), fc.nat(), (taps, keys, cut) => {
      const whole = foldRoom(taps);
      const shuffled = taps.map((tap) => ({ tap, key: keys.next().value as number })).sort((a, b) => a.key - b.key).map((x) => x.tap);
      expect(foldRoom([...shuffled, ...shuffled.slice(0, 5)])).toEqual(whole);
      const at1 = taps.length === 0 ? 0 : cut % taps.length;
      expect(foldRoom(mergeRecords(shuffled.slice(at1), shuffled.slice(0, at1)))).toEqual(whole);
      expect(foldRoom(whole.records)).toEqual(whole);
    }), replay);
  });

  test('of each tap and its corrections one counts at most, and no tap goes missing', () => {
    fc.assert(fc.property(room, (taps) => {
      const { records, contrastMl } = foldRoom(taps);
      expect(records.map((r) => r.entryId).sort()).toEqual(taps.map((t) => t.entryId).sort());
      const ids = new Set(taps.map((t) => t.entryId));
      const roots = taps.filter((t) => t.corrects === null || !ids.has(t.corrects) || t.corrects === t.entryId).length;
      const current = records.filter((r) => r.standing === 'current');
      expect(current.length).toBeGreaterThanOrEqual(roots);
      let summed = 0;
      for (const r of current) summed += r.entry?.is === 'contrast' ? r.entry.ml : 0;
      expect(contrastMl).toBe(summed);
    }), replay);
  });
});
