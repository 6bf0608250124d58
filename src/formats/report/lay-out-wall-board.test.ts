import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { makeRoom } from '../../../test/support/room-log.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import { ALL_SCENES, makeAsk, makeBoard, makeVerdict, SETTINGS, type WallScene } from '../../../test/support/wall-scenes.ts';
import { WALL_FONTS } from '../../../test/support/wall-fonts.ts';
import { makeWallBoard } from '../../core/room/make-wall-board.ts';
import { drawWallBoard } from './draw-wall-board.ts';
import { formatAge, formatBand, formatTimer, roundBeside } from './format-wall.ts';
import { layOutWallBoard } from './lay-out-wall-board.ts';
import { makePen, type BoardLayout, type BoardText } from './wall-pen.ts';
import { wordWallBoard } from './word-wall-board.ts';

/** What design.md asks of the wall, mm. */
const ANSWER_MM = 38;
const TEXT_MM = 13;
/** Screens of 24, 32, 55 and 75 inches and an upright one of 32; 0.5 mm for rounding of what makers print. */
const SCREENS = [[531, 299], [708, 398], [1210, 681], [1650, 928], [398, 708]] as const;
const sheets = ALL_SCENES.map((scene) => ({ name: scene.name, sheet: wordWallBoard(makeBoard(scene)) }));

const boxOf = (t: BoardText): readonly [number, number, number, number] => [t.leftMm, t.baselineMm - t.capMm, t.leftMm + t.widthMm, t.baselineMm + (/[gjpqy,;Q]/.test(t.text) ? 0.24 * t.capMm : 0)];
function listFaults(layout: BoardLayout): string[] {
  const faults = layout.texts.filter((t) => !(t.capMm >= (t.part === 'answer' ? ANSWER_MM : TEXT_MM))).map((t) => `small: ${t.text}`);
  faults.push(...layout.texts.filter((t) => t.part === 'answer' && !([...t.text].length <= 4)).map((t) => `long answer: ${t.text}`));
  const boxes = layout.texts.map(boxOf);
  boxes.forEach(([l, top, r, foot], i) => {
    if (!(l >= 4 && top >= 4 && r <= layout.widthMm - 4 && foot <= layout.heightMm - 2)) faults.push(`over the edge: ${layout.texts[i]!.text}`);
    boxes.slice(i + 1).forEach(([l2, top2, r2, foot2], j) => {
      if (l < r2 && l2 < r && top < foot2 && top2 < foot) faults.push(`meet: ${layout.texts[i]!.text} / ${layout.texts[i + 1 + j]!.text}`);
    });
  });
  return faults;
}

describe(`layOutWallBoard (seed ${seed})`, () => {
  for (const [widthMm, heightMm] of SCREENS) {
    test(`on ${widthMm} x ${heightMm} mm every letter has its height and its own place, and nothing is left out`, () => {
      for (const { name, sheet } of sheets) {
        const layout = layOutWallBoard(sheet, { widthMm, heightMm }, WALL_FONTS);
        expect(listFaults(layout), name).toEqual([]);
        expect(layout.isCut, name).toBe(false);
      }
    });
  }

  test('a smaller screen shows less and says so; its letters stay', () => {
    const layout = layOutWallBoard(sheets.find((s) => s.name === 'opening-deeper')!.sheet, { widthMm: 345, heightMm: 194 }, WALL_FONTS);
    expect(layout.isCut).toBe(true);
    expect(layout.texts.filter((t) => t.part === 'answer').every((t) => t.capMm >= ANSWER_MM)).toBe(true);
    expect(layout.texts.some((t) => t.part === 'warning' && t.text.includes('TOO SMALL'))).toBe(true);
  });

  test('a font that claims taller capitals than it has would be found: heights are those of the glyphs', () => {
    const pen = makePen({ ...WALL_FONTS, bold: { ...WALL_FONTS.bold, capHeight: 1.2 * WALL_FONTS.bold.capHeight } }, 1);
    const honest = makePen(WALL_FONTS, 1);
    expect(pen.put('answer', 'bold', 40, '3.4', 0, 0).fontMm).toBeLessThan(honest.put('answer', 'bold', 40, '3.4', 0, 0).fontMm);
  });

  test('a card has at most seven items, an answer at most four signs, and no answer stands without its doubt or its unit', () => {
    for (const { name, sheet: { card } } of sheets) {
      const items = card.answer.length + (card.word === '' ? 0 : 1) + card.lines.length + (card.question === '' ? 0 : 1) + (card.ruler ? 1 : 0);
      expect(items, name).toBeLessThanOrEqual(card.title.startsWith('MOVED') || card.lines.some((l) => l.box) ? 8 : 7);
      for (const { glyphs } of card.answer) expect([...glyphs].length, name).toBeLessThanOrEqual(4);
      if (card.answer.some((a) => a.glyphs === '?')) expect(card.mark, name).toMatch(/doubt|old/);
    }
  });

  test('E10 and E12 no per cent stands on the jump board, and its seven rows keep their order', () => {
    const { card } = sheets.find((s) => s.name === 'jump')!.sheet;
    expect(JSON.stringify(card)).not.toContain('%');
    expect(card.lines.map((l) => l.text)).toEqual(['start height', 'septal bulge', 'taper', 'wire bias', 'no pacing', 'calcium', 'undersized']);
  });

  const cardOf = (log: WallScene['log'], atS = 100) => wordWallBoard(makeBoard({ name: '', log: [[0, { is: 'phase', phase: 'releasing' }], [5, { is: 'phase', phase: 'released' }], [10, { is: 'phase', phase: 'result' }], ...log], atS })).card;

  test('D44 of a verdict the word has its side, each witness its bar or its word, and only the count of those that agree is a number', () => {
    expect(cardOf([[20, makeVerdict()]])).toMatchObject({ answer: [{ glyphs: '3/3' }], word: 'AGREE, BELOW THE LINE', mark: 'plain', question: 'C: wait, act, or finish?' });
    expect(cardOf([[20, makeVerdict({ side: 'above' })]])).toMatchObject({ answer: [{ glyphs: '3/3' }], word: 'AGREE, ABOVE THE LINE', mark: 'stop' });
    for (const word of ['DISAGREE', 'NOT SETTLED', 'CANNOT SAY'] as const) expect(cardOf([[20, makeVerdict({ word, side: null })]])).toMatchObject({ answer: [{ glyphs: '?' }], word, mark: 'doubt' });
    const one = cardOf([[20, makeVerdict({ word: 'ONE WITNESS ONLY', side: null, witnesses: [{ kind: 'angiogram', low: 1, high: 2 }, { kind: 'pressure', low: null, high: null }] })]]);
    expect(one).toMatchObject({ answer: [{ glyphs: '1/3' }], word: 'ONE WITNESS ONLY', mark: 'doubt' });
    expect(one.bars!.rows.map((r) => [r.label, r.low, r.high, r.says])).toEqual([['pressures', null, null, 'MAY NOT SPEAK'], ['echo', null, null, 'MISSING'], ['angiogram', 1, 2, '']]);
  });

  test('E16 with its wait over a verdict is grey and dotted and says so; one below the line stays what it is', () => {
    const settled = { waitUntil: '2026-03-02T10:01:00.000Z' };
    const open = { ...settled, word: 'NOT SETTLED', side: null } as const;
    expect(cardOf([[20, makeVerdict(open)]], 59).lines.map((l) => l.text)).toContain('wait: 1 s left');
    const over = cardOf([[20, makeVerdict(open)]], 60);
    expect([over.mark, over.lines.map((l) => l.text).includes('wait over: read again'), over.bars!.rows.every((r) => r.isOld)]).toEqual(['old', true, true]);
    expect(cardOf([[20, makeVerdict(settled)]], 60).mark).toBe('plain');
  });

  test('E10 and E12 the remedy board has its six rows in order, no number of rank, no per cent and no advice', () => {
    for (const log of [[[20, makeVerdict()]], [[20, makeVerdict({ word: 'NOT SETTLED', side: null, remedies: [] })]]] as const) {
      const card = cardOf([...log, [21, { is: 'show', card: 'remedies' }]]);
      expect(card.blocks!.map((b) => b.text)).toEqual(['wait', 'post-dilate', 'second valve', 'snare', 'closure', 'surgery']);
      for (const b of card.blocks!) expect(b.state).toMatch(/^(OPEN|CLOSED|CANNOT SAY)$/);
      expect(JSON.stringify(card)).not.toMatch(/%|recommend|should|best|prefer|first choice/i);
    }
  });

  test('of the next measurement and of a remedy whole sentences stand there, as many as have room, with a sign that more follow', () => {
    const textsOf = (name: string, screen: readonly [number, number] = SCREENS[0]) => layOutWallBoard(sheets.find((s) => s.name === name)!.sheet, { widthMm: screen[0], heightMm: screen[1] }, WALL_FONTS).texts.map((t) => t.text).join(' ');
    expect(textsOf('verdict-disagree')).toContain('Zero and flush the lines, then record ten beats again …');
    expect(textsOf('verdict-disagree', [398, 708])).toContain('give the AR index from before any balloon if it was taken.');
    expect(textsOf('verdict-longest')).toContain('Next: see the desk');
    expect(textsOf('remedies-longest')).toContain('see the desk');
  });

  test('texts of the log may be anything up to their bounds: nothing meets, every name and state of the board is there', () => {
    const words = fc.array(fc.constantFrom('Aortenklappenersatz', 'junction', '(22.5', 'mm).', 'Leak?', 'WWWWWWWWWWWW', 'o', 'valve/size.'), { maxLength: 40 }).map((w) => w.join(' ').slice(0, 200));
    const grade = fc.tuple(fc.double({ min: 0, max: 4, noNaN: true }), fc.double({ min: 0, max: 4, noNaN: true })).map(([a, b]) => [Math.min(a, b), Math.max(a, b)] as const);
    const witnesses = fc.array(fc.option(grade), { minLength: 3, maxLength: 3 }).map((all) => all.flatMap((g, i) => (g === null && i === 1 ? [] : [{ kind: (['pressure', 'echo', 'angiogram'] as const)[i]!, low: g?.[0] ?? null, high: g?.[1] ?? null }])));
    const verdict = fc.record({ witnesses, next: words, details: fc.array(words, { minLength: 6, maxLength: 6 }), state: fc.constantFrom('open' as const, 'closed' as const, 'cannot say' as const), word: fc.constantFrom('AGREE' as const, 'DISAGREE' as const, 'NOT SETTLED' as const, 'ONE WITNESS ONLY' as const, 'CANNOT SAY' as const), isLeft: fc.boolean() });
    fc.assert(fc.property(verdict, fc.constantFrom('verdict' as const, 'remedies' as const), fc.constantFrom(...SCREENS), fc.boolean(), (v, card, [widthMm, heightMm], isWarned) => {
      const entry = makeVerdict({ word: v.word, side: v.word === 'AGREE' ? 'above' : null, witnesses: v.witnesses, next: v.next, waitUntil: v.isLeft ? '2026-03-02T10:05:00.000Z' : null, remedies: makeVerdict().remedies.map((r, i) => ({ ...r, state: v.state, detail: v.details[i]! })) });
      const scene: WallScene = { name: '', log: [[0, { is: 'phase', phase: 'releasing' }], [5, { is: 'phase', phase: 'released' }], [10, { is: 'phase', phase: 'result' }], [20, entry], [21, { is: 'show', card }]], atS: 3700, ...(isWarned ? { ask: { isBehind: true } } : {}) };
      const layout = layOutWallBoard(wordWallBoard(makeBoard(scene)), { widthMm, heightMm }, WALL_FONTS);
      expect(listFaults(layout)).toEqual([]);
      expect(layout.isCut).toBe(false);
      const texts = layout.texts.map((t) => t.text);
      for (const name of card === 'verdict' ? ['pressures', 'echo', 'angiogram'] : ['wait', 'post-dilate', 'second valve', 'snare', 'closure', 'surgery']) expect(texts).toContain(name);
    }), { ...replay, numRuns: Math.min(80, replay.numRuns ?? 80) });
  });

  test('E8 a box whose date nobody entered is not counted as ready, and says so on both cards', () => {
    const { 'kit.spare.expires': _none, ...huddle } = makeAsk(ALL_SCENES[0]!).frozen!.huddle;
    const cardOf = (phase: 'access' | 'valve-in', change: object) => wordWallBoard(makeBoard({ name: '', log: [[0, { is: 'phase', phase }]], atS: 9, change })).card;
    expect([cardOf('access', {}).answer[0]!.glyphs, cardOf('access', { huddle }).answer[0]!.glyphs]).toEqual(['7/7', '6/7']);
    expect(cardOf('access', { huddle }).lines).toEqual([expect.objectContaining({ text: 'second valve 27', end: 'NO DATE', mark: 'doubt' })]);
    expect(cardOf('valve-in', {}).lines.map((l) => l.text).join()).not.toContain('NO DATE');
    expect(cardOf('valve-in', { huddle }).lines.map((l) => l.text).join()).toContain('27 NO DATE');
  });

  test('limits that nobody knows stand beside INSIDE, and the age of the share beside OPEN', () => {
    const { card, strip } = sheets.find((s) => s.name === 'limits-not-known')!.sheet;
    expect([card.word, card.because]).toEqual(['INSIDE', 'limits not known: 2']);
    expect(strip.find((s) => s.label === 'TAKE BACK')).toMatchObject({ value: 'OPEN', note: '2 left, 2 s old' });
    expect(sheets.find((s) => s.name === 'plan-behind')!.sheet.warnings.join()).toContain('CASE CHANGED');
  });

  test('E14 every mark stands beside a word that says the same', () => {
    for (const { name, sheet } of sheets) for (const s of sheet.strip) if (s.mark === 'doubt') expect(s.value, name).toMatch(/\?|NOT |CANNOT SAY|EMPTY|NO WINDOW/);
  });

  test('the training mark, the caution and the code are on every card of a training plan', () => {
    for (const { name, sheet } of sheets.filter((s) => !['mismatch', 'other-patient', 'not-frozen', 'reading'].includes(s.name))) {
      const text = layOutWallBoard(sheet, { widthMm: 531, heightMm: 299 }, WALL_FONTS).texts.map((t) => t.text).join(' ');
      expect(text, name).toMatch(/PLAN [0-9a-f]{4} [0-9a-f]{4}/);
      expect(text, name).toContain('TRAINING, invented sizes.');
      expect(text, name).toContain('not a medical device');
    }
  });

  test('names of the hospital may be long: nothing meets, nothing is cut in the middle', () => {
    const words = fc.array(fc.constantFrom('Aortenklappenersatz', 'first', 'operator', 'Übernahme', 'Wijkverpleegkundige', 'o', 'valve/size'), { minLength: 1, maxLength: 9 }).map((w) => w.join(' ').slice(0, 60));
    fc.assert(fc.property(words, words, fc.constantFrom(...SCREENS), (label, who, [widthMm, heightMm]) => {
      for (const name of ['result-wait', 'handover', 'access-not-ready']) {
        const ask = makeAsk(ALL_SCENES.find((s) => s.name === name)!);
        const frozen = { ...ask.frozen!, label, choice: { ...ask.frozen!.choice, device: who }, huddle: { ...ask.frozen!.huddle, 'team.decides': who } };
        const room = { ...ask.room, holds: { C: { is: 'hold' as const, hold: 'C' as const, answer: 'wait' as const, who, at: ask.room.lastAt! } } };
        expect(listFaults(layOutWallBoard(wordWallBoard(makeWallBoard({ ...ask, frozen, room })), { widthMm, heightMm }, WALL_FONTS))).toEqual([]);
      }
    }), { ...replay, numRuns: Math.min(40, replay.numRuns ?? 40) });
  });
});

describe('numbers of the wall', () => {
  test('E22 a depth is never rounded onto a limit that it lies beyond, nor over it', () => {
    expect(roundBeside(6.04, [6])).toBe(6.1);
    expect(roundBeside(5.97, [6])).toBe(5.9);
    expect(roundBeside(6, [6])).toBe(6);
    expect(roundBeside(3.44, [1, 6])).toBe(3.4);
    expect(roundBeside(-0.04, [0])).toBe(-0.1);
    fc.assert(fc.property(fc.double({ min: -20, max: 20, noNaN: true }), fc.integer({ min: -100, max: 100 }), (mm, tenths) => {
      const limit = tenths / 10;
      const shown = roundBeside(mm, [limit]);
      expect(Math.abs(shown - mm)).toBeLessThanOrEqual(0.1 + 1e-9); // one step of the display at most
      if (mm > limit) expect(shown).toBeGreaterThan(limit);
      if (mm < limit) expect(shown).toBeLessThan(limit);
    }), replay);
  });
  test('a band is rounded outward and says above in words', () => {
    expect(formatBand(2.34, 4.01)).toBe('2.3 to 4.1');
    expect(formatBand(-0.31, 1.2)).toBe('0.4 above to 1.2');
    expect(formatBand(-1.75, -0.62)).toBe('0.6 to 1.8 above');
  });
  test('ages are whole seconds and never younger than they are; a timer has four signs for a day and more', () => {
    expect([0, 999, 59_999, 60_000, 3_599_999, 3_600_000].map(formatAge)).toEqual(['0 s', '0 s', '59 s', '1:00 min', '59:59 min', '1 h 00']);
    expect(formatTimer(155_000)).toEqual({ glyphs: '2:35', unit: 'min:s' });
    fc.assert(fc.property(fc.double({ min: 0, max: 3e9, noNaN: true }), (ms) => formatTimer(ms).glyphs.length <= 4), replay);
  });
  test('signs of other people’s text are escaped in the picture', () => {
    const ask = makeAsk({ name: '', log: [], atS: 1, settings: SETTINGS });
    const svg = drawWallBoard(layOutWallBoard(wordWallBoard(makeWallBoard({ ...ask, frozen: { ...ask.frozen!, label: '<b>&' }, room: makeRoom() })), { widthMm: 531, heightMm: 299 }, WALL_FONTS), 'w', '"x"');
    expect(svg).toContain('&lt;b&gt;&amp;');
    expect(svg).not.toContain('<b>');
  });
});
