/** A depth from a run in the real room page on a real desk: handed in, settled, marked, kept, in the log and on the line above. */
import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { chromium, type Browser, type Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { CaseEvent } from '../../src/core/case/case-events.ts';
import type { FrozenDocument } from '../../src/core/room/frozen-types.ts';
import { DEPTH_PAGE_EN } from '../../src/core/text/depth-page-en.ts';
import { WALL_ROOM_EN } from '../../src/core/text/wall-room-en.ts';
import { drawTruth, type DrawnTruth } from '../support/depth-truth.ts';
import { BROWSER_ARGS, CHROMIUM, findBreaches, watchPage, type Watch } from '../support/drive-desk.mjs';
import { makeReadyCase } from '../support/frozen-fixture.ts';
import { makeTestDesk, must, PASSWORD, type TestDesk } from '../support/make-desk.ts';
import { makeRunFile } from '../support/make-run-file.ts';

const PAGES = process.env['TEST_PAGES'] ?? fileURLToPath(new URL('../../dist/web', import.meta.url));
const LOOK = process.env['LOOK'];
const hasBrowser = existsSync(CHROMIUM);
const isBuilt = existsSync(`${PAGES}/offline-worker.js`);
const isRelease = process.env['CI'] !== undefined && process.env['CI'] !== '';
test('the browser and the build are there when a depth must be read in the room', () => {
  if (isRelease) expect([hasBrowser, isBuilt]).toEqual([true, true]);
});

describe.skipIf(!hasBrowser || !isBuilt)('a depth in the room', { timeout: 120_000 }, () => {
  const caseId = 'depth-case';
  const watch: Watch = { asked: [], problems: [] };
  let [browser, page, desk] = [null, null, null] as unknown as [Browser, Page, TestDesk];
  let truths: readonly DrawnTruth[] = [];
  const listEvents = async (): Promise<readonly CaseEvent[]> => must(await desk.opened.store.listEvents(caseId, 0)) as readonly CaseEvent[];
  const makeFile = ({ run }: DrawnTruth): Buffer => {
    const { about, grey } = run;
    const frames = Array.from({ length: about.frames }, (_, i) => grey(i + 1));
    const [view] = about.views;
    return Buffer.from(makeRunFile({
      rows: about.rows, columns: about.columns, frames: about.frames, grey: (f, r, c) => frames[f]![r * about.columns + c]!,
      change: [[0x00181510, 'DS', String(view!.primaryDeg)], [0x00181511, 'DS', String(view!.secondaryDeg)], [0x00181164, 'DS', `${about.pixelMm}\\${about.pixelMm}`]],
    }));
  };
  beforeAll(async () => {
    desk = await makeTestDesk({ pagesFolder: PAGES });
    desk.server.door.firstStart.token = null;
    const visitor = await desk.enter('operator');
    must(await desk.opened.store.append({ caseId, expectSeq: 0, by: visitor.personId, events: [{ kind: 'case.opened', data: { label: 'depth 1', procedureOn: null, training: true } }] }));
    const ready = await makeReadyCase(desk.opened.store, caseId, visitor.personId);
    const answer = await visitor.ask(`/api/cases/${caseId}/freeze`, { method: 'POST', body: { expectSeq: ready.seq } });
    if (answer.status !== 200) throw new Error(answer.text);
    const { frozenSha256 } = answer.json<{ frozenSha256: string }>();
    const frozen = (await visitor.ask(`/api/cases/${caseId}/frozen/${frozenSha256}`)).json<FrozenDocument>();
    const plane = frozen.plan.root!.basalPlane;
    truths = ([[-15, -23, 'run-one'], [25, -14, 'run-two']] as const).map(([primaryDeg, secondaryDeg, runId]) => drawTruth({ plane, view: { primaryDeg, secondaryDeg }, depthMm: 2.8, radiusMm: 12, runId, frames: 2 }));
    browser = await chromium.launch({ executablePath: CHROMIUM, args: [...BROWSER_ARGS] });
    page = await browser.newPage({ viewport: { width: 1280, height: 1400 }, reducedMotion: 'reduce' });
    page.setDefaultTimeout(60_000);
    watchPage(page, watch);
    await page.goto(`${desk.origin}/case/${caseId}/room`);
    await page.fill('[name=login]', visitor.login);
    await page.fill('[name=password]', PASSWORD);
    await page.click('button[type=submit]');
    await page.locator('.depth-panel .load-run').waitFor();
  }, 120_000);
  afterAll(async () => {
    if (LOOK) await page?.screenshot({ path: `${LOOK}/depth-room.png`, fullPage: true }).catch(() => undefined);
    await browser?.close();
    await desk?.close();
  });

  test('a run that does not name the entered patient joins with a reason; two views are marked and the depth is kept', async () => {
    for (const [i, truth] of truths.entries()) {
      await page.locator('.load-run input').setInputFiles({ name: `run-${i}.dcm`, mimeType: 'application/dicom', buffer: makeFile(truth) });
      await page.getByLabel(DEPTH_PAGE_EN.because).fill('Looked at by two at the C-arm'); // the test's case names no patient at all
      await page.getByRole('button', { name: DEPTH_PAGE_EN.joinAll }).click();
      await page.getByRole('button', { name: new RegExp(`^View ${i + 1}:`), pressed: true }).waitFor();
      await page.locator('.frame-picture[aria-busy=false] canvas[data-drawn]').waitFor();
      for (let round = 0; round < 4; round++) {
        for (const [c, r] of [truth.at.cuspN, ...truth.at.inflow]) {
          const picture = page.locator('.frame-picture');
          await picture.scrollIntoViewIfNeeded();
          const box = (await picture.boundingBox())!;
          await page.mouse.click(box.x + ((c + 0.5) * box.width) / 512, box.y + ((r + 0.5) * box.height) / 512);
        }
      }
      if (i === 0) expect(await page.locator('.depth-answer').innerText()).toContain(DEPTH_PAGE_EN['state-uncorrected']);
    }
    expect(await page.locator('.depth-answer').innerText()).toContain(WALL_ROOM_EN['place-inside']);
    await page.locator('.depth-panel').getByRole('button', { name: DEPTH_PAGE_EN.keep }).click();
    await page.locator('.depth-next .said', { hasText: DEPTH_PAGE_EN.kept }).waitFor();
    await expect.poll(async () => (await listEvents()).filter((e) => e.kind === 'room.logged').length).toBe(1);
    const events = await listEvents();
    expect(events.filter((e) => e.kind === 'run.joined').map((e) => (e as CaseEvent<'run.joined'>).data.identity)).toEqual([0, 1].map(() => expect.objectContaining({ verdict: 'not comparable', acceptedBecause: 'Looked at by two at the C-arm' })));
    const { entry } = (events.find((e) => e.kind === 'room.logged') as CaseEvent<'room.logged'>).data;
    expect(entry).toMatchObject({ is: 'depth', reading: { state: 'corrected', clicks: 4, by: 'marks', cusp: 'N', edge: 'inflow' } });
    if (entry?.is !== 'depth') throw new Error('no depth');
    expect(Math.abs(entry.reading.depthMm - 2.8)).toBeLessThan(0.5);
    await page.locator('.depth-line', { hasText: WALL_ROOM_EN['place-inside'] }).waitFor(); // the line of the room says the same
    expect(await findBreaches(page)).toEqual([]);
    await page.locator('.depth-panel').screenshot(LOOK ? { path: `${LOOK}/depth-panel.png` } : {});
    // Once the log says that the frame moved, the marks of before measure nothing.
    await page.getByRole('button', { name: /^Moved UP/ }).click();
    await page.getByText(DEPTH_PAGE_EN.frameMoved).waitFor();
    await page.locator('.depth-answer', { hasText: DEPTH_PAGE_EN.notRead }).waitFor();
    await page.locator('.depth-panel .notice').getByRole('button', { name: DEPTH_PAGE_EN.newReading }).click();
    await page.getByText(DEPTH_PAGE_EN.frameMoved).waitFor({ state: 'hidden' });
    expect(await page.locator('[data-point]').count()).toBe(0);
    // The two files that named nobody were refused first: that is an answer, not a defect.
    expect(watch.problems.filter((p) => !/422/.test(p))).toEqual([]);
  });
});
