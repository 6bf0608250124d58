/**
 * In the room with a real browser: a desk, a second tab, a phone and a cable that is cut. Every tap must stand on the page at
 * once, survive a reload without a server, and be in the log once.
 */
import { cpSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium, type Browser, type BrowserContext, type Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { CaseEvent } from '../../src/core/case/case-events.ts';
import { DESK_EN } from '../../src/core/text/desk-en.ts';
import { ROOM_EN } from '../../src/core/text/room-en.ts';
import { layCable, type Cable } from '../support/cut-cable.ts';
import { BROWSER_ARGS, CHROMIUM, findBreaches, watchPage, type Watch } from '../support/drive-desk.mjs';
import { makeReadyCase } from '../support/frozen-fixture.ts';
import { makeTestDesk, must, PASSWORD, type TestDesk, type Visitor } from '../support/make-desk.ts';

const PAGES = process.env['TEST_PAGES'] ?? fileURLToPath(new URL('../../dist/web', import.meta.url));
const LOOK = process.env['LOOK'];
const hasBrowser = existsSync(CHROMIUM);
const isBuilt = existsSync(`${PAGES}/offline-worker.js`);
const isRelease = process.env['CI'] !== undefined && process.env['CI'] !== '';
test('the browser and the build are there when the room must be walked', () => {
  if (isRelease) expect([hasBrowser, isBuilt]).toEqual([true, true]);
});

describe.skipIf(!hasBrowser || !isBuilt)('a case in the room', { timeout: 120_000 }, () => {
  const caseId = 'room-case';
  const watch: Watch = { asked: [], problems: [] };
  let [browser, context, page, desk, cable, visitor] = [null, null, null, null, null, null] as unknown as [Browser, BrowserContext, Page, TestDesk, Cable, Visitor & { readonly login: string; readonly personId: string }];
  const pages = mkdtempSync(join(tmpdir(), 'trinadir-pages-')); // a copy: one test puts newer pages there
  let origin = '';
  const button = (name: string | RegExp, where: Page = page) => where.getByRole('button', { name });
  const readLog = async (): Promise<readonly CaseEvent<'room.logged'>[]> => (must(await desk.opened.store.listEvents(caseId, 0)) as readonly CaseEvent[]).filter((e): e is CaseEvent<'room.logged'> => e.kind === 'room.logged');
  const says = async (): Promise<string[]> => (await readLog()).map(({ data }) => data.entry?.is ?? 'taken back');
  const untilSent = (where: Page = page) => where.getByText(ROOM_EN.waitingNone).waitFor();
  const shoot = async (name: string, where: Page = page, isWhole = true): Promise<void> => {
    if (LOOK) await where.screenshot({ path: `${LOOK}/${name}.png`, fullPage: isWhole });
  };

  beforeAll(async () => {
    cpSync(PAGES, pages, { recursive: true });
    const laid = await layCable();
    cable = laid;
    origin = `http://127.0.0.1:${laid.port}`;
    desk = await makeTestDesk({ pagesFolder: pages, origin, host: '127.0.0.1' });
    laid.plug(desk.server.port);
    desk.server.door.firstStart.token = null;
    visitor = await desk.enter('operator');
    must(await desk.opened.store.append({ caseId, expectSeq: 0, by: visitor.personId, events: [{ kind: 'case.opened', data: { label: 'room 1', procedureOn: '2026-03-02', training: true } }] }));
    const ready = await makeReadyCase(desk.opened.store, caseId, visitor.personId);
    const frozen = await visitor.ask(`/api/cases/${caseId}/freeze`, { method: 'POST', body: { expectSeq: ready.seq } });
    if (frozen.status !== 200) throw new Error(frozen.text);
    browser = await chromium.launch({ executablePath: CHROMIUM, args: [...BROWSER_ARGS] });
    context = await browser.newContext({ viewport: { width: 1280, height: 900 }, reducedMotion: 'reduce' });
    page = await context.newPage();
    page.setDefaultTimeout(15_000);
    watchPage(page, watch);
  }, 100_000);
  afterAll(async () => {
    if (LOOK) console.log(watch.problems.join('\n'));
    await shoot('last').catch(() => undefined);
    await browser?.close();
    await desk?.close();
    await cable?.stop();
    rmSync(pages, { recursive: true, force: true });
  });

  test('after the log-in the room shows the frozen plan and is ready for a lost server', async () => {
    await page.goto(`${origin}/case/${caseId}/room`);
    await page.getByRole('heading', { name: DESK_EN.logInTitle }).waitFor();
    await page.fill('[name=login]', visitor.login);
    await page.fill('[name=password]', PASSWORD);
    await page.click('button[type=submit]');
    await page.locator('.plan-code').waitFor();
    expect(await page.locator('.plan-code').innerText()).toMatch(/^PLAN [0-9a-f]{4} [0-9a-f]{4}$/);
    await page.waitForFunction(() => navigator.serviceWorker.controller !== null);
    await shoot('desk-begin');
    expect(await findBreaches(page)).toEqual([]);
  });

  test('one tap is one entry, at once on the page and soon in the log', async () => {
    await button(/^Next: Identity/).click();
    await button(/^Pacing ON/).click();
    expect(await page.locator('.undo-last').innerText()).toContain('Pacing on');
    await untilSent();
    await expect.poll(says).toEqual(['phase', 'pacing']);
    const [first] = await readLog();
    expect(first).toMatchObject({ by: visitor.personId, data: { place: 'desk', count: 1 } });
    expect(first!.data.offset).not.toBeNull();
  });

  test('undo takes back the last tap, and a correction replaces what it corrects', async () => {
    await button(ROOM_EN.undo).first().click();
    await expect.poll(says).toEqual(['phase', 'pacing', 'taken back']);
    await page.locator('.log-say', { hasText: 'Step: Identity' }).click();
    await button(ROOM_EN.correct).click();
    await page.locator('.phases').getByRole('button', { name: 'Access' }).click();
    await expect.poll(says).toEqual(['phase', 'pacing', 'taken back', 'phase']);
    const log = await readLog();
    expect(log[3]!.data.corrects).toBe(log[0]!.data.entryId);
    await expect.poll(() => page.locator('.phases .is-on').innerText()).toContain('Access');
    await button(ROOM_EN.undo).first().click(); // what stood before the correction stands again
    await expect.poll(() => page.locator('.phases .is-on').innerText()).toContain('Identity');
  });

  test('keys log taps while nobody types', async () => {
    await page.locator('h2').first().click();
    await page.keyboard.press('p');
    await expect.poll(async () => (await says()).at(-1)).toBe('pacing');
    const before = await says();
    const note = page.getByLabel(ROOM_EN.fewWords);
    await note.fill('');
    await note.pressSequentially('pp');
    await page.keyboard.press('Escape');
    await note.fill('');
    await button(/^\+ 5 mL/).click(); // taps keep their order: what the keys had logged would stand before it
    await expect.poll(says).toEqual([...before, 'contrast']);
  });

  for (const how of ['gone', 'silent'] as const) {
    test(`with the server ${how} taps go on, also after a reload, and come once`, async () => {
      const before = await says();
      cable.cut(how);
      await button(/^Moved UP/).click();
      await button(/^\+ 20 mL/).click();
      await page.locator('.room-line', { hasText: ROOM_EN.offlineNever }).waitFor({ timeout: 30_000 });
      expect(await page.locator('.room-line').innerText()).toContain('2 waiting');
      await page.reload();
      await page.locator('.plan-code').waitFor();
      await button(/^Moved DOWN/).click();
      await expect.poll(() => page.locator('.room-line').innerText()).toContain('3 waiting');
      await shoot(`desk-${how}`);
      expect((await says()).length).toBe(before.length);
      cable.mend();
      await page.locator('.room-line', { hasText: ROOM_EN.waitingNone }).waitFor({ timeout: 40_000 });
      await expect.poll(says).toEqual([...before, 'moved', 'contrast', 'moved']);
      const log = await readLog();
      expect(new Set(log.map((e) => e.data.entryId)).size).toBe(log.length);
    });
  }

  test('two tabs of one browser see each other without a server, and nothing comes twice', async () => {
    const second = await context.newPage();
    second.setDefaultTimeout(15_000);
    watchPage(second, watch);
    await second.goto(`${origin}/case/${caseId}/room`);
    await second.locator('.plan-code').waitFor();
    const before = await says();
    cable.cut('gone');
    await button(/^Taken back, whole/).click();
    await second.locator('.log-line', { hasText: 'Taken back, whole' }).first().waitFor();
    await button(/^Moved UP/, second).click();
    await page.locator('.log-line', { hasText: 'Moved up' }).first().waitFor();
    await second.close(); // what it logged waits in the browser, and the other tab sends it
    cable.mend();
    await page.locator('.room-line', { hasText: ROOM_EN.waitingNone }).waitFor({ timeout: 40_000 });
    await expect.poll(async () => (await says()).slice(before.length).sort()).toEqual(['moved', 'recaptured']);
  });

  test('nothing of the API is in the caches of the browser', async () => {
    const kept = await page.evaluate(async () => (await Promise.all((await caches.keys()).map(async (name) => (await (await caches.open(name)).keys()).map((r) => new URL(r.url).pathname)))).flat());
    expect(kept).toContain('/index.html');
    expect(kept.filter((path) => !/^\/(index\.html|assets\/[^/]+)$/.test(path))).toEqual([]);
  });

  test('a phone is paired by the code and logs for its case alone', async () => {
    await button(ROOM_EN.pairRemote).click();
    const code = (await page.locator('.pair-code .code').innerText()).trim();
    await shoot('desk-pairing');
    const phoneContext = await browser.newContext({ viewport: { width: 390, height: 844 }, isMobile: true, hasTouch: true, reducedMotion: 'reduce' });
    const phone = await phoneContext.newPage();
    phone.setDefaultTimeout(15_000);
    watchPage(phone, watch);
    await phone.goto(`${origin}/remote`);
    await phone.getByRole('heading', { name: ROOM_EN.pairEntryTitle }).waitFor();
    await shoot('phone-pairing', phone);
    expect(await findBreaches(phone)).toEqual([]);
    await phone.getByLabel(ROOM_EN.pairCode).fill(code);
    await button(ROOM_EN.pairEnter, phone).click();
    await phone.locator('.plan-code').waitFor();
    expect(new URL(phone.url()).pathname).toBe(`/remote/${caseId}`);
    const before = await says();
    await phone.locator('.phases').getByRole('button', { name: 'Position' }).tap();
    await phone.locator('.hold').getByRole('button', { name: 'Go on' }).tap();
    await page.locator('.log-line', { hasText: 'Hold A: Go on' }).waitFor();
    await expect.poll(async () => (await readLog()).slice(before.length).map((e) => `${e.data.place} ${e.data.entry?.is}`)).toEqual(['remote phase', 'remote hold']);
    for (const tab of ['tabSteps', 'tabEvents', 'tabNumbers', 'tabWall', 'tabRescue', 'tabLog'] as const) {
      await phone.locator('.remote-tabs').getByRole('button', { name: new RegExp(`^${ROOM_EN[tab]}`) }).tap();
      await shoot(`phone-${tab}`, phone);
      expect(await findBreaches(phone)).toEqual([]);
      const small = await phone.locator('.remote button:visible, .remote summary:visible, .remote input:visible:not([type=radio]):not([type=checkbox])').evaluateAll((all) => all.flatMap((each) => (each.getBoundingClientRect().height < 64 ? [`${each.textContent} ${each.getBoundingClientRect().height}`] : [])));
      expect(small).toEqual([]);
    }
    await phone.goto(`${origin}/case/${caseId}/root`); // a phone sees its own page and no other
    await phone.locator('.remote-head').waitFor();
    await phoneContext.close();
  });

  test.skipIf(!LOOK)('pictures for the eye: desk, dark, phone width, greys', async () => {
    const client = await page.context().newCDPSession(page);
    await page.locator('.phases').getByRole('button', { name: 'Decision' }).click();
    await page.locator('.hold').waitFor();
    for (const [name, theme, width, type] of [['light', 'desk', 1280, 'none'], ['dark', 'room', 1280, 'none'], ['narrow', 'desk', 390, 'none'], ['greys', 'desk', 1280, 'achromatopsia'], ['deuteranopia', 'room', 1280, 'deuteranopia']] as const) {
      await page.setViewportSize({ width, height: 900 });
      await page.evaluate((light) => (document.documentElement.dataset['theme'] = light), theme);
      await client.send('Emulation.setEmulatedVisionDeficiency', { type });
      await page.waitForTimeout(400);
      await page.evaluate(() => scrollTo(0, 0));
      await shoot(`looks-${name}`, page, false);
      await page.locator(width < 400 ? '.hold' : '.room-taps').evaluate((each) => each.scrollIntoView({ block: 'start' }));
      await shoot(`looks-${name}-taps`, page, false);
    }
    await client.send('Emulation.setEmulatedVisionDeficiency', { type: 'none' });
    await page.setViewportSize({ width: 1280, height: 900 });
  });

  test('targets of the desk are 48 px or more', async () => {
    const small = await page.locator('.room .tap:visible, .room .log-say:visible').evaluateAll((all) => all.flatMap((each) => (each.getBoundingClientRect().height < 48 ? [`${each.textContent} ${each.getBoundingClientRect().height}`] : [])));
    expect(small).toEqual([]);
  });

  test('a session that the server ended blocks no tap: it waits, and is sent after the log-in', async () => {
    const before = await says();
    must(await desk.opened.store.endSessionsOf(visitor.personId));
    await button(/^\+ 10 mL/).click();
    await page.getByText(ROOM_EN.sessionOver).waitFor();
    await button(/^\+ 5 mL/).click();
    await expect.poll(() => page.locator('.room-line').innerText()).toContain('2 waiting');
    await shoot('desk-session-over', page, false);
    await button(ROOM_EN.logInAgain).click();
    await page.fill('[name=login]', visitor.login);
    await page.fill('[name=password]', PASSWORD);
    await page.click('button[type=submit]');
    await page.locator('.room-line', { hasText: ROOM_EN.waitingNone }).waitFor();
    expect((await says()).slice(before.length)).toEqual(['contrast', 'contrast']);
  });

  test('pages that the server has newer are said to be newer, also by a page that came from the browser’s own store', async () => {
    const renamed = (text: string): string => text.replaceAll(mainFile, newFile);
    const mainFile = /assets\/(index-[^.]+)\.js/.exec(readFileSync(join(pages, 'index.html'), 'utf8'))![1]!;
    const newFile = 'index-newer000';
    cpSync(join(pages, 'assets', `${mainFile}.js`), join(pages, 'assets', `${newFile}.js`));
    for (const file of ['index.html', 'offline-worker.js']) writeFileSync(join(pages, file), renamed(readFileSync(join(pages, file), 'utf8')));
    cable.cut('gone');
    await page.locator('.room-line', { hasText: 'NO SERVER' }).waitFor();
    cable.mend();
    await page.getByText(ROOM_EN.newerPages).waitFor({ timeout: 40_000 });
    cable.cut('gone');
    await page.reload();
    await page.getByText(ROOM_EN.newerPages).waitFor({ timeout: 40_000 }); // the old page again, and it says so
    cable.mend();
    await page.locator('.room-line', { hasText: ROOM_EN.waitingNone }).waitFor({ timeout: 40_000 });
    await page.waitForTimeout(500);
    await button(ROOM_EN.loadNewer).click();
    await page.waitForFunction((name) => document.querySelector('script[type=module]')?.getAttribute('src')?.includes(name), newFile, { timeout: 40_000 });
    await page.locator('.plan-code').waitFor({ timeout: 40_000 });
    await page.waitForTimeout(1000);
    expect(await page.getByText(ROOM_EN.newerPages).count()).toBe(0);
  });

  test('log-out warns of what the server has not, and clears what the room kept', async () => {
    cable.cut('gone');
    await button(/^Pacing OFF/).click();
    await page.locator('.room-line', { hasText: '1 waiting' }).waitFor();
    await button(DESK_EN.logOut).click();
    await page.getByText('1 taps of the room').waitFor();
    await button(ROOM_EN.logOutStay).click();
    cable.mend();
    await page.locator('.room-line', { hasText: ROOM_EN.waitingNone }).waitFor({ timeout: 40_000 });
    await button(DESK_EN.logOut).click();
    await page.getByRole('heading', { name: DESK_EN.logInTitle }).waitFor();
    const kept = await page.evaluate(() => new Promise<number[]>((resolve, reject) => {
      const open = indexedDB.open('trinadir-room');
      open.onerror = reject;
      open.onsuccess = () => {
        const names = [...open.result.objectStoreNames];
        const change = open.result.transaction(names);
        void Promise.all(names.map((name) => new Promise<number>((done) => { const count = change.objectStore(name).count(); count.onsuccess = () => done(count.result); }))).then(resolve);
      };
    }));
    expect(kept).toEqual([0, 0, 0, 0, 0]); // all five stores are there, and empty
  });

  test('the pages had no defect', () => {
    expect(desk.defects).toEqual([]);
    expect(watch.problems.filter((p) => !/ERR_|status of 401|Failed to load resource|service worker navigation preload/i.test(p))).toEqual([]);
  });
});
