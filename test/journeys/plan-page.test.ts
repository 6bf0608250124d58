import { spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { chromium, type Browser, type Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { NO_CUTS } from '../../src/core/root/cut-types.ts';
import { makeRootCuts } from '../../src/core/root/make-root-cuts.ts';
import { drawPlanPage } from '../../src/formats/report/draw-plan-page.ts';
import { makeCompletedPlan, makeExamplePlan, makeExampleVolume, makeRefusedPlan } from '../support/example-plan.ts';

const CHROMIUM = process.env['CHROMIUM'] ?? '/usr/bin/chromium';
const hasBrowser = existsSync(CHROMIUM);
const hasPdfReader = spawnSync('pdftotext', ['-v']).status === 0;
const isRelease = process.env['CI'] !== undefined && process.env['CI'] !== '';

test('the browser and the PDF reader are there when the run must be whole', () => {
  if (isRelease) expect({ hasBrowser, hasPdfReader }).toEqual({ hasBrowser: true, hasPdfReader: true });
});

/** Contrast of each visible text against what lies behind it, by WCAG 2.2; runs in the page. */
function findFaintText(): readonly string[] {
  const parse = (css: string): number[] => (css.match(/[\d.]+/g) ?? []).map(Number);
  const over = (top: number[], under: number[]): number[] => {
    const a = top[3] ?? 1;
    return [0, 1, 2].map((i) => top[i]! * a + under[i]! * (1 - a));
  };
  const luminance = (rgb: number[]): number => {
    const [r, g, b] = rgb.map((v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r! + 0.7152 * g! + 0.0722 * b!;
  };
  const faint: string[] = [];
  for (const element of document.querySelectorAll('body *')) {
    const says = [...element.childNodes].some((n) => n.nodeType === 3 && n.textContent!.trim() !== '');
    if (!says || element.closest('[aria-hidden],title,desc,.cut') || element.getClientRects().length === 0) continue;
    const chain: Element[] = [];
    for (let e: Element | null = element; e; e = e.parentElement) chain.unshift(e);
    const ground = chain.reduce((under, e) => over(parse(getComputedStyle(e).backgroundColor), under), [255, 255, 255]);
    const style = getComputedStyle(element);
    const ink = over(parse(element instanceof SVGElement ? style.fill : style.color), ground);
    const [light, dark] = [luminance(ink), luminance(ground)].sort((a, b) => b - a);
    const ratio = (light! + 0.05) / (dark! + 0.05);
    if (!(ratio >= 4.5)) faint.push(`${element.textContent!.trim().slice(0, 30)}: ${ratio.toFixed(2)}`);
  }
  return faint;
}

describe.skipIf(!hasBrowser)('plan.html in a browser (skipped where there is no Chromium)', () => {
  const folder = mkdtempSync(join(tmpdir(), 'plan-page-'));
  const plan = makeExamplePlan();
  const made = makeRootCuts(makeExampleVolume(), plan.root!, 421);
  const files = { plan: join(folder, 'plan.html'), refused: join(folder, 'refused.html'), completed: join(folder, 'completed.html'), empty: join(folder, 'empty.html') };
  let browser: Browser;

  beforeAll(async () => {
    writeFileSync(files.plan, drawPlanPage(plan, made.ok ? made.value : NO_CUTS));
    writeFileSync(files.refused, drawPlanPage(makeRefusedPlan(), NO_CUTS));
    writeFileSync(files.completed, drawPlanPage(makeCompletedPlan(), NO_CUTS));
    writeFileSync(files.empty, drawPlanPage(makeCompletedPlan({ keepsOutflowCalcium: true, tables: { patient: null } }), NO_CUTS));
    browser = await chromium.launch({
      executablePath: CHROMIUM,
      args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
    });
  });
  afterAll(async () => {
    await browser?.close();
    rmSync(folder, { recursive: true, force: true });
  });
  async function openPage<T>(file: string, width: number, colorScheme: 'light' | 'dark', look: (page: Page, requests: string[]) => Promise<T>): Promise<T> {
    const page = await browser.newPage({ viewport: { width, height: 800 }, colorScheme });
    const requests: string[] = [];
    page.on('request', (r) => requests.push(r.url()));
    page.on('console', (m) => requests.push(`console: ${m.text()}`));
    await page.goto(pathToFileURL(file).href);
    try {
      return await look(page, requests);
    } finally {
      await page.close();
    }
  }

  test('does not run over the side from phone to desk, with every number opened', async () => {
    for (const file of Object.values(files)) {
      const overflow = await openPage(file, 320, 'light', async (page) => {
        await page.evaluate(() => document.querySelectorAll('details').forEach((d) => (d.open = true)));
        const found: Record<number, number> = {};
        for (const width of [320, 390, 768, 1000, 1280]) {
          await page.setViewportSize({ width, height: 800 });
          found[width] = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
        }
        return found;
      });
      expect(overflow).toEqual({ 320: 0, 390: 0, 768: 0, 1000: 0, 1280: 0 });
    }
  });
  test('asks for nothing but itself and its own pictures', async () => {
    const requests = await openPage(files.plan, 1280, 'light', (_, asked) => Promise.resolve(asked));
    expect(requests.filter((url) => !url.startsWith('data:image/png') && url !== pathToFileURL(files.plan).href)).toEqual([]);
  });
  test('shows its pictures', async () => {
    const broken = await openPage(files.plan, 1280, 'light', (page) => page.evaluate(async () => {
      const images = [...document.querySelectorAll('svg image')].map((i) => i.getAttribute('href')!);
      const sizes = await Promise.all(images.map((src) => new Promise<number>((done) => {
        const image = new Image();
        image.onload = () => done(image.naturalWidth);
        image.onerror = () => done(0);
        image.src = src;
      })));
      return { count: images.length, broken: sizes.filter((w) => w !== 256).length };
    }));
    expect(broken).toEqual({ count: 6, broken: 0 });
  });
  test('has text that stands out at 4.5 to 1 by day and in the dark room', async () => {
    for (const file of [files.plan, files.refused, files.completed]) {
      const faint = await openPage(file, 1280, 'light', async (page) => {
        const light = await page.evaluate(findFaintText);
        await page.emulateMedia({ colorScheme: 'dark' });
        const dark = await page.evaluate(findFaintText);
        await page.evaluate(() => document.querySelector('h1')!.style.setProperty('color', '#555'));
        return { light, dark, planted: (await page.evaluate(findFaintText)).length };
      });
      // The planted faint heading shows that the check can fail.
      expect(faint).toEqual({ light: [], dark: [], planted: 1 });
    }
  });
  test('works by keyboard: skip link first, then each number opens, with a visible focus', async () => {
    const seen = await openPage(files.plan, 1280, 'light', async (page) => {
      await page.keyboard.press('Tab');
      const first = await page.evaluate(() => ({ text: document.activeElement!.textContent, left: document.activeElement!.getBoundingClientRect().left }));
      await page.evaluate(() => document.querySelector<HTMLElement>('details.fact summary')!.focus());
      await page.keyboard.press('Enter');
      const fact = await page.evaluate(() => ({
        isOpen: document.querySelector<HTMLDetailsElement>('details.fact')!.open,
        outline: getComputedStyle(document.activeElement!).outlineWidth,
        small: [...document.querySelectorAll('summary, nav a')].filter((e) => e.getBoundingClientRect().height < 23.5).length,
      }));
      return { first, ...fact };
    });
    expect(seen.first.text).toBe('Skip to the answers');
    expect(seen.first.left).toBeGreaterThanOrEqual(0);
    expect(seen.isOpen).toBe(true);
    expect(seen.outline).toBe('3px');
    expect(seen.small).toBe(0);
  });
  test.skipIf(!hasPdfReader)('prints the caution on each page, on A4 (skipped without pdftotext)', async () => {
    const pdf = join(folder, 'plan.pdf');
    await openPage(files.plan, 1280, 'dark', (page) => page.pdf({ path: pdf, preferCSSPageSize: true, printBackground: true }));
    const pages = spawnSync('pdftotext', ['-layout', pdf, '-']).stdout.toString().split('\f').slice(0, -1);
    expect(pages.length).toBeGreaterThan(3);
    pages.forEach((text, i) => {
      expect(text.replace(/\s+/g, ' '), `page ${i + 1}`).toContain('A planning aid for research and teaching, not a medical device');
      expect(text, `page ${i + 1}`).toContain('training, invented sizes');
    });
    expect(spawnSync('pdfinfo', [pdf]).stdout.toString()).toMatch(/Page size:\s+59\d(\.\d+)? x 84\d(\.\d+)? pts \(A4\)/);
  });
});
