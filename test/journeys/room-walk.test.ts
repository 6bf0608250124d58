/**
 * One procedure with the real program and three pages at once: the desk, a wall of 1920 x 1080 and a phone, both paired by
 * code. Huddle, freeze, start, a jump, its causes, recapture, a second start, release, the wait; the network of the phone
 * and then of the wall is cut on the way. All pages say the same, no tap is lost or doubled, and the chain is whole.
 */
import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium, type Browser, type BrowserContext, type Locator, type Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { NewCaseEvent } from '../../src/core/case/case-events.ts';
import type { RoomPhase } from '../../src/core/room/room-types.ts';
import { BOARD_EN } from '../../src/core/text/board-en.ts';
import { formatText } from '../../src/core/text/catalogue.ts';
import { DEPTH_PAGE_EN } from '../../src/core/text/depth-page-en.ts';
import { DRY_RUN_EN } from '../../src/core/text/dry-run-en.ts';
import { FREEZE_EN } from '../../src/core/text/freeze-en.ts';
import { HUDDLE_PAGE_EN } from '../../src/core/text/huddle-page-en.ts';
import { ROOM_EN } from '../../src/core/text/room-en.ts';
import { WALL_ROOM_EN } from '../../src/core/text/wall-room-en.ts';
import { openStore } from '../../src/host/storage/open-store.ts';
import { BROWSER_ARGS, CHROMIUM, FIRST, makeFirstAccount, PROGRAM, startDesk, watchPage, type Desk, type Watch } from '../support/drive-desk.mjs';
import { HUDDLE_ENTRIES, makeStoredPlan } from '../support/frozen-fixture.ts';
import { must } from '../support/make-desk.ts';
import { putEmptyDatabase } from '../support/pglite-template.ts';

const hasBrowser = existsSync(CHROMIUM);
const isBuilt = existsSync(new URL('../../dist/host/cli/main.js', import.meta.url)) && existsSync(new URL('../../dist/web/offline-worker.js', import.meta.url));
const isRelease = process.env['CI'] !== undefined && process.env['CI'] !== '';
/** Where pictures for the eye go; none are taken without it. */
const LOOK = process.env['LOOK'];
test('the browser and the build are there when the room must be walked', () => {
  if (isRelease) expect([hasBrowser, isBuilt]).toEqual([true, true]);
});

/** 24 inches: the smallest screen on which the wall leaves nothing out. */
const MM_PER_PX = 531.5 / 1920;
const CASE = 'room-walk';
const WAIT_MS = 30_000;

describe.skipIf(!hasBrowser || !isBuilt)('a procedure on desk, wall and phone', { timeout: 240_000 }, () => {
  const top = mkdtempSync(join(tmpdir(), 'trinadir-room-walk-'));
  const data = join(top, 'data');
  const watch: Watch = { asked: [], problems: [] };
  let [browser, server, desk, wall, phone] = [null, null, null, null, null] as unknown as [Browser, Desk, Page, Page, Page];
  let [wallContext, phoneContext] = [null, null] as unknown as [BrowserContext, BrowserContext];
  /** What was tapped, in the order of the taps, whichever page it was on. */
  const tapped: string[] = [];
  let [view, picture] = ['', 0];

  const button = (where: Page | Locator, name: string | RegExp): Locator => where.getByRole('button', { name });
  const tab = (name: 'tabSteps' | 'tabEvents' | 'tabNumbers' | 'tabRescue' | 'tabLog'): Promise<void> => phone.locator('.remote-tabs').getByRole('button', { name: new RegExp(`^${ROOM_EN[name]}`) }).tap();
  /** One tap, and the page says at once that it has it. */
  async function log(page: Page, what: Locator, says: string): Promise<void> {
    await what.click();
    await expect.poll(() => page.locator('.undo-last b').innerText()).toBe(says);
    tapped.push(says);
  }
  const step = (page: Page, phase: RoomPhase): Promise<void> =>
    log(page, page.locator('.phases').getByRole('button', { name: new RegExp(`^${ROOM_EN[`phase-${phase}`]}`) }), `Step: ${ROOM_EN[`phase-${phase}`]}`);
  async function readDepth(mm: string, within: string, says: string): Promise<void> {
    await tab('tabNumbers');
    const form = phone.locator('.entered-depth');
    await form.locator('[name=depthMm]').fill(mm);
    await form.locator('[name=withinMm]').fill(within);
    await form.locator('[name=reads]').fill('3');
    await log(phone, form.getByRole('button', { name: DEPTH_PAGE_EN.log }), says);
    await tab('tabSteps');
  }
  const untilCard = (name: string): Promise<void> => wall.locator(`main.wall[data-card="${name}"]`).waitFor();
  const readWall = async (): Promise<string> => (await wall.locator('.wall-screen text').allTextContents()).join(' | ');
  const wallSays = (text: string) => expect.poll(readWall, { timeout: WAIT_MS }).toContain(text);
  const untilSent = (page: Page): Promise<void> => page.locator('.room-line', { hasText: ROOM_EN.waitingNone }).waitFor({ timeout: WAIT_MS });
  /** Desk, phone and wall give the same answer about the depth and about the way back. */
  async function allSay(place: keyof typeof WALL_ROOM_EN & `place-${string}`, wayBack: 'open' | 'closed' | 'cannot say'): Promise<void> {
    const [big, back] = [WALL_ROOM_EN[place], BOARD_EN[`recapture-${wayBack}`]];
    for (const page of [desk, phone]) {
      await expect.poll(() => page.locator('.depth-line .big-answer').innerText()).toBe(big);
      await expect.poll(() => page.locator('.recapture-line .big-answer').innerText()).toBe(back);
    }
    await wallSays(big);
    const state = { open: WALL_ROOM_EN.open, closed: WALL_ROOM_EN.closed, 'cannot say': WALL_ROOM_EN.cannotSay }[wayBack];
    // Between the name of the place and its state may stand an age.
    await expect.poll(readWall, { timeout: WAIT_MS }).toMatch(new RegExp(`${WALL_ROOM_EN.stripRecapture}( \\| [^|]*)? \\| ${state}`));
  }
  async function look(name: string, pages: readonly ('desk' | 'wall' | 'phone')[] = ['desk', 'wall', 'phone']): Promise<void> {
    if (LOOK === undefined) return;
    mkdirSync(LOOK, { recursive: true });
    picture += 1;
    const of = { desk, wall, phone };
    for (const page of pages) await of[page].screenshot({ path: join(LOOK, `${String(picture).padStart(2, '0')}-${name}-${page}.png`), fullPage: page === 'desk' });
  }

  beforeAll(async () => {
    await putEmptyDatabase(data);
    const { planText } = makeStoredPlan();
    const opened = must(await openStore({ dataFolder: data }));
    const { sha256: planSha256 } = must(await opened.store.putDocument('plan', planText));
    const events: readonly NewCaseEvent[] = [
      { kind: 'case.opened', data: { label: 'Room walk', procedureOn: '2026-12-01', training: true } },
      ...Object.entries({ 'identity.name': 'Invented Person', 'identity.birthDate': '1944-05-17', 'identity.patientId': 'INV-0042', 'identity.sex': 'F' }).map(([field, value]): NewCaseEvent => ({ kind: 'referral.entered', data: { field, value, unit: null } })),
      { kind: 'plan.made', data: { planSha256, surveySha256: null, basedOnSeq: 5 } },
      ...Object.entries(HUDDLE_ENTRIES).filter(([field]) => field !== 'wire.kind' && field !== 'kit.snare.ready').map(([field, value]): NewCaseEvent => ({ kind: 'huddle.entered', data: { field, value } })),
    ];
    must(await opened.store.append({ caseId: CASE, expectSeq: 0, by: 'trinadir', events }));
    await opened.close();
    server = await startDesk(data);
    browser = await chromium.launch({ executablePath: CHROMIUM, args: [...BROWSER_ARGS] });
    const deskContext = await browser.newContext({ viewport: { width: 1280, height: 900 }, reducedMotion: 'reduce' });
    wallContext = await browser.newContext({
      viewport: { width: 1920, height: 1080 }, reducedMotion: 'reduce',
      storageState: { cookies: [], origins: [{ origin: server.origin, localStorage: [{ name: 'trinadir.wall', value: JSON.stringify({ name: 'K7', mmPerPx: MM_PER_PX, pixels: '1920x1080@1', takenAt: '', pedals: {} }) }] }] },
    });
    phoneContext = await browser.newContext({ viewport: { width: 390, height: 844 }, isMobile: true, hasTouch: true, reducedMotion: 'reduce' });
    [desk, wall, phone] = [await deskContext.newPage(), await wallContext.newPage(), await phoneContext.newPage()];
    for (const page of [desk, wall, phone]) {
      page.setDefaultTimeout(WAIT_MS);
      watchPage(page, watch);
    }
    await makeFirstAccount(desk, server);
  }, 120_000);
  afterAll(async () => {
    await browser?.close();
    await server?.stop();
    rmSync(top, { recursive: true, force: true });
  });

  test('huddle: the patient agrees, what was open is entered, each branch has its person, item and place', async () => {
    await desk.goto(`${server.origin}/case/${CASE}/huddle`);
    await desk.locator('.identity').waitFor();
    await desk.fill('[name=patientId]', 'INV-0042');
    await desk.fill('[name=birthDate]', '1944-05-17');
    await button(desk, HUDDLE_PAGE_EN.identityCompare).click();
    await desk.getByText(HUDDLE_PAGE_EN['identity-same']).waitFor();
    await desk.getByLabel(FREEZE_EN['wire.kind']).fill('pre-shaped, stiff');
    await desk.keyboard.press('Tab');
    await expect.poll(() => desk.locator('[data-code="entry-wire.kind"]').count()).toBe(0);
    await desk.locator('#group-kit tr', { hasText: FREEZE_EN['slot-snare'] }).locator('select').selectOption('yes');
    await expect.poll(() => desk.locator('[data-code="kit-snare"]').count()).toBe(0);
    await look('huddle', ['desk']);
    await desk.goto(`${server.origin}/case/${CASE}/dry-run`);
    for (const branch of ['moved-up', 'moved-down', 'leaks']) {
      const form = desk.locator(`section[aria-labelledby="branch-${branch}"] form`);
      await form.locator('[name=person]').fill('Colleague One');
      await form.locator('[name=item]').fill('snare');
      await form.locator('[name=place]').fill('shelf snare');
      await form.locator('button').click();
      await desk.locator(`section[aria-labelledby="branch-${branch}"] .agreed`).waitFor();
    }
    await expect.poll(() => desk.locator('.part.answer').innerText()).toContain(DRY_RUN_EN.answerAll);
    await look('dry-run', ['desk']);
  });

  test('each doubt is accepted by name, and the plan is frozen', async () => {
    await desk.goto(`${server.origin}/case/${CASE}/huddle`);
    await desk.locator('#doubts details').first().waitFor();
    const open = desk.locator('#doubts details');
    for (let left = await open.count(); left > 0; left = await open.count()) {
      await open.first().locator('summary').click();
      await open.first().locator('input').fill('Looked at by the team.');
      await open.first().locator('button').click();
      await expect.poll(() => open.count()).toBe(left - 1);
    }
    await button(desk, HUDDLE_PAGE_EN.freeze).click();
    await expect.poll(() => desk.locator('.part.answer').innerText()).toContain(HUDDLE_PAGE_EN.frozen);
    expect(await desk.locator('#doubts').innerText()).toContain(FIRST.displayName);
    await look('frozen', ['desk']);
  });

  test('phone and wall come in by the code of the desk, and all three show the same plan', async () => {
    await desk.goto(`${server.origin}/case/${CASE}/room`);
    await desk.locator('.plan-code').waitFor();
    for (const [kind, page] of [['remote', phone], ['wall', wall]] as const) {
      await button(desk, kind === 'remote' ? ROOM_EN.pairRemote : ROOM_EN.pairWall).click();
      await desk.locator('.pair-code', { hasText: `/${kind}` }).waitFor();
      const code = (await desk.locator('.pair-code .code').innerText()).trim();
      if (kind === 'remote') await look('pairing', ['desk']);
      await page.goto(`${server.origin}/${kind}`);
      await page.getByLabel(ROOM_EN.pairCode).fill(code);
      await button(page, ROOM_EN.pairEnter).click();
      await page.waitForURL(`${server.origin}/${kind}/${CASE}`);
    }
    await phone.locator('.plan-code').waitFor();
    const code = await desk.locator('.plan-code').innerText();
    expect(await phone.locator('.plan-code').innerText()).toBe(code);
    await wallSays(code);
    await Promise.all([desk, phone, wall].map((page) => page.waitForFunction(() => navigator.serviceWorker.controller !== null)));
    await look('paired');
  });

  test('the steps before the ring are tapped on the phone, and the wall follows', async () => {
    for (const [phase, card] of [['identity', 'plan'], ['access', 'kit'], ['crossing', 'view'], ['valve-in', 'valve'], ['position', 'view']] as const) {
      await log(phone, button(phone, `Next: ${ROOM_EN[`phase-${phase}`]}`), `Step: ${ROOM_EN[`phase-${phase}`]}`);
      await untilCard(card);
      await look(phase, phase === 'position' ? ['desk', 'wall', 'phone'] : ['wall']);
      if (phase !== 'crossing') continue;
      await tab('tabEvents');
      await log(phone, phone.getByRole('group', { name: ROOM_EN.wireMoved }).getByRole('button', { name: ROOM_EN['side-outer curve'] }), 'Wire moved, outer curve');
      await tab('tabSteps');
    }
  });

  test('first start: the view of the plan, a depth in it, hold A, pacing', async () => {
    await tab('tabEvents');
    const first = phone.getByRole('group', { name: ROOM_EN.views }).getByRole('button').first();
    view = (await first.locator('.tap-name').innerText()).trim();
    await log(phone, first, `View ${view}`);
    await wallSays(WALL_ROOM_EN.viewSame);
    await readDepth('3', '0.5', `Depth 3 mm, 2.5 to 3.5, ${view}`);
    await untilCard('depth');
    await look('start-read');
    await log(phone, button(phone.locator('.hold'), /^Go on/), 'Hold A: Go on, Colleague One');
    await log(desk, button(desk, /^Pacing ON/), 'Pacing on, 120/min');
    await wallSays('ON 120');
    await look('hold-a');
    await allSay('place-inside', 'cannot say');
  });

  test('the release begins, and the frame moves up: all three say so', async () => {
    await step(phone, 'releasing');
    await tab('tabEvents');
    await log(phone, phone.getByRole('group', { name: ROOM_EN.fraction }).getByRole('button', { name: '0.33' }), 'Share of the frame out: 0.33');
    await look('releasing');
    await log(phone, button(phone, /^Moved UP/), 'Moved up');
    await untilCard('jump');
    await tab('tabSteps');
    for (const page of [desk, phone]) await page.locator('.jump-notice', { hasText: 'moved toward the aorta' }).waitFor();
    await allSay('place-cannot say', 'open'); // what was read before it moved is no answer any more
    await look('jump');
  });

  test('the cause board is read and closed by a person', async () => {
    const board = desk.locator('.jump-board');
    await button(desk, BOARD_EN.openBoard).click();
    await look('cause-board', ['desk']);
    await board.getByLabel(BOARD_EN['cause-start-height']).check();
    await board.getByLabel(BOARD_EN.closeBecause).fill('Start was high in this view.');
    await board.getByLabel(BOARD_EN.closeWho).fill('Colleague One');
    await log(desk, button(board, BOARD_EN.close), 'Causes closed as: start height, Colleague One');
    await board.locator('.board-closed').waitFor();
    await untilCard('depth');
    await look('board-closed');
  });

  test('recapture, then a second start that is chosen and read again', async () => {
    await tab('tabEvents');
    await log(phone, button(phone, /^Taken back, whole/), 'Taken back, whole');
    await log(desk, button(desk, /^Pacing OFF/), 'Pacing off');
    await tab('tabSteps');
    await untilCard('view'); // back at hold A, whether or not somebody taps the step
    for (const page of [desk, phone]) expect(await page.locator('.phases .is-on').innerText()).toContain(ROOM_EN['phase-position']);
    expect(await phone.locator('.hold legend').innerText()).toBe(ROOM_EN.holdA);
    await look('taken-back');
    const starts = desk.locator('.jump-board .changes').first();
    if (LOOK) await starts.scrollIntoViewIfNeeded();
    expect(await starts.innerText()).toContain(BOARD_EN.startPlanned); // the start depths to choose from, with what the forecast says of each
    await readDepth('3.5', '0.4', `Depth 3.5 mm, 3.1 to 3.9, ${view}`);
    await untilCard('depth');
    await wallSays('3.5');
    await allSay('place-inside', 'cannot say');
    await look('second-start');
    await log(phone, button(phone.locator('.hold'), /^Go on/), 'Hold A: Go on, Colleague One');
  });

  test('the phone loses its network in the middle of the release: taps go on, on both sides', async () => {
    await phoneContext.setOffline(true);
    await step(phone, 'releasing');
    await log(desk, button(desk, /^Pacing ON/), 'Pacing on, 120/min');
    await tab('tabEvents');
    await log(phone, phone.getByRole('group', { name: ROOM_EN.fraction }).getByRole('button', { name: '0.67' }), 'Share of the frame out: 0.67');
    await log(desk, button(desk, /^\+ 20 mL/), 'Contrast 20 mL');
    await readDepth('3.7', '0.4', `Depth 3.7 mm, 3.3 to 4.1, ${view}`);
    await expect.poll(() => phone.locator('.room-line').innerText(), { timeout: WAIT_MS }).toContain('NO SERVER');
    expect(await phone.locator('.room-line').innerText()).toContain(formatText(ROOM_EN, 'waitingSome', { count: 3 }));
    expect(await desk.locator('.log-line', { hasText: 'Share of the frame out: 0.67' }).count()).toBe(0);
    await look('phone-cut');
    await phoneContext.setOffline(false);
    await untilSent(phone);
    await expect.poll(() => desk.locator('.log-line .log-what').allInnerTexts().then((all) => all.slice(0, 5).reverse())).toEqual(tapped.slice(-5));
    await untilCard('depth');
    await wallSays('3.7');
    await allSay('place-inside', 'open');
    await look('phone-back');
  });

  test('the wall loses its network: it says since when, the others go on, and it comes back to the step that is on', async () => {
    await step(phone, 'decision');
    await log(phone, button(phone.locator('.hold'), /^Go on/), 'Hold B: Go on, Colleague One');
    await wallSays(`B: ${WALL_ROOM_EN['answer-go on']}`);
    await look('decision');
    await wallContext.setOffline(true);
    await wallSays('NO CONNECTION for');
    await look('wall-cut');
    await step(phone, 'released');
    await log(desk, button(desk, /^Pacing OFF/), 'Pacing off');
    await wallContext.setOffline(false);
    await untilCard('time');
    await expect.poll(readWall, { timeout: WAIT_MS }).not.toContain('NO CONNECTION');
    await look('wall-back');
  });

  test('the wait runs on all three, and the result is held', async () => {
    await wallSays(WALL_ROOM_EN.noFinalDepth); // the depth from before the release is not the final one
    await readDepth('3.9', '0.4', `Depth 3.9 mm, 3.5 to 4.3, ${view}`);
    await tab('tabNumbers');
    for (const page of [desk, phone]) await expect.poll(() => page.locator('.room-timers').innerText()).toMatch(/Wait for expansion\s+9:\d\d min left/);
    await wallSays('left of the wait');
    await wallSays('depth 3.9 mm');
    await look('wait');
    await tab('tabSteps');
    await step(phone, 'result');
    await untilCard('result');
    await log(phone, button(phone.locator('.hold'), /^Wait/), 'Hold C: Wait, Colleague One');
    await wallSays(WALL_ROOM_EN['answer-wait']);
    await wallSays('Colleague One');
    await look('result');
    await tab('tabLog');
    await look('log', ['desk', 'phone']);
  });

  test('the log as a table holds every tap once, in the order of the taps', async () => {
    await Promise.all([desk, phone].map(untilSent));
    const text = await desk.evaluate(async (path) => (await fetch(path)).text(), `/api/cases/${CASE}/log/csv`);
    const [head, ...lines] = text.replace(/^\ufeff/, '').trimEnd().split('\r\n').map((line) => [...line.matchAll(/("(?:[^"]|"")*"|[^,]*)(?:,|$)/g)].map((m) => m[1]!.replace(/^"|"$/g, '').replaceAll('""', '"')));
    const read = (name: string): string[] => lines.slice(0, -1).map((line) => line[head!.indexOf(name)]!);
    expect(read('what')).toEqual(tapped);
    expect(read('at')).toEqual([...read('at')].sort());
    expect(new Set(read('entry_id')).size).toBe(tapped.length);
    expect(new Set(read('place'))).toEqual(new Set(['desk', 'remote']));
    for (const page of ['desk', 'remote']) { // each page's own count has no hole
      const counts = read('count').filter((_, i) => read('place')[i] === page).map(Number);
      expect(counts).toEqual(counts.map((_, i) => i + 1));
    }
    // Offline is no defect of a page; anything else is.
    expect(watch.problems.filter((p) => !/ERR_INTERNET_DISCONNECTED|ERR_NETWORK|Failed to load resource|navigation preload/i.test(p))).toEqual([]);
  });

  test('with the server gone, the chain of the case is whole', async () => {
    await server.stop();
    const done = spawnSync(process.execPath, [PROGRAM, 'audit', 'verify', '--data', data, '--json'], { encoding: 'utf8' });
    expect([done.status, done.stderr]).toEqual([0, '']);
    expect(JSON.parse(done.stdout)).toMatchObject({ cases: 1 });
  });
});
