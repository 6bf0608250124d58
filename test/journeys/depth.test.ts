import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium, type Browser, type Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import type { DepthReading } from '../../src/core/projection/depth-types.ts';
import type { RoomRecord } from '../../src/core/room/room-types.ts';
import { DEPTH_PAGE_EN } from '../../src/core/text/depth-page-en.ts';
import { WALL_ROOM_EN } from '../../src/core/text/wall-room-en.ts';
import { drawTruth, type DrawnTruth } from '../support/depth-truth.ts';
import { makeFrozenFixture } from '../support/frozen-fixture.ts';
import { buildDepthPage, serveDepth, type DepthCase } from '../support/serve-depth.ts';

const CHROMIUM = process.env['CHROMIUM'] ?? '/usr/bin/chromium';
const hasBrowser = existsSync(CHROMIUM);
const isRelease = process.env['CI'] !== undefined && process.env['CI'] !== '';
const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
test('the browser is there when the depth panel must be tested', () => {
  if (isRelease) expect(hasBrowser).toBe(true);
});

const frozen = makeFrozenFixture().document;
const plane = frozen.plan.root!.basalPlane;
const start = frozen.plan.views!.chosen.find((v) => v.role === 'start')!;
/** In the middle of the training window of 1.0 to 4.6 mm. */
const TRUE_MM = 2.8;
const viewAt = (byPrimary: number, bySecondary: number) => ({ primaryDeg: Math.round(start.primaryDeg) + byPrimary, secondaryDeg: Math.round(start.secondaryDeg) + bySecondary });
const draw = (runId: string, byPrimary: number, bySecondary: number): DrawnTruth => drawTruth({ plane, view: viewAt(byPrimary, bySecondary), depthMm: TRUE_MM, radiusMm: 12, runId });
const one = draw('run-one', 4, 3);
const two = draw('run-two', 44, 12);
const near = draw('run-near', 14, 3);
/** Hand noise of a few pixels, the same in every run of the test. */
const SHAKES = [[1.5, -1], [-1, 1.5], [-1.5, -0.5], [1, 0]] as const;

describe.skipIf(!hasBrowser)('the depth panel in Chromium', () => {
  const folder = mkdtempSync(join(tmpdir(), 'depth-'));
  let browser: Browser;
  let server: { readonly origin: string; close(): Promise<void> } | null = null;
  let page: Page;
  let shown: DepthCase;
  let problems: string[] = [];
  beforeAll(async () => {
    await buildDepthPage(folder);
    browser = await chromium.launch({ executablePath: CHROMIUM, args: ['--no-sandbox', '--disable-gpu'] });
  });
  afterEach(async () => {
    await page.close();
    await server?.close();
    expect(problems).toEqual([]);
  });
  afterAll(async () => {
    await browser?.close();
    rmSync(folder, { recursive: true, force: true });
  });

  async function open(change: Partial<DepthCase> = {}, how: { readonly viewport?: { width: number; height: number }; readonly hasTouch?: boolean } = {}): Promise<void> {
    shown = { frozen, runs: [one.run, two.run, near.run], next: null, records: [], reasons: [], ...change };
    server = await serveDepth(folder, shown);
    problems = [];
    page = await browser.newPage({ viewport: { width: 1280, height: 1400 }, reducedMotion: 'reduce', ...how });
    page.setDefaultTimeout(60_000); // the machine may be busy; nothing is timed here
    page.on('pageerror', (e) => problems.push(e.message));
    page.on('console', (m) => m.type() === 'error' && !/status of (404|422)/.test(m.text()) && problems.push(m.text()));
    await page.goto(server.origin);
    await page.locator('.depth-answer').waitFor();
  }
  const openRun = async (run: DrawnTruth): Promise<void> => {
    await page.locator(`[data-run=${run.run.about.runId}]`).click();
    await page.locator(`[data-shown=${run.run.about.runId}] .frame-picture[aria-busy=false] canvas[data-drawn]`).waitFor();
  };
  const clickAt = async ([c, r]: readonly [number, number]): Promise<void> => {
    const box = (await page.locator('.frame-picture').boundingBox())!;
    await page.mouse.click(box.x + ((c + 0.5) * box.width) / 512, box.y + ((r + 0.5) * box.height) / 512);
  };
  /** One round of clicks on the three points, off by a hand's shake. */
  const clickRound = async ({ at }: DrawnTruth, [dx, dy]: readonly [number, number] = [0, 0]): Promise<void> => {
    for (const [k, p] of [at.cuspN, ...at.inflow].entries()) await clickAt([p[0] + (k === 1 ? -dx : dx), p[1] + (k === 2 ? -dy : dy)]);
  };
  const answer = (): Promise<string> => page.locator('.depth-answer').innerText();
  const told = (): Promise<readonly { entryId: string; corrects: string | null; entry: { is: string; reading: DepthReading } }[]> => page.evaluate(() => (globalThis as unknown as { told: { entries: never[] } }).told.entries);
  const said = (text: string | RegExp): Promise<void> => page.locator('.depth-next .said', { hasText: text }).waitFor();
  const numberOf = async (): Promise<number> => {
    const text = await page.locator('.depth-number').innerText();
    return Number(/([\d.]+) mm/.exec(text)![1]) * (text.includes('above') ? -1 : 1);
  };

  test('a run opens at its last frame; three clicks give a depth at once, uncorrected, and the second view is asked for', async () => {
    await open();
    await page.getByText(DEPTH_PAGE_EN.nextRun).waitFor();
    await openRun(one);
    await page.getByText('Frame 6 of 6').waitFor();
    await page.locator('.depth-next b', { hasText: 'Mark the N cusp.' }).waitFor();
    await clickRound(one);
    await page.locator('.depth-number').waitFor();
    // Straight on the marks: half a screen pixel each, and what the view itself shifts (job.md: not corrected in one frame).
    expect(Math.abs((await numberOf()) - TRUE_MM)).toBeLessThan(0.8);
    const text = await answer();
    expect(text).toContain(DEPTH_PAGE_EN['state-uncorrected']);
    expect(text).toContain(WALL_ROOM_EN['place-straddles']); // one click a point: about 3 mm to either side
    await page.getByText(DEPTH_PAGE_EN.nextSecond).waitFor();
    expect(await page.locator('.depth-right svg.pic .broken').count()).toBe(1); // the pin on the ruler
    await page.getByText('Against plan and forecast').waitFor();
    await page.evaluate(AXE);
    const breaches = await page.evaluate(async () => {
      const { axe } = globalThis as unknown as { axe: { run(where: Document, how: object): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> } };
      const found = await axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] });
      return found.violations.map((v) => `${v.id}: ${v.nodes[0]?.html.slice(0, 160)}`);
    });
    expect(breaches).toEqual([]);
  });

  test('repeat clicks are averaged; two views far enough apart are joined, and INSIDE shows only then', async () => {
    await open();
    await openRun(one);
    for (const shake of SHAKES) await clickRound(one, shake);
    expect(await page.locator('[data-row=cuspN] td').first().innerText()).toBe('4');
    expect(await page.locator('[data-row=cuspN]').innerText()).toMatch(/1\.\d px = 0\.[23] mm/);
    expect(await answer()).not.toContain(WALL_ROOM_EN['place-inside']);
    await openRun(two);
    for (const shake of SHAKES) await clickRound(two, shake);
    const text = await answer();
    expect(text).toMatch(/corrected from 2 views, 39° apart; 4 clicks/);
    expect(text).toContain(WALL_ROOM_EN['place-inside']);
    expect(Math.abs((await numberOf()) - TRUE_MM)).toBeLessThan(0.5);
    expect(await page.locator('.depth-right svg.pic .broken').count()).toBe(0);
    await page.getByRole('button', { name: DEPTH_PAGE_EN.keep }).click();
    const [kept] = await told();
    expect(kept!.entry.reading).toMatchObject({ state: 'corrected', by: 'marks', cusp: 'N', edge: 'inflow', clicks: 4, views: [viewAt(4, 3), viewAt(44, 12)] });
    expect(kept!.entry.reading.lowMm).toBeLessThan(TRUE_MM);
    expect(kept!.entry.reading.highMm).toBeGreaterThan(TRUE_MM);
  });

  test('views too close are not joined: it is said, and the reading stays uncorrected', async () => {
    await open();
    await openRun(one);
    await clickRound(one);
    await openRun(near);
    await clickRound(near);
    await page.getByText(DEPTH_PAGE_EN.notJoined).waitFor();
    expect(await answer()).toContain(DEPTH_PAGE_EN['state-uncorrected']);
  });

  test('all of it by keys: crosshair, clicks, back, frames, and keeping; a better reading replaces the kept one', async () => {
    await open();
    await page.locator('[data-run=run-one]').focus();
    await page.keyboard.press('Enter');
    const picture = page.locator('.frame-picture');
    await page.locator('.frame-picture[aria-busy=false] canvas[data-drawn]').waitFor();
    await picture.focus();
    await page.keyboard.press(',');
    await page.getByText('Frame 5 of 6').waitFor();
    await page.keyboard.press('End');
    await page.getByText('Frame 6 of 6').waitFor();
    const at = [255.5, 255.5];
    const goTo = async (to: readonly [number, number]): Promise<void> => {
      for (const [axis, more, less] of [[0, 'ArrowRight', 'ArrowLeft'], [1, 'ArrowDown', 'ArrowUp']] as const) {
        const steps = Math.round(to[axis] - at[axis]!);
        for (let i = 0; i < Math.floor(Math.abs(steps) / 10); i++) await page.keyboard.press(`Shift+${steps > 0 ? more : less}`);
        for (let i = 0; i < Math.abs(steps) % 10; i++) await page.keyboard.press(steps > 0 ? more : less);
        at[axis]! += steps;
      }
      await page.keyboard.press('Enter');
    };
    await goTo([20, 20]);
    await said('N cusp marked, click 1');
    await page.keyboard.press('Backspace');
    await said(DEPTH_PAGE_EN.undone);
    for (const p of [one.at.cuspN, ...one.at.inflow]) await goTo(p);
    await page.locator('.depth-number').waitFor();
    expect(Math.abs((await numberOf()) - TRUE_MM)).toBeLessThan(1); // whole pixels
    await page.keyboard.press('k');
    await said(DEPTH_PAGE_EN.kept);
    await page.keyboard.press('n');
    await page.locator('[data-row=cuspN].current').waitFor();
    await goTo([one.at.cuspN[0], one.at.cuspN[1] + 2]);
    await page.keyboard.press('k');
    await said(DEPTH_PAGE_EN.keptAgain);
    const entries = await told();
    expect(entries.map((e) => [e.entryId, e.corrects])).toEqual([['entry-1', null], ['entry-2', 'entry-1']]);
    await page.keyboard.press('k'); // the same again is not kept twice
    expect(await told()).toHaveLength(2);
    await page.keyboard.press('a');
    await page.locator('.depth-next b', { hasText: 'frame axis 1' }).waitFor();
  });

  test('another frame has its own marks, and coming back finds them', async () => {
    await open();
    await openRun(one);
    await clickRound(one);
    await page.getByRole('button', { name: DEPTH_PAGE_EN.frameBefore }).click();
    await page.getByText('Frame 5 of 6').waitFor();
    expect(await page.locator('[data-point]').count()).toBe(0);
    await page.locator('.depth-answer', { hasText: DEPTH_PAGE_EN.notRead }).waitFor();
    await page.getByRole('button', { name: DEPTH_PAGE_EN.frameAfter }).click();
    await page.locator('.depth-number').waitFor();
  });

  test('a run of another patient is not shown until somebody says why it belongs here', async () => {
    await open({ runs: [], next: { status: 422, code: 'run-identity-differs', text: 'The run and the referral do not name the same patient: name differ.', next: 'Look at the C-arm’s own screen.' } });
    const file = { name: 'run.dcm', mimeType: 'application/dicom', buffer: Buffer.from('run') };
    await page.locator('.load-run input').setInputFiles(file);
    await page.getByText(DEPTH_PAGE_EN.otherPatient).waitFor();
    expect(await page.locator('.frame-picture').count()).toBe(0);
    shown.next = one.run;
    await page.getByLabel(DEPTH_PAGE_EN.because).fill('Wrong label, seen by two');
    await page.getByRole('button', { name: DEPTH_PAGE_EN.joinAll }).click();
    await page.locator('.frame-picture').waitFor();
    expect(shown.reasons).toEqual([null, 'Wrong label, seen by two']);
  });

  test('a file that is no run is refused in words', async () => {
    await open({ runs: [] });
    await page.locator('.load-run input').setInputFiles({ name: 'x.txt', mimeType: 'text/plain', buffer: Buffer.from('x') });
    await page.getByText('Not a run.').waitFor();
    expect(await page.getByLabel(DEPTH_PAGE_EN.because).count()).toBe(0);
  });

  test('a run without angles and scale asks for them; a marked catheter gives the scale', async () => {
    const bare = { about: { ...one.run.about, views: [null], sourceToImageMm: null, sourceToPatientMm: null, pixelMm: null }, grey: one.run.grey };
    await open({ runs: [bare] });
    await openRun(one);
    await clickRound(one);
    await page.locator('.depth-next b', { hasText: DEPTH_PAGE_EN.nextView }).waitFor();
    expect(await page.locator('.depth-number').count()).toBe(0);
    const geometry = page.locator('.geometry');
    const { primaryDeg, secondaryDeg } = viewAt(4, 3);
    await geometry.locator('[name=primaryDeg]').fill(String(Math.abs(primaryDeg)));
    await geometry.locator('select').first().selectOption(primaryDeg < 0 ? 'rao' : 'lao');
    await geometry.locator('[name=secondaryDeg]').fill(String(Math.abs(secondaryDeg)));
    await geometry.locator('select').nth(1).selectOption(secondaryDeg < 0 ? 'cau' : 'cra');
    await page.locator('.depth-next b', { hasText: DEPTH_PAGE_EN.nextScale }).waitFor();
    // The frame itself as the known size: 24 mm between its inflow ends.
    await geometry.locator('[name=knownMm]').fill('24');
    await page.getByRole('button', { name: /known size, edge 1/ }).click();
    for (const p of one.at.inflow) await clickAt(p);
    await page.locator('.depth-number').waitFor();
    expect(Math.abs((await numberOf()) - TRUE_MM)).toBeLessThan(0.9);
  });

  test('a run stored as JPEG is unpacked by the page, and its doubt is said; a broken one is refused in words', async () => {
    const findings = [{ code: 'picture-lossy', text: 'The run is stored with a lossy compression.', next: 'Mark on the original run.' }];
    const packed: DepthCase['runs'] = [{ about: { ...one.run.about, findings }, grey: one.run.grey, jpeg: new Uint8Array() }, { about: { ...two.run.about, findings }, grey: two.run.grey, jpeg: new Uint8Array([0xff, 0xd8, 1, 2]) }];
    await open({ runs: packed });
    const jpeg = await page.evaluate(async () => {
      const canvas = new OffscreenCanvas(512, 512);
      const context = canvas.getContext('2d')!;
      context.fillStyle = 'rgb(200,200,200)';
      context.fillRect(0, 0, 512, 512);
      return [...new Uint8Array(await (await canvas.convertToBlob({ type: 'image/jpeg' })).arrayBuffer())];
    });
    Object.assign(packed[0]!, { jpeg: new Uint8Array(jpeg) });
    await openRun(one);
    await page.getByText('The run is stored with a lossy compression.').waitFor();
    const grey = await page.evaluate(() => document.querySelector<HTMLCanvasElement>('.frame-grey')!.getContext('2d')!.getImageData(100, 100, 1, 1).data[0]!);
    expect(Math.abs(grey - 200)).toBeLessThanOrEqual(3); // JPEG of an even area
    await page.locator('[data-run=run-two]').click();
    await page.getByText(DEPTH_PAGE_EN.unreadable).waitFor();
  });

  test('marks can be typed without a picture; a mark outside the picture is refused', async () => {
    await open({ runs: [] });
    await page.getByRole('button', { name: DEPTH_PAGE_EN.byHand }).click();
    const typed = page.locator('.typed');
    const type = async (column: string, row: string): Promise<void> => {
      await typed.locator('[name=column]').fill(column);
      await typed.locator('[name=row]').fill(row);
      await typed.getByRole('button').click();
    };
    await page.locator('.geometry [name=columns]').fill('512');
    await page.locator('.geometry [name=rows]').fill('512');
    await type('600', '20');
    await typed.locator('.problem').waitFor();
    for (const p of [one.at.cuspN, ...one.at.inflow]) await type(p[0].toFixed(1), p[1].toFixed(1));
    const geometry = page.locator('.geometry');
    const { primaryDeg, secondaryDeg } = viewAt(4, 3);
    await geometry.locator('[name=primaryDeg]').fill(String(Math.abs(primaryDeg)));
    await geometry.locator('select').first().selectOption(primaryDeg < 0 ? 'rao' : 'lao');
    await geometry.locator('[name=secondaryDeg]').fill(String(Math.abs(secondaryDeg)));
    await geometry.locator('select').nth(1).selectOption(secondaryDeg < 0 ? 'cau' : 'cra');
    for (const [name, value] of [['sourceToImageMm', '1100'], ['sourceToPatientMm', '750'], ['pixelMm', '0.25']] as const) await geometry.locator(`[name=${name}]`).fill(value);
    await page.locator('.depth-number').waitFor();
    expect(Math.abs((await numberOf()) - TRUE_MM)).toBeLessThan(0.8);
  });

  test('marks that get older than a depth may be measure nothing, also when nobody taps', async () => {
    await open();
    await openRun(one);
    await clickRound(one);
    await page.locator('.depth-number').waitFor();
    await page.clock.install({ time: Date.now() });
    await page.clock.fastForward(1000 * (frozen.limits.depthGoneS!.value + 5));
    await page.getByText(DEPTH_PAGE_EN.marksOld).waitFor();
    await page.locator('.depth-answer', { hasText: DEPTH_PAGE_EN.notRead }).waitFor();
    expect(await page.getByRole('button', { name: DEPTH_PAGE_EN.keep, exact: true }).count()).toBe(0);
  });

  test('a depth off the room’s own screen is kept with its view, and not without', async () => {
    await open();
    const form = page.locator('.entered-depth');
    await form.locator('[name=depthMm]').fill('3,5');
    await form.getByRole('button').click();
    await form.locator('.problem').first().waitFor();
    expect(await told()).toEqual([]);
    await form.locator('[name=primaryDeg]').fill('10');
    await form.locator('[name=secondaryDeg]').fill('20');
    await form.locator('select').nth(1).selectOption('cau');
    await form.getByRole('button').click();
    const [kept] = await told();
    expect(kept!.entry.reading).toEqual({ depthMm: 3.5, lowMm: 1.5, highMm: 5.5, state: 'uncorrected', by: 'entered', views: [{ primaryDeg: 10, secondaryDeg: -20 }], cusp: 'N', edge: 'inflow', clicks: 1, unsheathedRatio: null });
  });

  test('after the frame has opened, a depth is held against the forecast of its start', async () => {
    const record = (count: number, entry: RoomRecord['entry']): RoomRecord => ({ entryId: `early-${count}`, clientId: 'page-0001', place: 'desk', count, monotonicMs: count, clientAt: `2026-03-02T09:00:0${count}.000Z`, happenedAt: `2026-03-02T09:00:0${count}.000Z`, offset: null, corrects: null, entry });
    const reading: DepthReading = { depthMm: 3, lowMm: 1.5, highMm: 4.5, state: 'uncorrected', by: 'entered', views: [viewAt(0, 0)], cusp: 'N', edge: 'inflow', clicks: 0, unsheathedRatio: null };
    await open({ records: [record(1, { is: 'depth', reading }), record(2, { is: 'fraction', ratio: 0.6 })] });
    await openRun(one);
    await clickRound(one);
    await page.getByText('From the start at 3.0 mm the forecast expected:').waitFor();
    await page.getByText(DEPTH_PAGE_EN['fits-meets']).first().waitFor();
    await page.getByRole('button', { name: DEPTH_PAGE_EN.keep }).click();
    expect((await told())[0]!.entry.reading.unsheathedRatio).toBe(0.6);
  });

  test('a finger’s first tap takes the picture in hand; then the crosshair stands above the finger', async () => {
    await open({}, { viewport: { width: 390, height: 844 }, hasTouch: true });
    await openRun(one);
    await page.locator('.frame-picture').scrollIntoViewIfNeeded();
    const tap = async ([c, r]: readonly [number, number]): Promise<void> => {
      const box = (await page.locator('.frame-picture').boundingBox())!;
      await page.touchscreen.tap(box.x + ((c + 0.5) * box.width) / 512, box.y + ((r + 0.5) * box.height) / 512 + 56);
    };
    await tap(one.at.cuspN);
    expect(await page.locator('[data-point]').count()).toBe(0);
    await tap(one.at.cuspN);
    await page.locator('[data-point=cuspN]').waitFor();
    expect(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth)).toBe(true);
  });

  test('R, L and N marked in two views lay the plan on the table, with the error', async () => {
    await open();
    const nadirs = (run: DrawnTruth) => run.nadirs;
    for (const run of [one, two]) {
      await openRun(run);
      await clickRound(run);
      for (const key of ['r', 'l'] as const) {
        await page.locator('.frame-picture').focus();
        await page.keyboard.press(key);
        await clickAt(nadirs(run)[key === 'r' ? 'R' : 'L']);
      }
    }
    await page.getByText(DEPTH_PAGE_EN.tableTitle).waitFor();
    expect(await page.locator('.table-line').innerText()).toMatch(/marks 0\.\d mm from where the plan puts them; nadirs within [\d.]+ mm/);
  });
});
