import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium, type Browser, type Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, onTestFinished, test } from 'vitest';
import type { CaseEventData } from '../../src/core/case/case-events.ts';
import type { Plan } from '../../src/core/case/plan-types.ts';
import { foldCase } from '../../src/core/case/fold-case.ts';
import { distance, dot, sub } from '../../src/core/math/vec3.ts';
import { makeLumenSurface } from '../../src/core/root/make-root-surfaces.ts';
import type { Xyz } from '../../src/core/root/root-types.ts';
import { VIEWER_EN } from '../../src/core/text/viewer-en.ts';
import { writeStl } from '../../src/formats/stl/write-stl.ts';
import { EXAMPLE_FRAME, exampleRadiusMm, makeCompletedPlan, makeExampleVolume } from '../support/example-plan.ts';
import { addEvent, buildViewerPage, openViewerEvents, READER, serveViewer, type ViewerCase, type ViewerServer } from '../support/serve-viewer.ts';
import { makeSurveyFixture } from '../support/survey-document-fixtures.ts';

const CHROMIUM = process.env['CHROMIUM'] ?? '/usr/bin/chromium';
const hasBrowser = existsSync(CHROMIUM);
const isRelease = process.env['CI'] !== undefined && process.env['CI'] !== '';
const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
test('the browser is there when the viewer must be tested', () => {
  if (isRelease) expect(hasBrowser).toBe(true);
});

const plan = makeCompletedPlan();
const survey = makeSurveyFixture(exampleRadiusMm, { frame: EXAMPLE_FRAME, frameOfReferenceUid: plan.scan.frameOfReferenceUid });
const volume = makeExampleVolume();
const lumen = writeStl(makeLumenSurface(EXAMPLE_FRAME, survey.wall, -10, 24)!, 'mm, LPS');
const folder = mkdtempSync(join(tmpdir(), 'viewer-'));
function withoutRoot(): Plan {
  const { root: _root, ...rest } = plan;
  return rest;
}
const makeShown = (change: Partial<ViewerCase> = {}): ViewerCase => ({
  plan, survey, blocks: { '2.25.101': volume, '2.25.109': { ...volume, samplesHu: volume.samplesHu.slice() } }, surfaces: lumen.ok ? { 'root-lumen.stl': lumen.value } : {},
  events: openViewerEvents(), role: 'planner', refusesEdits: false, plans: {}, ...change,
});

describe.skipIf(!hasBrowser)('the viewer in Chromium', () => {
  let browser: Browser;
  let server: ViewerServer | null = null;
  let page: Page;
  let shown: ViewerCase;
  let asked: string[] = [];
  let problems: string[] = [];
  beforeAll(async () => {
    await buildViewerPage(join(folder, 'page'));
    // Software drawing of the page; only the view in space needs WebGL, in a browser of its own.
    browser = await chromium.launch({ executablePath: CHROMIUM, args: ['--no-sandbox', '--disable-gpu'] });
  });
  afterEach(async () => {
    await page.close();
    await server?.close();
    expect(problems).toEqual([]);
    expect(asked.filter((url) => !url.startsWith(server!.origin) && !/^(data|blob):/.test(url))).toEqual([]); // nothing is fetched from elsewhere
  });
  afterAll(async () => {
    await browser?.close();
    rmSync(folder, { recursive: true, force: true });
  });

  async function open(change: Partial<ViewerCase> = {}, viewport = { width: 1180, height: 1300 }, where = browser, drawn = '[data-view=across] canvas[data-kind=full]'): Promise<void> {
    shown = makeShown(change);
    server = await serveViewer(join(folder, 'page'), shown);
    asked = [];
    problems = [];
    page = await where.newPage({ viewport, reducedMotion: 'reduce' });
    page.setDefaultTimeout(60_000); // the machine may be busy; nothing is timed here
    page.on('request', (r) => asked.push(r.url()));
    page.on('pageerror', (e) => problems.push(e.message));
    page.on('console', (m) => {
      if (m.type() === 'error' && !/status of (404|503)/.test(m.text())) problems.push(m.text());
    });
    await page.goto(server.origin);
    if (Object.keys(shown.blocks).length > 0) await page.waitForSelector(drawn);
  }
  const gripAt = async (view: string, name: string): Promise<readonly [number, number]> => {
    const box = (await page.locator(`[data-view="${view}"] [data-grip="${name}"] .reach`).boundingBox())!;
    return [box.x + box.width / 2, box.y + box.height / 2];
  };
  const perMm = async (): Promise<number> => (await page.locator('[data-view=across]').boundingBox())!.width / 64;
  const dragBy = async (view: string, name: string, mm: readonly [number, number]): Promise<void> => {
    const [x, y] = await gripAt(view, name);
    const px = await perMm();
    await page.mouse.move(x, y);
    await page.mouse.down();
    for (let i = 1; i <= 6; i++) await page.mouse.move(x + (mm[0] * px * i) / 6, y + (mm[1] * px * i) / 6);
  };
  const live = (): Promise<string> => page.locator('[data-live=ring]').innerText();
  const newEvents = (): readonly { readonly kind: string; readonly data: unknown }[] => shown.events.slice(3);
  const said = (text: string | RegExp): Promise<void> => page.locator('.said', { hasText: text }).waitFor();
  const markOf = (name: 'nadir.R' | 'nadir.L'): Xyz | undefined => foldCase('case-0001', shown.events).marks[name]?.lps;

  test('draws the CT with its marks, without a breach of WCAG that a checker can see', async () => {
    await open();
    const greys = await page.evaluate(() => {
      const canvas = document.querySelector<HTMLCanvasElement>('[data-view=across] canvas')!;
      const { data } = canvas.getContext('2d')!.getImageData(0, 0, canvas.width, canvas.height);
      const at = (x: number, y: number): number => data[4 * (Math.round(y * canvas.height) * canvas.width + Math.round(x * canvas.width))]!;
      return { middle: at(0.5, 0.5), fat: at(0.5, 0.04) };
    });
    expect(greys.middle).toBeGreaterThan(110); // blood, mid-grey
    expect(greys.fat).toBeLessThan(80);
    expect(await page.locator('.strip button').count()).toBe(plan.root!.coronaries.right ? 5 : 4);
    await page.evaluate(AXE);
    const breaches = await page.evaluate(async () => {
      const { axe } = globalThis as unknown as { axe: { run(where: Document, how: object): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> } };
      const found = await axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] });
      return found.violations.map((v) => `${v.id}: ${v.nodes[0]?.html.slice(0, 160)}`);
    });
    expect(breaches).toEqual([]);
  });

  test('scrolls by wheel and keys, zooms, and shows it as it opened with 0', async () => {
    await open();
    const view = page.locator('[data-view=across]');
    await view.hover();
    await page.mouse.wheel(0, -200);
    await page.getByText('Across the root, 2.0 mm above the basal plane').waitFor();
    await view.focus();
    await page.keyboard.press('ArrowDown');
    await page.getByText('Across the root, 1.5 mm above the basal plane').waitFor();
    await page.keyboard.press('Shift+ArrowDown');
    await page.getByText('Across the root, 1.0 mm below the basal plane').waitFor();
    const [x] = await gripAt('across', 'nadir.R');
    const middle = (await view.boundingBox())!.x + (await view.boundingBox())!.width / 2;
    await page.keyboard.press('+');
    await page.keyboard.press('0');
    await page.getByText(VIEWER_EN.acrossBasal).waitFor();
    expect(Math.abs((await gripAt('across', 'nadir.R'))[0] - x)).toBeLessThan(1.5);
    expect(Math.abs(x - middle)).toBeLessThan(1.5); // R is on top
  });

  test('a dragged nadir changes the ring while it moves; let go, it is one event with the place it had', async () => {
    await open();
    const was = plan.root!.basalPlane.nadirsLps.R;
    const before = await live();
    await page.getByRole('button', { name: 'Show the cut through the nadir R' }).click();
    await dragBy('along:nadir.R', 'nadir.R', [0, -5]); // five millimetres toward the aorta
    await page.waitForFunction((text) => document.querySelector('[data-live=ring]')!.textContent !== text, before);
    await said(/nadir R moved by 5\.\d mm: ring/);
    expect(newEvents()).toEqual([]);
    await page.mouse.up();
    await said(/nadir R moved by 5\.\d mm and kept/);
    const [event] = newEvents();
    expect(event!.kind).toBe('mark.moved');
    const moved = event!.data as CaseEventData['mark.moved'];
    expect(moved.was).toEqual(was);
    // Half a pixel of the screen, and the hundredth that is kept.
    expect(Math.abs(dot(sub(moved.lps!, was), EXAMPLE_FRAME.normalLps) - 5)).toBeLessThan(0.12);
    expect(Math.abs(distance(moved.lps!, was) - 5)).toBeLessThan(0.12);
    await page.locator('[data-view="across"] [data-grip="nadir.R"] rect.disc').waitFor(); // square: set by a person
  });

  test('undo gives the mark back to the tool, redo sets it again, and the log keeps all of it', async () => {
    await open();
    await dragBy('across', 'nadir.L', [2, 1]);
    await page.mouse.up();
    await said('nadir L moved');
    const lps = markOf('nadir.L');
    await page.keyboard.press('Control+z');
    await page.waitForFunction(() => document.querySelectorAll('rect.disc').length === 0);
    expect(markOf('nadir.L')).toBeUndefined();
    await page.getByRole('button', { name: VIEWER_EN.redo }).click();
    await page.locator('[data-view="across"] [data-grip="nadir.L"] rect.disc').waitFor();
    expect(markOf('nadir.L')).toEqual(lps);
    expect(newEvents().map((e) => e.kind)).toEqual(['mark.moved', 'mark.moved', 'mark.moved']);
  });

  test('the keyboard moves a mark in the picture and out of it; Escape puts it back, Enter keeps it', async () => {
    await open();
    const grip = page.locator('[data-view="across"] [data-grip="nadir.R"]');
    await page.locator('[data-view=across]').focus();
    await page.keyboard.press('Tab');
    expect(await page.evaluate(() => document.activeElement?.getAttribute('data-grip'))).toMatch(/^(nadir|ostium)\./);
    await grip.focus();
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('Escape');
    await said('nadir R put back');
    expect(newEvents()).toEqual([]);
    await page.keyboard.press('Shift+PageUp');
    await page.keyboard.press('ArrowUp');
    await page.keyboard.press('Enter');
    await said('nadir R moved by 1.0 mm and kept'); // 1 mm toward the aorta and 0.25 mm outward
    const moved = newEvents()[0]!.data as CaseEventData['mark.moved'];
    expect(dot(sub(moved.lps!, moved.was!), EXAMPLE_FRAME.normalLps)).toBeCloseTo(1, 1);
    expect(await page.evaluate(() => document.activeElement?.getAttribute('data-grip'))).toBe('nadir.R'); // the focus stays with the mark
  });

  test('a page that shifts under the hand moves no mark', async () => {
    await open();
    await dragBy('across', 'nadir.R', [2, 0]);
    await page.evaluate(() => {
      const notice = document.createElement('div');
      notice.style.height = '90px';
      document.body.prepend(notice);
    });
    await page.mouse.up();
    await said(/nadir R moved by (1\.9|2\.\d) mm and kept/);
  });

  test('what the store refuses goes back to where it was, and says so', async () => {
    await open({ refusesEdits: true });
    const at = await gripAt('across', 'nadir.R');
    await dragBy('across', 'nadir.R', [3, -2]);
    await page.mouse.up();
    await said('The store cannot be reached.');
    const back = await gripAt('across', 'nadir.R');
    expect(Math.hypot(back[0] - at[0], back[1] - at[1])).toBeLessThan(1.5);
  });

  test('the ring is reshaped by its points and kept as one event; a nadir moved later gives it back', async () => {
    await open();
    await page.getByRole('button', { name: VIEWER_EN.drawRing }).click();
    await dragBy('across', 'ring.4', [-1.5, 0]);
    await page.mouse.up();
    await page.getByRole('button', { name: VIEWER_EN.keepRing }).click();
    await said(VIEWER_EN.keptRing);
    const ring = (newEvents()[0]!.data as CaseEventData['ring.drawn']).contourLps!;
    const before = plan.root!.basalRing.contourLps;
    expect(ring).toHaveLength(before.length);
    const moved = ring.map((p, i) => distance(p, before[i]!));
    expect(Math.max(...moved)).toBeGreaterThan(1.3);
    expect(moved.filter((mm) => mm < 0.02).length).toBeGreaterThan(before.length / 2); // the other side stays
    await dragBy('across', 'nadir.R', [1, 0]);
    await page.mouse.up();
    await said('nadir R moved');
    expect(newEvents().map((e) => e.kind)).toEqual(['ring.drawn', 'ring.drawn', 'mark.moved']);
    expect(foldCase('case-0001', shown.events).ring).toBeNull();
  });

  test('another phase is shown, and its marks cannot be moved', async () => {
    await open();
    await page.getByLabel(VIEWER_EN.phase).selectOption('2.25.109');
    await page.getByText(VIEWER_EN.otherPhase).waitFor();
    expect(await page.locator('[data-grip]').count()).toBe(0);
    await page.getByLabel(VIEWER_EN.phase).selectOption('2.25.101');
    await page.locator('[data-view=across] [data-grip="nadir.R"]').waitFor();
  });

  test('a person who may only read moves nothing', async () => {
    await open({ role: 'viewer' });
    expect(await page.locator('[data-grip]').count()).toBe(0);
    expect(await page.getByRole('button', { name: VIEWER_EN.undo }).count()).toBe(0);
    expect(await page.getByRole('button', { name: VIEWER_EN.drawRing }).count()).toBe(0);
  });

  test('a CT that does not come is said, marks and numbers stay, and it can be tried again', async () => {
    await open({ blocks: {} });
    await page.getByText('There is no such block.').waitFor();
    expect(await page.locator('[data-view=across] [data-grip="nadir.R"]').count()).toBe(1);
    (shown as { blocks: ViewerCase['blocks'] }).blocks = { '2.25.101': volume };
    await page.getByRole('button', { name: VIEWER_EN.tryAgain }).click();
    await page.waitForSelector('[data-view=across] canvas[data-kind=full]');
  });

  test('two readings stand side by side, and their middle becomes the marks of the case', async () => {
    const events = openViewerEvents();
    const [one, two] = ['b'.repeat(64), 'c'.repeat(64)];
    addEvent(events, READER, { kind: 'reading.saved', data: { readingId: 'reading-one', planSha256: one, landmarksSha256: null } });
    addEvent(events, 'person-ben', { kind: 'reading.saved', data: { readingId: 'reading-two', planSha256: two, landmarksSha256: null } });
    const root = plan.root!;
    const at = root.basalPlane.nadirsLps.R;
    const other = { ...plan, root: { ...root, basalPlane: { ...root.basalPlane, nadirsLps: { ...root.basalPlane.nadirsLps, R: [at[0] + 4, at[1], at[2]] as Xyz } }, basalRing: { ...root.basalRing, perimeterMm: { ...root.basalRing.perimeterMm, value: root.basalRing.perimeterMm.value! + 30 } } } };
    await open({ events, plans: { [one]: plan, [two]: other } });
    await page.getByText(VIEWER_EN.readings, { exact: true }).click();
    expect(await page.locator('.readings select').first().locator('option').allTextContents()).toEqual([expect.stringMatching(/^Ann\b/), expect.stringMatching(/^Ben\b/)]); // people, not their numbers
    await page.getByRole('row', { name: /ring perimeter.*beyond both intervals/ }).waitFor();
    await page.getByRole('row', { name: /nadir R.*4\.0 mm/ }).waitFor();
    await page.getByRole('button', { name: VIEWER_EN.setConsensus }).click();
    await page.locator('[data-view="across"] [data-grip="nadir.R"] rect.disc').waitFor();
    expect(markOf('nadir.R')![0]).toBeCloseTo(at[0] + 2, 2);
  });

  test('without a root, a person sets the three nadirs in three pictures, by pointer and by keyboard', async () => {
    await open({ plan: withoutRoot() }, undefined, undefined, '[data-view=axial] canvas[data-kind=full]');
    const axial = page.locator('[data-view=axial]');
    await axial.click({ position: { x: 60, y: 70 } });
    await said('nadir R set');
    await axial.focus();
    for (const key of ['ArrowLeft', 'Shift+ArrowDown', 'PageUp', 'Enter']) await page.keyboard.press(key);
    await said('nadir L set');
    await page.locator('[data-view=coronal]').click({ position: { x: 120, y: 40 } });
    await page.getByRole('button', { name: VIEWER_EN.keepNadirs }).click();
    await said(VIEWER_EN.placedAll);
    const marks = newEvents().map((e) => e.data as CaseEventData['mark.moved']);
    expect(marks.map((m) => m.mark)).toEqual(['nadir.R', 'nadir.L', 'nadir.N']);
    // From R: one step to the patient's right, five backward, one toward the feet.
    expect(sub(marks[1]!.lps!, marks[0]!.lps!).map((mm) => Math.round(10 * mm) / 10 + 0)).toEqual([-1, 5, -1]);
  });

  test('without WebGL the view in space says that it cannot be shown', async () => {
    await open();
    await page.evaluate(() => {
      const { getContext } = HTMLCanvasElement.prototype;
      HTMLCanvasElement.prototype.getContext = function (this: HTMLCanvasElement, kind: string, ...rest: unknown[]) {
        return kind.startsWith('webgl') ? null : (getContext as (...all: unknown[]) => unknown).call(this, kind, ...rest);
      } as typeof getContext;
    });
    await page.getByRole('button', { name: VIEWER_EN.solidShow }).click();
    await page.getByText(VIEWER_EN.solidNoGraphics).waitFor();
  });

  test('the root in space is drawn when it is opened, with the frame at a depth', async () => {
    const drawing = await chromium.launch({ executablePath: CHROMIUM, args: ['--no-sandbox', '--use-angle=swiftshader', '--enable-unsafe-swiftshader'] });
    onTestFinished(() => drawing.close());
    await open({}, { width: 800, height: 900 }, drawing);
    expect(asked.some((url) => url.includes('solid'))).toBe(false);
    await page.getByRole('button', { name: VIEWER_EN.solidShow }).click();
    await page.locator('.solid canvas').waitFor();
    await page.getByLabel(VIEWER_EN.frameDepth).fill('6');
    await page.getByText(/at 6\.0 mm; drawn no wider/).waitFor();
    const picture = page.locator('.solid');
    await expect.poll(async () => new Set(await picture.screenshot()).size, { timeout: 60_000 }).toBeGreaterThan(200); // more than a plain ground compresses to
    const before = await picture.screenshot();
    await picture.focus();
    await page.keyboard.press('ArrowLeft');
    expect(Buffer.compare(before, await picture.screenshot())).not.toBe(0);
  });

  test('at the width of a telephone nothing is wider than the screen', async () => {
    await open({}, { width: 390, height: 844 });
    expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(390);
    expect((await page.locator('[data-view=across]').boundingBox())!.width).toBeGreaterThan(300);
  });
});
