import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { depthEntry, logTime } from '../../../test/support/room-log.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import { ALL_SCENES, BASE, makeAsk, makeBoard, makeVerdict, type WallScene } from '../../../test/support/wall-scenes.ts';
import { GLANCE_MS, isWallFree, makeWallBoard } from './make-wall-board.ts';
import { listSecondValves } from './second-valve.ts';
import { ROOM_PHASES, WALL_CARDS, type RoomEntry, type RoomPhase, type WallCardName } from './room-types.ts';

const phase = (name: RoomPhase): RoomEntry => ({ is: 'phase', phase: name });
const show = (card: WallCardName | null): RoomEntry => ({ is: 'show', card });
const board = (log: WallScene['log'], atS = 100, more: Partial<WallScene> = {}) => makeBoard({ name: '', log, atS, ...more });
const nameOf = (log: WallScene['log'], atS = 100, more: Partial<WallScene> = {}): string => board(log, atS, more).name;

describe(`makeWallBoard (seed ${seed})`, () => {
  test('each step has its card; position turns from the view to the ruler with the first depth', () => {
    const cards = Object.fromEntries(ROOM_PHASES.map((p) => [p, nameOf([[0, phase(p)]])]));
    expect(cards).toEqual({ identity: 'plan', access: 'kit', crossing: 'view', 'valve-in': 'valve', position: 'view', releasing: 'depth', decision: 'depth', released: 'time', result: 'result', closing: 'totals', handover: 'handover' });
    expect(nameOf([[0, phase('position')], [1, depthEntry(3)]])).toBe('depth');
    expect(nameOf([])).toBe('plan');
  });

  test('a plan that is not the case’s own leaves nothing of it on the wall', () => {
    const { document, sha256 } = BASE;
    const blank = makeWallBoard({ ...makeAsk(ALL_SCENES[0]!), frozenState: 'mismatch', frozen: document, frozenSha256: sha256 });
    expect(blank).toMatchObject({ name: 'mismatch', card: { is: 'mismatch' }, strip: null, code: null, label: null, hold: null });
    const text = JSON.stringify(blank);
    for (const part of [document.label, document.choice.device, sha256.slice(0, 4)]) expect(text).not.toContain(part);
  });
  test('D32 nor does one that may be another patient’s, also with the hands on the frame', () => {
    const { document, sha256 } = BASE;
    for (const scene of ALL_SCENES.slice(0, 8)) {
      const blank = makeWallBoard({ ...makeAsk(scene), frozenState: 'ready', frozen: document, frozenSha256: sha256, isOfAnother: true });
      expect(blank).toMatchObject({ name: 'other-patient', because: 'must', strip: null, code: null, label: null });
      const text = JSON.stringify(blank);
      for (const part of [document.label, document.choice.device, sha256.slice(0, 4)]) expect(text).not.toContain(part);
    }
  });

  test('another card is shown only where the step leaves it open, and until the next step', () => {
    expect(nameOf([[0, phase('access')], [1, show('totals')]])).toBe('totals');
    expect(nameOf([[0, phase('access')], [1, show('totals')], [2, show(null)]])).toBe('kit');
    expect(nameOf([[0, phase('access')], [1, show('totals')], [2, phase('crossing')]])).toBe('view');
    for (const card of WALL_CARDS) {
      expect(nameOf([[0, phase('releasing')], [1, show(card)]]), card).toBe('depth');
      expect(nameOf([[0, phase('position')], [1, depthEntry(3)], [2, show(card)]]), card).toBe('depth');
      expect(nameOf([[0, phase('releasing')], [2, { is: 'moved', direction: 'down', mm: 2 }], [3, show(card)]]), card).toBe('jump');
    }
  });

  test('a verdict in which a rule of memory acts is marked so on its cards alone', () => {
    const log = [[0, phase('releasing')], [5, phase('released')], [10, phase('result')], [20, makeVerdict({ isUnverified: true })]] as const;
    const plain = board([...log.slice(0, 3), [20, makeVerdict({ isUnverified: false })]]).hasUnverified;
    expect([board(log).hasUnverified, board([...log, [31, show('remedies')]]).hasUnverified]).toEqual([true, true]);
    expect(board([...log, [31, show('totals')]]).hasUnverified).toBe(plain);
  });

  test('after the release a verdict stands until a manoeuvre; the remedy board follows when the room has said ACT since', () => {
    const result = [[0, phase('releasing')], [5, phase('released')], [10, phase('result')]] as const;
    const said = (answer: 'act' | 'wait' | 'finish'): RoomEntry => ({ is: 'hold', hold: 'C', answer, who: 'first operator' });
    const balloon: RoomEntry = { is: 'dilated', balloonMm: 22, when: 'after' };
    expect(nameOf(result)).toBe('result');
    expect(board([...result, [20, makeVerdict()]])).toMatchObject({ name: 'verdict', because: 'phase', card: { is: 'verdict', verdict: { word: 'AGREE' }, was: null, ageMs: 80_000, sinceReleaseMs: 95_000, waitLeftMs: null } });
    expect(nameOf([...result.slice(0, 2), [20, makeVerdict()]])).toBe('verdict'); // also before anybody tapped the step
    for (const word of ['AGREE', 'DISAGREE', 'NOT SETTLED', 'ONE WITNESS ONLY', 'CANNOT SAY'] as const) {
      const log = [...result, [20, makeVerdict({ word, side: word === 'AGREE' ? 'above' : null })]] as const;
      expect(nameOf(log), word).toBe('verdict');
      expect([nameOf([...log, [30, said('act')]]), nameOf([...log, [30, said('wait')]]), nameOf([...log, [30, said('finish')]])], word).toEqual(['remedies', 'verdict', 'verdict']);
      expect([nameOf([...log, [30, said('act')], [31, show('verdict')]]), nameOf([...log, [31, show('remedies')]])], word).toEqual(['verdict', 'remedies']);
    }
    // ACT of before does not answer this verdict, nor does one that is void.
    expect(nameOf([...result, [15, said('act')], [20, makeVerdict()]])).toBe('verdict');
    expect(nameOf([...result, [20, makeVerdict()], [30, said('act')], [40, makeVerdict({ word: 'DISAGREE', side: null })]])).toBe('verdict');
    expect(board([...result, [20, makeVerdict()], [30, said('act')], [40, balloon]])).toMatchObject({ name: 'result', card: { voidVerdict: { voidBy: { what: 'dilated' } } } });
    expect(nameOf([...result, [20, makeVerdict()], [40, balloon], [50, makeVerdict()]])).toBe('verdict');
    expect([nameOf([...result, [20, makeVerdict()], [30, phase('closing')]]), nameOf([...result, [20, makeVerdict()], [30, phase('handover')]])]).toEqual(['totals', 'handover']);
    // What must be on the wall goes before it.
    expect(nameOf([...result, [20, makeVerdict()], [30, { is: 'rescue', card: 'tamponade', did: 'opened', line: null }]])).toBe('rescue');
    expect(nameOf([...result, [20, makeVerdict()], [30, { is: 'moved', direction: 'up', mm: 3 }]])).toBe('jump');
    expect(nameOf([[0, makeVerdict()], [1, phase('releasing')], [2, show('verdict')]])).toBe('depth');
  });

  test('a void verdict, or none, is no answer on either card: nothing of it is left', () => {
    const log = [[0, phase('releasing')], [5, phase('released')], [10, phase('result')], [20, makeVerdict()], [30, { is: 'dilated', balloonMm: null, when: 'after' }]] as const;
    for (const card of ['verdict', 'remedies'] as const) {
      expect(board([...log, [40, show(card)]]).card, card).toMatchObject({ is: card, verdict: null, was: { voidBy: { what: 'dilated' } }, ...(card === 'remedies' ? { rows: [] } : {}) });
      expect(board([...log.slice(0, 3), [40, show(card)]]).card, card).toMatchObject({ is: card, verdict: null, was: null, ageMs: null });
    }
  });

  test('D46 six remedies in their order whatever the log gives; waiting is closed by its timer, not before', () => {
    const verdict = makeVerdict({ waitUntil: logTime(120) });
    const at = (atS: number, change: Parameters<typeof makeVerdict>[0] = {}) => {
      const { card } = board([[0, phase('releasing')], [5, phase('released')], [20, { ...verdict, ...change }], [21, show('remedies')]], atS);
      return card.is === 'remedies' ? card : null;
    };
    const order = ['wait', 'post-dilate', 'second-valve', 'snare', 'closure', 'surgery'];
    expect(at(30)!.rows.map((r) => r.code)).toEqual(order);
    expect(at(30, { remedies: [...verdict.remedies].reverse() })!.rows).toEqual(at(30)!.rows);
    expect(at(30, { remedies: [] })!.rows.map((r) => [r.code, r.state])).toEqual(order.map((code) => [code, 'cannot say']));
    expect([119.999, 120].map((s) => at(s)!.rows[0]!.state)).toEqual(['open', 'closed']);
    expect(at(30)!.rows.map((r) => r.leftMs)).toEqual([90_000, null, null, null, null, null]);
    expect(at(500, { waitUntil: null })!.rows[0]).toMatchObject({ state: 'open', leftMs: null });
  });

  test('a glance of the pedal passes by itself, with the next tap, and never over what the room must see', () => {
    const seconds = (s: number): number => Date.parse(logTime(s));
    const at = (s: number) => ({ settings: { glance: { card: 'valve' as const, atMs: seconds(s) } } });
    expect(board([[0, phase('access')]], 10, at(9))).toMatchObject({ name: 'valve', because: 'glance' });
    expect(nameOf([[0, phase('access')]], 9 + GLANCE_MS / 1000, at(9))).toBe('kit');
    expect(nameOf([[0, phase('access')], [10, { is: 'contrast', ml: 5 }]], 11, at(9))).toBe('kit');
    expect(nameOf([[0, phase('access')]], 8, at(9))).toBe('kit'); // from a clock ahead of the server's
    expect(nameOf([[0, phase('releasing')]], 10, at(9))).toBe('depth');
  });

  test('a jump stays until it is answered: taken back, causes closed, or the next step', () => {
    const moved: RoomEntry = { is: 'moved', direction: 'up', mm: 3 };
    const log = [[0, phase('releasing')], [2, moved]] as const;
    expect(board(log)).toMatchObject({ name: 'jump', because: 'must' });
    expect(nameOf([...log, [3, { is: 'recaptured', isWhole: true }]])).toBe('view'); // back at hold A
    expect(nameOf([...log, [3, { is: 'causes', closedAs: [], because: '', who: 'x' }]])).toBe('depth');
    expect(nameOf([...log, [3, { is: 'causes', closedAs: [], because: '', who: 'x' }], [4, moved]])).toBe('jump');
    expect(nameOf([...log, [3, phase('released')]])).toBe('time');
    expect(nameOf([...log, [3, depthEntry(1)]])).toBe('jump');
  });

  test('an open rescue card is above everything; a card that the frozen plan does not have is not shown', () => {
    const log = [[0, phase('releasing')], [2, { is: 'moved', direction: 'up', mm: 3 }], [3, { is: 'rescue', card: 'tamponade', did: 'opened', line: null }]] as const satisfies WallScene['log'];
    expect(board(log)).toMatchObject({ name: 'rescue', because: 'must', card: { is: 'rescue', isSigned: false, elapsedMs: 97_000, alsoOpen: 0 } });
    expect(nameOf([...log, [4, { is: 'rescue', card: 'tamponade', did: 'closed', line: null }]])).toBe('jump');
    expect(nameOf([[0, phase('access')], [3, { is: 'rescue', card: 'no-such-card', did: 'opened', line: null }]])).toBe('kit');
  });

  test('D17 and D42: the kit card counts a box as ready exactly where the second-valve card offers it', () => {
    const day = logTime(0).slice(0, 10);
    const box = fc.record({ ready: fc.constantFrom(true, false, undefined), expires: fc.constantFrom('2020-01-31', day, '2030-01-31', undefined), said: fc.constantFrom(true, false, undefined) });
    fc.assert(fc.property(fc.tuple(box, box, box), (boxes) => {
      const slots = ['spare', 'smaller', 'larger'] as const;
      const entered = slots.flatMap((slot, i) => ([[`kit.${slot}.ready`, boxes[i]!.ready], [`kit.${slot}.expires`, boxes[i]!.expires], [`kit.${slot}.place`, 'shelf 2']] as const));
      const huddle = Object.fromEntries(entered.flatMap(([id, value]) => (value === undefined ? [] : [[id, value] as const])));
      const log = slots.flatMap((item, i) => (boxes[i]!.said === undefined ? [] : [[1 + i, { is: 'kit', item, isReady: boxes[i]!.said! }] as const]));
      const ask = makeAsk({ name: '', log: [[0, phase('access')], ...log], atS: 10, change: { huddle } });
      const { card } = makeWallBoard(ask);
      const onWall = card.is === 'kit' ? card.items.filter((k) => slots.some((s) => s === k.item) && k.isReady === true && k.isInDate === true).map((k) => k.item) : null;
      expect(onWall).toEqual(listSecondValves(ask.frozen!, ask.room, day).valves.filter((v) => v.state === 'offered').map((v) => v.slot));
    }), replay);
  });

  test('pacing at another rate is the same run: its time goes on, as on the desk', () => {
    const at = (rate: number) => ({ is: 'pacing', isOn: true, ratePerMin: rate }) as const;
    expect(board([[0, phase('releasing')], [10, at(120)], [40, at(180)]], 50).strip!.pacing).toEqual({ isOn: true, ratePerMin: 180, sinceMs: 40_000 });
    expect(board([[0, phase('releasing')], [10, at(120)], [40, { is: 'pacing', isOn: false, ratePerMin: null }]], 50).strip!.pacing).toEqual({ isOn: false, ratePerMin: null, sinceMs: 10_000 });
  });

  test('D37 a depth is fresh, then old, then no answer, at the signed limits', () => {
    const { limits } = BASE.document;
    const [oldS, goneS] = [limits.depthOldS!.value, limits.depthGoneS!.value];
    const live = (ageS: number) => board([[0, phase('position')], [10, depthEntry(3, 0.4)]], 10 + ageS).strip!.depth!;
    expect(live(oldS)).toMatchObject({ place: 'inside', age: { state: 'fresh' } });
    expect(live(oldS + 0.001)).toMatchObject({ place: 'inside', age: { state: 'old' } });
    expect(live(goneS)).toMatchObject({ place: 'inside', age: { state: 'old' } });
    expect(live(goneS + 0.001)).toMatchObject({ place: 'cannot say', because: 'too-old', age: { state: 'gone' } });
  });

  test('a hold point asks until it is answered in this pass', () => {
    const answer: RoomEntry = { is: 'hold', hold: 'A', answer: 'go on', who: 'first operator' };
    expect(board([[0, phase('position')]]).hold).toEqual({ hold: 'A', answer: null });
    expect(board([[0, phase('position')], [1, answer]]).hold).toMatchObject({ answer: { answer: 'go on' } });
    expect(board([[0, phase('position')], [1, answer], [2, phase('access')], [3, phase('position')]]).hold).toEqual({ hold: 'A', answer: null });
    expect(board([[0, phase('access')]]).hold).toBeNull();
  });

  test('hold C is open again after a manoeuvre: a wall never goes on saying ACT when it was done', () => {
    const log = [[0, phase('releasing')], [5, phase('released')], [10, phase('result')], [20, { is: 'hold', hold: 'C', answer: 'act', who: 'x' }]] as const;
    expect(board(log)).toMatchObject({ hold: { answer: { answer: 'act' } }, card: { answer: { answer: 'act' } } });
    expect(board([...log, [30, { is: 'dilated', balloonMm: 22, when: 'after' }]])).toMatchObject({ hold: { hold: 'C', answer: null }, card: { is: 'result', answer: null } });
    expect(board([...log, [30, { is: 'dilated', balloonMm: 22, when: 'before' }]])).toMatchObject({ hold: { answer: { answer: 'act' } } });
    expect(board([...log, [30, { is: 'dilated', balloonMm: 22, when: 'after' }], [40, { is: 'hold', hold: 'C', answer: 'finish', who: 'x' }]])).toMatchObject({ hold: { answer: { answer: 'finish' } }, card: { answer: { answer: 'finish' } } });
  });

  test('without the server the wall says since when, also when a hung feed gives no error', () => {
    const warnings = (ask: NonNullable<WallScene['ask']>) => board([[0, phase('access')]], 100, { ask }).warnings;
    expect(warnings({ isOnline: true, newsMs: Date.parse(logTime(98)) })).toEqual([]);
    expect(warnings({ isOnline: false, newsMs: Date.parse(logTime(98)) })).toEqual([{ is: 'no-contact', forMs: 2000 }]);
    expect(warnings({ isOnline: true, newsMs: Date.parse(logTime(60)) })).toEqual([{ is: 'no-contact', forMs: 40_000 }]);
    expect(warnings({ isOnline: true, newsMs: null })).toEqual([{ is: 'no-contact', forMs: null }]);
    expect(warnings({ isOnline: true, newsMs: Number.NaN })).toHaveLength(1);
  });

  test('a case that was changed after the freeze is said first; limits that nobody knows stay with the window', () => {
    const behind = makeWallBoard({ ...makeAsk({ name: '', log: [[0, phase('identity')]], atS: 9, ask: { isOnline: false } }), isBehind: true });
    expect(behind.warnings.map((w) => w.is)).toEqual(['plan-behind', 'no-contact']);
    expect(makeWallBoard({ ...makeAsk(ALL_SCENES[0]!), frozenState: 'mismatch', frozen: null, isBehind: true }).warnings).toEqual([]);
    const unknown = ALL_SCENES.find((s) => s.name === 'limits-not-known')!;
    expect(makeBoard(unknown)).toMatchObject({ strip: { depth: { place: 'inside' }, window: { state: 'window', unknownLimits: 2 } } });
    expect(makeBoard({ ...unknown, change: { ...unknown.change, acceptedDoubts: [] } })).toMatchObject({ strip: { depth: { place: 'cannot say', because: 'window-incomplete' }, window: { unknownLimits: 0 } } });
  });

  test('what never arrived from a page is named', () => {
    const ask = makeAsk({ name: '', log: [[0, phase('access')]], atS: 9 });
    const room = { ...ask.room, holes: [{ clientId: 'a', missing: [2, 3] }, { clientId: 'b', missing: [1] }] };
    expect(makeWallBoard({ ...ask, room }).warnings).toEqual([{ is: 'lost-entries', count: 3 }]);
  });

  test('E15 the board is a pure function: the same ask twice is the same board, and nothing it was given has changed', () => {
    const entry: fc.Arbitrary<RoomEntry> = fc.oneof(
      fc.constantFrom(...ROOM_PHASES).map(phase), fc.option(fc.constantFrom(...WALL_CARDS)).map(show), fc.double({ min: -5, max: 15, noNaN: true }).map((mm) => depthEntry(mm)),
      fc.constantFrom<RoomEntry>({ is: 'moved', direction: 'up', mm: null }, { is: 'recaptured', isWhole: true }, { is: 'pacing', isOn: true, ratePerMin: null }, { is: 'rescue', card: 'tamponade', did: 'opened', line: null }, { is: 'rescue', card: 'tamponade', did: 'closed', line: null }, { is: 'fraction', ratio: 0.5 },
        makeVerdict(), { is: 'dilated', balloonMm: null, when: 'after' }, { is: 'hold', hold: 'C', answer: 'act', who: 'x' }),
    );
    fc.assert(fc.property(fc.array(entry, { maxLength: 12 }), fc.integer({ min: 0, max: 500 }), (entries, atS) => {
      const ask = makeAsk({ name: '', log: entries.map((e, i) => [i, e] as const), atS });
      const before = JSON.stringify({ ...ask, frozen: null }); // the plan is frozen in memory: a write would throw
      const first = makeWallBoard(ask);
      expect(makeWallBoard({ ...(JSON.parse(before) as typeof ask), frozen: ask.frozen })).toEqual(first);
      expect(JSON.stringify({ ...ask, frozen: null })).toBe(before);
      // Whoever asks for a card sees before whether it is given.
      const asked = makeWallBoard({ ...ask, settings: { ...ask.settings, glance: { card: 'totals', atMs: Math.max(ask.nowMs, ...entries.map((_e, i) => Date.parse(logTime(i)))) } }, nowMs: Math.max(ask.nowMs, Date.parse(logTime(entries.length))) });
      expect(asked.name === 'totals').toBe(isWallFree(ask.room));
    }), replay);
  });
});
