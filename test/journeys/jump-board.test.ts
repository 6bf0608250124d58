/**
 * The frame moves: cause board, rescue card and recapture in a real browser. What a person closes, ticks and says stands on
 * the page and in the log.
 */
import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { chromium, type Browser, type Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { CaseEvent } from '../../src/core/case/case-events.ts';
import type { RoomEntry, RoomRecord } from '../../src/core/room/room-types.ts';
import { BOARD_EN } from '../../src/core/text/board-en.ts';
import { BROWSER_ARGS, CHROMIUM, findBreaches, watchPage, type Watch } from '../support/drive-desk.mjs';
import { makeReadyCase } from '../support/frozen-fixture.ts';
import { makeTestDesk, must, PASSWORD, type TestDesk, type Visitor } from '../support/make-desk.ts';
import { depthEntry } from '../support/room-log.ts';

const PAGES = process.env['TEST_PAGES'] ?? fileURLToPath(new URL('../../dist/web', import.meta.url));
const LOOK = process.env['LOOK'];
const canWalk = existsSync(CHROMIUM) && existsSync(`${PAGES}/index.html`);
const isRelease = process.env['CI'] !== undefined && process.env['CI'] !== '';
test('the browser and the build are there when a frame must move', () => {
  if (isRelease) expect(canWalk).toBe(true);
});

describe.skipIf(!canWalk)('a frame that moved', { timeout: 120_000 }, () => {
  const caseId = 'jump-case';
  const watch: Watch = { asked: [], problems: [] };
  let [browser, page, desk, visitor] = [null, null, null, null] as unknown as [Browser, Page, TestDesk, Visitor & { readonly login: string; readonly personId: string }];
  let count = 0;
  /** Taps of a second page, as the server hears them. */
  const say = async (...entries: readonly RoomEntry[]): Promise<void> => {
    const records = entries.map((entry): RoomRecord => {
      count += 1;
      const at = new Date().toISOString();
      return { entryId: `entry-${count}`, clientId: 'other-page', place: 'remote', count, monotonicMs: count, clientAt: at, happenedAt: at, offset: null, corrects: null, entry };
    });
    for (const record of records) expect((await visitor.ask(`/api/cases/${caseId}/room`, { method: 'POST', body: { records: [{ ...record, happenedAt: new Date().toISOString() }] } })).status).toBe(200);
  };
  const readEntries = async (is: RoomEntry['is']): Promise<readonly RoomEntry[]> =>
    (must(await desk.opened.store.listEvents(caseId, 0)) as readonly CaseEvent[]).filter((e): e is CaseEvent<'room.logged'> => e.kind === 'room.logged').flatMap(({ data }) => (data.entry?.is === is ? [data.entry] : []));
  const board = () => page.locator('.jump-board');

  beforeAll(async () => {
    desk = await makeTestDesk({ pagesFolder: PAGES });
    desk.server.door.firstStart.token = null;
    visitor = await desk.enter('operator');
    must(await desk.opened.store.append({ caseId, expectSeq: 0, by: visitor.personId, events: [{ kind: 'case.opened', data: { label: 'jump 1', procedureOn: '2026-03-02', training: true } }] }));
    const ready = await makeReadyCase(desk.opened.store, caseId, visitor.personId);
    const frozen = await visitor.ask(`/api/cases/${caseId}/freeze`, { method: 'POST', body: { expectSeq: ready.seq } });
    if (frozen.status !== 200) throw new Error(frozen.text);
    browser = await chromium.launch({ executablePath: CHROMIUM, args: [...BROWSER_ARGS] });
    page = await browser.newPage({ viewport: { width: 1280, height: 900 }, reducedMotion: 'reduce' });
    page.setDefaultTimeout(20_000);
    watchPage(page, watch);
    await page.goto(`http://127.0.0.1:${desk.server.port}/case/${caseId}/room`);
    await page.fill('[name=login]', visitor.login);
    await page.fill('[name=password]', PASSWORD);
    await page.click('button[type=submit]');
    await page.locator('.recapture-line .big-answer').waitFor();
  }, 100_000);
  afterAll(async () => {
    await browser?.close();
    await desk?.close();
  });

  test('before anything is read: nothing moved, and whether it can be taken back cannot be said', async () => {
    expect(await board().innerText()).toContain(BOARD_EN.nothingMoved);
    expect(await page.locator('.recapture-line .big-answer').innerText()).toBe(BOARD_EN['recapture-cannot say']);
  });

  test('another page says that it moved: all seven causes stand there in their order, with no percentage', async () => {
    await say(depthEntry(1, 0.6), { is: 'fraction', ratio: 0.6 }, { is: 'moved', direction: 'up', mm: 4 });
    await board().locator('.causes tbody tr').first().waitFor();
    const names = await board().locator('.causes tbody th').allInnerTexts();
    expect(names.map((n) => n.split('\n')[0])).toEqual(['start-height', 'septal-bulge', 'taper', 'wire-bias', 'no-pacing', 'calcium', 'undersized'].map((c) => BOARD_EN[`cause-${c}` as keyof typeof BOARD_EN]));
    expect(await board().innerText()).not.toMatch(/%|\{/);
    expect(await page.locator('.recapture-line .big-answer').innerText()).toBe(BOARD_EN['recapture-open']);
    if (LOOK) await page.screenshot({ path: `${LOOK}/jump-board.png`, fullPage: true });
    expect((await findBreaches(page)).filter((b) => /jump-board|rescue|recapture|cause/.test(b))).toEqual([]);
  });

  test('it is closed only with a cause or none, by whom and why; and a new movement opens it again', async () => {
    const close = board().getByRole('button', { name: BOARD_EN.close });
    await close.click();
    expect(await board().getByRole('alert').innerText()).toContain(BOARD_EN.closeNeeds);
    expect(await readEntries('causes')).toEqual([]);
    await board().getByLabel(BOARD_EN['cause-no-pacing']).check();
    await board().getByLabel(BOARD_EN['cause-start-height']).check();
    await board().getByLabel(BOARD_EN.closeBecause).fill('Pacing came late.');
    await board().getByLabel(BOARD_EN.closeWho).fill('first operator');
    await close.click();
    await board().locator('.board-closed').waitFor();
    await expect.poll(() => readEntries('causes')).toEqual([{ is: 'causes', closedAs: ['start-height', 'no-pacing'], because: 'Pacing came late.', who: 'first operator' }]);
    await say({ is: 'moved', direction: 'up', mm: 6 });
    await close.waitFor();
    await board().getByLabel(BOARD_EN.closeNone).check();
    await board().getByLabel(BOARD_EN.closeBecause).fill('The table moved.');
    await board().getByLabel(BOARD_EN.closeWho).fill('first operator');
    await close.click();
    await expect.poll(async () => (await readEntries('causes')).at(-1)).toMatchObject({ closedAs: [] });
  });

  test('two recaptures close the next one, and the valve is to be looked at', async () => {
    await say({ is: 'recaptured', isWhole: true }, depthEntry(3, 0.6), { is: 'fraction', ratio: 0.4 }, { is: 'recaptured', isWhole: true });
    await expect.poll(() => page.locator('.recapture-line').innerText()).toContain(BOARD_EN['recapture-closed']);
    expect(await page.locator('.recapture-line').innerText()).toContain(BOARD_EN['before-inspect']);
  });

  test('a rescue card opens with one tap, keeps its ticks with their time, and closes', async () => {
    const panel = page.locator('.rescue-panel');
    expect(await panel.innerText()).toContain('common practice, adapt');
    await panel.getByRole('button', { name: 'Tamponade' }).click();
    const card = panel.locator('.rescue-card');
    await card.getByLabel('Say it aloud: tamponade').check();
    await expect.poll(() => card.innerText()).toMatch(/1 of 10 lines done/);
    await expect.poll(() => readEntries('rescue')).toEqual([{ is: 'rescue', card: 'tamponade', did: 'opened', line: null }, { is: 'rescue', card: 'tamponade', did: 'ticked', line: 0 }]);
    await card.getByRole('button', { name: BOARD_EN.closeCard }).click();
    await expect.poll(() => card.count()).toBe(0);
  });

  test('the second valve and the ways out stand there with the team’s own names; a box that is gone is said so', async () => {
    const panel = page.locator('.rescue-panel');
    expect(await panel.locator('.bail-out').innerText()).toContain('Colleague Five');
    await panel.getByRole('button', { name: `27 ${BOARD_EN.sayReady}` }).click();
    await panel.getByRole('button', { name: `27 ${BOARD_EN.sayNotReady}` }).click();
    await expect.poll(() => panel.locator('.boxes').innerText()).toContain(BOARD_EN['box-not to hand']);
    await expect.poll(() => readEntries('kit')).toEqual([{ is: 'kit', item: 'spare', isReady: true }, { is: 'kit', item: 'spare', isReady: false }]);
    expect(watch.problems).toEqual([]);
  });
});
