import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { makeCompletedPlan, makeExamplePlan, setVerdict } from '../../../test/support/example-plan.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import { FONT_FILES, WALL_FONTS } from '../../../test/support/wall-fonts.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import type { ReleaseVerdict } from '../../core/release/release-types.ts';
import { writeWallPdf } from '../pdf/write-wall-pdf.ts';
import { drawWallPage } from './draw-wall-page.ts';
import { CARD_MM, layOutWallCard, wrapText, type PlacedText } from './lay-out-wall-card.ts';
import { listWallCards, type WallCard } from './list-wall-cards.ts';

const full = makeCompletedPlan();
const cards = listWallCards(full);
const find = (plan: Plan, id: string): WallCard => {
  const card = listWallCards(plan).find((c) => c.id === id);
  if (!card) throw new Error(`no card ${id}`);
  return card;
};
const sayRelease = (answer: ReleaseVerdict): Plan => ({ ...full, release: setVerdict(full.release!, answer, { gripping: 'stays', middle: answer, slippery: answer }) });
/** Ink boxes of two texts meet: capitals above the base line, tails below it. */
function overlap(a: PlacedText, b: PlacedText): boolean {
  const box = (t: PlacedText): readonly number[] => [t.leftMm, t.leftMm + t.widthMm, t.baselineMm - 0.77 * t.fontMm, t.baselineMm + (t.part === 'answer' ? 0.02 : 0.24) * t.fontMm];
  const [p, q] = [box(a), box(b)];
  return p[0]! < q[1]! && q[0]! < p[1]! && p[2]! < q[3]! && q[2]! < p[3]!;
}
function checkSheet(card: WallCard): readonly string[] {
  const { texts } = layOutWallCard(card, WALL_FONTS);
  const breaches: string[] = [];
  for (const t of texts) {
    if (!(t.leftMm >= 20 && t.leftMm + t.widthMm <= CARD_MM.width - 8 && t.baselineMm <= CARD_MM.height - 8)) breaches.push(`${t.part} "${t.text}" leaves the card`);
  }
  texts.forEach((a, i) => texts.slice(i + 1).forEach((b) => void (overlap(a, b) && breaches.push(`"${a.text}" meets "${b.text}"`))));
  return breaches;
}

describe('listWallCards', () => {
  test('gives one card per answer, in the order of use, each with the code of the scan and the training mark', () => {
    expect(cards.map((c) => [c.id, ...c.answer, c.unit])).toEqual([
      ['size', '27', ''], ['start', '3.0', 'mm'], ['aim', '1.0–4.6', 'mm'], ['stop', '4.6', 'mm'],
      ['start-view', 'RAO 19', 'CAU 26', 'degrees'], ['second-view', 'LAO 11', 'CAU 14', 'degrees'], ['release', 'CANNOT SAY', ''], ['second-valve', '27', ''],
    ]);
    expect(new Set(cards.map((c) => c.code))).toEqual(new Set(['scan 3b1f0c7e']));
    expect(cards.every((c) => c.training)).toBe(true);
    expect(listWallCards({ ...full, training: false }).some((c) => c.training)).toBe(false);
  });
  test('has no card for a section the plan does not hold, and the refusal for one that was refused', () => {
    const { size: _s, landing: _l, views: _v, release: _r, ...bare } = full;
    expect(listWallCards({ ...bare, messages: [] })).toEqual([]);
    const refused = listWallCards(makeExamplePlan());
    expect(refused.map((c) => [c.id, ...c.answer])).toEqual([['size', 'CANNOT SAY'], ['landing', 'CANNOT SAY']]);
    expect(refused[0]!.lines).toEqual(['No device table was given, so no size was chosen.', "Give the hospital's signed table with --devices."]);
  });
  test('says EMPTY with the two limits and the gap, and then has neither start, aim nor stop', () => {
    const empty = makeCompletedPlan({ keepsOutflowCalcium: true });
    const ids = listWallCards(empty).map((c) => c.id);
    expect(ids).not.toContain('start');
    expect(ids).not.toContain('stop');
    const card = find(empty, 'landing');
    expect(card.answer).toEqual(['EMPTY']);
    expect(card.lines[1]).toBe(`Device table against Outflow calcium: ${empty.landing!.conflict!.gapMm!.toFixed(1)} mm apart`);
    expect(card.mark).toBe('doubt');
  });
  test('names what lies above the plane in words, never by a sign', () => {
    const shifted = { ...full, landing: { ...full.landing!, startMm: -1.5, aimLowMm: -2, aimHighMm: 1 } };
    expect(find(shifted, 'start')).toMatchObject({ answer: ['1.5 ABOVE'] });
    expect(find(shifted, 'start').lines[0]).toBe('ABOVE the basal plane, inflow edge');
    expect(find(shifted, 'aim').answer).toEqual(['2.0 ABOVE', '1.0 BELOW']);
    for (const c of listWallCards(shifted)) expect(c.answer.join('')).not.toMatch(/[-\u2212]/);
  });
  test('rounds into the window, so that no shown depth lies outside it', () => {
    const depth = fc.double({ min: 0.05, max: 9, noNaN: true });
    fc.assert(fc.property(depth, depth, depth, (a, b, c) => {
      const [aimLowMm, aimHighMm, stopMm] = [a, b, c].sort((x, y) => x - y) as [number, number, number];
      fc.pre(aimHighMm - aimLowMm > 0.02);
      const plan = { ...full, landing: { ...full.landing!, aimLowMm, aimHighMm, stopMm } };
      const [low, high] = find(plan, 'aim').answer[0]!.split('–').map(Number);
      expect(low! >= aimLowMm - 1e-6 && high! <= aimHighMm + 1e-6 && low! <= high!).toBe(true);
      expect(Number(find(plan, 'stop').answer[0]) <= stopMm + 1e-6).toBe(true);
    }), replay);
  });
  test('says OUT OF REACH instead of an angle that the room cannot take', () => {
    const views = { ...full.views!, chosen: full.views!.chosen.map((v) => (v.role === 'start' ? { ...v, reach: false, instead: { primaryDeg: 20, secondaryDeg: 5, awayDeg: 12.3 } } : v)) };
    const card = find({ ...full, views }, 'start-view');
    expect(card.answer).toEqual(['OUT OF', 'REACH']);
    expect(card.lines).toEqual(['wanted: RAO 19 CAU 26', 'in reach: LAO 20 CRA 5, 12 degrees off', 'confirm by fluoroscopy']);
    expect(find({ ...full, views }, 'start').lines.join()).not.toContain('read it in');
  });
  test('does not show angles that were withheld', () => {
    const prone = makeCompletedPlan({ tables: { patientPosition: 'HFP' } });
    expect(find(prone, 'start-view').answer).toEqual(['CANNOT SAY']);
    expect(find(prone, 'start-view').lines[0]).toBe(prone.views!.reasons[0]!.text);
  });
  test('says what the release tends to in words that are no order, with each world that differs', () => {
    expect(find(sayRelease('stays'), 'release').answer).toEqual(['STAYS']);
    expect(find(sayRelease('stays or up'), 'release').answer).toEqual(['STAYS', 'OR UP']);
    expect(find(sayRelease('up'), 'release').answer).toEqual(['TENDS', 'UP']);
    expect(find(sayRelease('stays or up'), 'release').lines).toEqual(['from 3.0 mm start; up = to the aorta', 'gripping: stays; middle: stays or up; slippery: stays or up']);
    expect(find(full, 'release').lines).toContain(full.release!.refusals[0]!.text);
    expect(find(full, 'release').lines).toContain(full.release!.refusals[0]!.next);
  });
  test('never shows an unsettled size as a big number', () => {
    const d = full.size!.byDevice[0]!;
    const change = (between: readonly string[]): Plan => ({ ...full, size: { ...full.size!, answer: null, byDevice: [{ ...d, size: null, between, second: { same: null, neighbours: between } }] } });
    expect(find(change(['27', '30']), 'size').answer).toEqual(['BETWEEN', '27 30']);
    expect(find(change(['27']), 'size').answer).toEqual(['NOT', 'SETTLED']);
    expect(find(change([]), 'size').answer).toEqual(['NONE']);
    expect(find(change(['27']), 'second-valve')).toMatchObject({ answer: ['NOT', 'SETTLED'], lines: ['training-flare', 'in the room, until settled: 27'] });
    expect(find(change(['27']), 'start').lines).toContain('training-flare 27, size NOT SETTLED');
  });
  test('says how many limits of the window are not known', () => {
    const open = makeCompletedPlan({ tables: { patient: null } });
    for (const id of ['start', 'aim', 'stop']) expect(find(open, id).lines.join(' '), id).toMatch(/INCOMPLETE: \d of 8 limits not known/);
    expect(find(open, 'aim').mark).toBe('doubt');
  });
  test('carries no percentage but that of an interval, and at most seven items', () => {
    for (const plan of [full, makeExamplePlan(), makeCompletedPlan({ keepsOutflowCalcium: true }), sayRelease('stays or up')]) {
      for (const c of listWallCards(plan)) {
        expect([...c.answer, ...c.lines].join(' ').replaceAll('(95 %)', ''), c.id).not.toContain('%');
        expect(3 + c.lines.length, c.id).toBeLessThanOrEqual(7); // head, answer, foot and the lines
        expect(c.answer.length === 1 || c.lines.length <= 3, c.id).toBe(true);
      }
    }
  });
});

describe(`layOutWallCard (seed ${seed})`, () => {
  test('keeps every text on the card and apart from the others, whatever the plan says', () => {
    const words = fc.string({ unit: fc.constantFrom(...'abcdefghijklmnopqrstuvwxyzMW0123456789 -–().'), maxLength: 160 });
    fc.assert(fc.property(fc.constantFrom(...cards), fc.array(words, { maxLength: 3 }), fc.boolean(), fc.string({ unit: fc.constantFrom(...'0123456789WM'), minLength: 1, maxLength: 30 }), (card, lines, training, label) => {
      expect(checkSheet({ ...card, lines, training })).toEqual([]);
      expect(checkSheet({ ...card, answer: [label], lines, training })).toEqual([]);
    }), replay);
  });
  test('does not make a long label smaller: it points to the plan and says the label among the lines', () => {
    const { texts } = layOutWallCard({ ...cards[0]!, answer: ['27-EXTRA-LONG-LABEL'] }, WALL_FONTS);
    expect(texts.filter((t) => t.part === 'answer').map((t) => t.text)).toEqual(['SEE PLAN']);
    expect(texts.find((t) => t.part === 'line')!.text).toBe('27-EXTRA-LONG-LABEL');
    expect(checkSheet({ ...cards[0]!, answer: ['27-EXTRA-LONG-LABEL'] })).toEqual([]);
  });
  test('shows a sentence of the plan whole or not at all', () => {
    const long = 'Choose a start outside the band, or measure the outflow radius below the annulus once more.';
    const rows = layOutWallCard({ ...cards[6]!, lines: ['from 3.0 mm start', long, long] }, WALL_FONTS).texts.filter((t) => t.part === 'line').map((t) => t.text);
    expect(rows.join(' ')).toBe(`from 3.0 mm start ${long} the rest: see the plan page`);
  });
  test('finds texts that overlap or leave the card', () => {
    const sheet = layOutWallCard(cards[0]!, WALL_FONTS);
    const [title, code] = sheet.texts;
    expect(overlap(title!, { ...code!, leftMm: title!.leftMm + 1 })).toBe(true);
    expect(wrapText('aa bb', 3, (t) => t.length)).toEqual(['aa', 'bb']);
    expect(wrapText('aaaaa b', 3, (t) => t.length)).toEqual(['aaa', 'aa', 'b']);
  });
});

describe('wall.html and wall.pdf', () => {
  test('give the same bytes twice', async () => {
    expect(drawWallPage(cards, WALL_FONTS)).toBe(drawWallPage(listWallCards(makeCompletedPlan()), WALL_FONTS));
    const [one, two] = [await writeWallPdf(cards, WALL_FONTS, FONT_FILES, full.madeAt), await writeWallPdf(cards, WALL_FONTS, FONT_FILES, full.madeAt)];
    expect(Buffer.from(one).equals(Buffer.from(two))).toBe(true);
  });
  test('leave the font files as they were', () => {
    const before = Buffer.from(FONT_FILES.wallBold).toString('base64');
    drawWallPage(cards, WALL_FONTS);
    expect(Buffer.from(FONT_FILES.wallBold).toString('base64') === before).toBe(true);
  });
  test('stand alone: no script, no request, no hue', () => {
    const page = drawWallPage(cards, WALL_FONTS);
    const plain = page.replace(/base64,[A-Za-z0-9+/=]+/g, '');
    expect(plain.match(/<script|<link|<iframe|<img|https?:|\son\w+=|@import/i)?.[0]).toBeUndefined();
    for (const [colour] of plain.matchAll(/#[0-9a-f]{3,6}(?=[;"}])/gi)) expect(['#000', '#fff', '#777']).toContain(colour);
    expect(page.length).toBeLessThan(80_000);
  });
  test('escape what the plan says', () => {
    const hostile = { ...full, size: { ...full.size!, byDevice: [{ ...full.size!.byDevice[0]!, device: '<script>alert(1)</script>' }] } };
    expect(drawWallPage(listWallCards(hostile), WALL_FONTS)).not.toContain('<script');
  });
});
