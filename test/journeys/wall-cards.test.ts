import { spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { chromium, type Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { HOUSE_EN } from '../../src/core/text/house-en.ts';
import { writeWallPdf } from '../../src/formats/pdf/write-wall-pdf.ts';
import { drawWallPage } from '../../src/formats/report/draw-wall-page.ts';
import { layOutWallCard, type WallFonts } from '../../src/formats/report/lay-out-wall-card.ts';
import { listWallCards } from '../../src/formats/report/list-wall-cards.ts';
import { makeCompletedPlan, makeExamplePlan, setVerdict } from '../support/example-plan.ts';
import { FONT_FILES, WALL_FONTS } from '../support/wall-fonts.ts';

/** What design.md asks of the wall, mm. */
const ANSWER_MM = 38;
const TEXT_MM = 13;
const full = makeCompletedPlan();
const release = setVerdict(full.release!, 'stays or up', { gripping: 'stays', middle: 'stays', slippery: 'stays or up' });
/** All kinds of card: answered, empty, refused, with long words of the plan. */
const cards = [...listWallCards(full), ...listWallCards(makeCompletedPlan({ keepsOutflowCalcium: true })).slice(1, 2), ...listWallCards({ ...full, release }).slice(-2, -1), ...listWallCards(makeExamplePlan())]
  .map((card, i) => ({ ...card, id: `${card.id}-${i}` }));
/** Fonts that claim taller capitals than they have, so that everything comes out a tenth too small. */
const TOO_SMALL: WallFonts = { bold: { ...WALL_FONTS.bold, capHeight: 1.1 * WALL_FONTS.bold.capHeight }, plain: { ...WALL_FONTS.plain, capHeight: 1.1 * WALL_FONTS.plain.capHeight } };

const CHROMIUM = process.env['CHROMIUM'] ?? '/usr/bin/chromium';
const hasBrowser = existsSync(CHROMIUM);
const hasPdfReader = spawnSync('pdftotext', ['-v']).status === 0 && spawnSync('pdftoppm', ['-v']).status === 0;
const isRelease = process.env['CI'] !== undefined && process.env['CI'] !== '';
const folder = mkdtempSync(join(tmpdir(), 'wall-cards-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

test('the browser and the PDF reader are there when the walls must be measured', () => {
  if (isRelease) expect({ hasBrowser, hasPdfReader }).toEqual({ hasBrowser: true, hasPdfReader: true });
});

interface Word {
  readonly text: string;
  readonly left: number;
  readonly top: number;
  readonly right: number;
  readonly foot: number;
}
interface PageImage {
  readonly width: number;
  readonly height: number;
  readonly grey: Uint8Array;
}
const DPI = 100;
const MM_PER_DOT = 25.4 / DPI;
const MM_PER_POINT = 25.4 / 72;

function readPdf(file: string): { readonly words: Word[][]; readonly images: PageImage[] } {
  const html = spawnSync('pdftotext', ['-bbox', file, '-']).stdout.toString();
  const words = html.split('<page ').slice(1).map((page) => [...page.matchAll(/<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">([^<]*)</g)].map(([, x, y, right, foot, text]) =>
    ({ text: text!, left: Number(x) * MM_PER_POINT, top: Number(y) * MM_PER_POINT, right: Number(right) * MM_PER_POINT, foot: Number(foot) * MM_PER_POINT })));
  const stem = `${file}-page`;
  spawnSync('pdftoppm', ['-gray', '-r', String(DPI), file, stem]);
  const images = readdirSync(folder).filter((n) => join(folder, n).startsWith(`${stem}-`)).sort().map((name) => {
    const bytes = readFileSync(join(folder, name));
    const [head, width, height] = /^P5\s(\d+)\s(\d+)\s255\s/.exec(bytes.subarray(0, 40).toString('latin1'))!;
    return { width: Number(width), height: Number(height), grey: bytes.subarray(head.length) };
  });
  return { words, images };
}
/** Height of the ink inside a word's box, mm, from the drawn page. */
function measureInk({ width, grey }: PageImage, w: Word): number {
  const rows: number[] = [];
  for (let y = Math.ceil(w.top / MM_PER_DOT); y < Math.floor(w.foot / MM_PER_DOT); y++) {
    for (let x = Math.ceil(w.left / MM_PER_DOT); x < Math.floor(w.right / MM_PER_DOT); x++) if (grey[y * width + x]! < 128) {
      rows.push(y);
      break;
    }
  }
  return rows.length === 0 ? 0 : (rows[rows.length - 1]! - rows[0]! + 1) * MM_PER_DOT;
}
/** Signs as tall as a capital in these fonts, with nothing below the base line. */
const isFlat = (text: string): boolean => /^[A-IK-PR-Z0-9]+$/.test(text);

/** Smallest measured capital or digit of the answers and of all other words, mm. */
function measureWords({ words, images }: ReturnType<typeof readPdf>): { readonly answer: number; readonly text: number } {
  const answer: number[] = [];
  const text: number[] = [];
  words.forEach((page, i) => {
    const isBig = (w: Word): boolean => w.foot - w.top > 30; // font boxes: 64 mm against 21 mm
    // A word without a flat sign has the height of its own font box, by the ratio of those that are flat.
    const ratio = Math.min(...page.filter((w) => isFlat(w.text) && !isBig(w)).map((w) => measureInk(images[i]!, w) / (w.foot - w.top)));
    for (const w of page) {
      if (isBig(w)) answer.push(isFlat(w.text) ? measureInk(images[i]!, w) : ratio * (w.foot - w.top));
      else text.push(isFlat(w.text) ? measureInk(images[i]!, w) : ratio * (w.foot - w.top));
    }
  });
  return { answer: Math.min(...answer), text: Math.min(...text) };
}

describe.skipIf(!hasPdfReader)('wall.pdf on paper (skipped where there is no pdftotext)', () => {
  const file = join(folder, 'wall.pdf');
  let pdf: ReturnType<typeof readPdf>;
  beforeAll(async () => {
    writeFileSync(file, await writeWallPdf(cards, WALL_FONTS, FONT_FILES, full.madeAt));
    pdf = readPdf(file);
  });
  test('is A3 landscape with one card on each page, and embeds its fonts', () => {
    const info = spawnSync('pdfinfo', [file]).stdout.toString();
    expect(info).toMatch(/Page size:\s+1190\.55 x 841\.89 pts/);
    expect(pdf.words.length).toBe(cards.length);
    const fonts = spawnSync('pdffonts', [file]).stdout.toString().trim().split('\n').slice(2);
    expect(fonts.length).toBe(2);
    for (const line of fonts) expect(line).toMatch(/yes yes yes/);
  });
  test('has answers of 38 mm and more, everything else of 13 mm and more, by the ink on the page', async () => {
    const seen = measureWords(pdf);
    expect(seen.answer).toBeGreaterThanOrEqual(ANSWER_MM);
    expect(seen.text).toBeGreaterThanOrEqual(TEXT_MM);
    const small = join(folder, 'small.pdf');
    writeFileSync(small, await writeWallPdf(cards.slice(0, 2), TOO_SMALL, FONT_FILES, full.madeAt));
    const planted = measureWords(readPdf(small));
    expect(planted.answer).toBeLessThan(ANSWER_MM);
    expect(planted.text).toBeLessThan(TEXT_MM);
  });
  test('keeps its ink off the edge of the paper and its words apart', () => {
    pdf.images.forEach(({ width, height, grey }, i) => {
      const edge = Math.round(6 / MM_PER_DOT);
      let stray = 0;
      for (let y = 0; y < height; y++) for (let x = 0; x < width; x++) if ((x < edge || y < edge || x >= width - edge || y >= height - edge) && grey[y * width + x]! < 250) stray++;
      expect(stray, `page ${i + 1}`).toBe(0);
    });
    pdf.words.forEach((page, i) => page.forEach((a, k) => page.slice(k + 1).forEach((b) => {
      // Font boxes hold room above the capitals (a fifth) and below the base line; what is left must not meet.
      const inner = (w: Word): readonly number[] => [w.top + 0.17 * (w.foot - w.top), w.foot - (w.foot - w.top > 30 ? 0.2 : 0.03) * (w.foot - w.top)];
      const [p, q] = [inner(a), inner(b)];
      const meets = a.left < b.right - 0.5 && b.left < a.right - 0.5 && p[0]! < q[1]! && q[0]! < p[1]!;
      expect(meets, `page ${i + 1}: ${a.text} and ${b.text}`).toBe(false);
    })));
  });
  test('says on each page which scan it is of, the caution and the training mark', () => {
    pdf.words.forEach((page, i) => {
      const text = page.map((w) => w.text).join(' ');
      expect(text, `page ${i + 1}`).toContain('3b1f0c7e');
      expect(text.replaceAll('&apos;', "'"), `page ${i + 1}`).toContain(HOUSE_EN.caution);
      expect(text, `page ${i + 1}`).toContain(HOUSE_EN.training);
    });
  });
  test('is black on white only', () => {
    const coloured = spawnSync('pdftoppm', ['-r', '12', '-f', '1', '-l', '4', file]).stdout;
    for (const part of splitImages(coloured)) for (let k = 0; k < part.length; k += 3) expect(part[k] === part[k + 1] && part[k] === part[k + 2]).toBe(true);
  });
});
/** Samples of the P6 pictures that follow one another. */
function splitImages(bytes: Buffer): Uint8Array[] {
  const parts: Uint8Array[] = [];
  for (let at = 0; at < bytes.length; ) {
    const [head, width, height] = /^P6\s(\d+)\s(\d+)\s255\s/.exec(bytes.subarray(at, at + 40).toString('latin1'))!;
    const size = 3 * Number(width) * Number(height);
    parts.push(bytes.subarray(at + head.length, at + head.length + size));
    at += head.length + size;
  }
  return parts;
}

/** Ink boxes of all texts in mm from the corner of their card; runs in the page. */
function measureTexts(): { readonly part: string; readonly text: string; readonly capMm: number; readonly widthMm: number; readonly box: readonly [number, number, number, number]; readonly card: number }[] {
  const pen = document.createElement('canvas').getContext('2d')!;
  const mm = 25.4 / 96;
  return [...document.querySelectorAll('section.card')].flatMap((section, card) => [...section.querySelectorAll('text')].map((t) => {
    const scale = t.getScreenCTM()!.a;
    const origin = section.getBoundingClientRect();
    pen.font = `${Number(t.getAttribute('font-size')) * scale}px ${getComputedStyle(t).fontFamily}`;
    pen.fontKerning = 'none';
    const cap = Math.min(...['H', '0'].map((sign) => pen.measureText(sign).actualBoundingBoxAscent));
    const ink = pen.measureText(t.textContent!);
    const x = t.getScreenCTM()!.e - origin.left + Number(t.getAttribute('x')) * scale;
    const y = t.getScreenCTM()!.f - origin.top + Number(t.getAttribute('y')) * scale;
    return {
      part: t.getAttribute('data-part')!, text: t.textContent!, capMm: cap * mm, widthMm: ink.width * mm, card,
      box: [(x - ink.actualBoundingBoxLeft) * mm, (y - ink.actualBoundingBoxAscent) * mm, (x + ink.actualBoundingBoxRight) * mm, (y + ink.actualBoundingBoxDescent) * mm],
    };
  }));
}

describe.skipIf(!hasBrowser)('wall.html in a browser (skipped where there is no Chromium)', () => {
  const files = { wall: join(folder, 'wall.html'), small: join(folder, 'small.html') };
  let browser: Browser;
  beforeAll(async () => {
    writeFileSync(files.wall, drawWallPage(cards, WALL_FONTS));
    writeFileSync(files.small, drawWallPage(cards.slice(0, 2), TOO_SMALL));
    browser = await chromium.launch({
      executablePath: CHROMIUM,
      args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
    });
  });
  afterAll(async () => void (await browser?.close()));

  async function look(file: string): Promise<{ texts: ReturnType<typeof measureTexts>; requests: string[]; fonts: string[]; size: number[] }> {
    const page = await browser.newPage({ viewport: { width: 1600, height: 1130 } });
    const requests: string[] = [];
    page.on('request', (r) => requests.push(r.url().slice(0, 30)));
    page.on('console', (m) => requests.push(`console: ${m.text()}`));
    await page.goto(pathToFileURL(file).href);
    const fonts = await page.evaluate(async () => {
      await document.fonts.ready;
      return [...document.fonts].map((f) => `${f.family} ${f.status}`);
    });
    const texts = await page.evaluate(measureTexts);
    const size = await page.evaluate(() => {
      const { width, height } = document.querySelector('.card')!.getBoundingClientRect();
      return [width, height].map((v) => (v * 25.4) / 96);
    });
    await page.close();
    return { texts, requests, fonts, size };
  }

  test('shows each card at A3, with its own fonts and no request', async () => {
    const { requests, fonts, size } = await look(files.wall);
    expect(fonts).toEqual(['wall-bold loaded', 'wall-plain loaded']);
    expect(requests.filter((r) => !r.startsWith('data:font/woff') && !r.startsWith('file:'))).toEqual([]);
    expect(size[0]).toBeCloseTo(420, 0);
    expect(size[1]).toBeCloseTo(297, 0);
  });
  test('has answers of 38 mm and more, everything else of 13 mm and more, nothing over the edge or over another text', async () => {
    const { texts } = await look(files.wall);
    const small = (list: typeof texts): string[] => list.filter((t) => !(t.capMm >= (t.part === 'answer' ? ANSWER_MM : TEXT_MM))).map((t) => `${t.part} ${t.text}: ${t.capMm.toFixed(2)} mm`);
    expect(small(texts)).toEqual([]);
    // A sign that the packed font lacks would come from another font and be of another width.
    const widths = cards.flatMap((c) => layOutWallCard(c, WALL_FONTS).texts.map((t) => t.widthMm));
    expect(texts.filter((t, i) => !(Math.abs(t.widthMm - widths[i]!) < 0.002 * widths[i]!)).map((t) => t.text)).toEqual([]);
    const outside = (list: typeof texts): string[] => list.filter(({ box: [l, t, r, b] }) => !(l >= 6 && t >= 6 && r <= 414 && b <= 291)).map((t) => t.text);
    expect(outside(texts)).toEqual([]);
    const meeting = texts.flatMap((a, i) => texts.slice(i + 1).filter((b) => a.card === b.card && a.box[0] < b.box[2] && b.box[0] < a.box[2] && a.box[1] < b.box[3] && b.box[1] < a.box[3]).map((b) => `${a.text} / ${b.text}`));
    expect(meeting).toEqual([]);
    expect(small((await look(files.small)).texts).length).toBeGreaterThan(8); // the planted small fonts are found
  });
  test('prints one card per A3 page', async () => {
    const page = await browser.newPage();
    await page.goto(pathToFileURL(files.wall).href);
    const out = join(folder, 'printed.pdf');
    await page.pdf({ path: out, preferCSSPageSize: true, printBackground: true });
    await page.close();
    if (!hasPdfReader) return;
    const info = spawnSync('pdfinfo', [out]).stdout.toString();
    expect(info).toMatch(new RegExp(`Pages:\\s+${cards.length}\\n`));
    expect(info).toMatch(/Page size:\s+119\d(\.\d+)? x 84\d(\.\d+)? pts/);
  });
});
