/**
 * One morning at the desk, with the real program and a real browser: first start, a case, its CT by drag and drop, the
 * plan by the feed, every page by keyboard, a mark moved and taken back, two windows that disagree. The steps build on one
 * another.
 */
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium, type Browser, type BrowserContext, type Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { CaseEvent, CaseEventData } from '../../src/core/case/case-events.ts';
import { distance } from '../../src/core/math/vec3.ts';
import { DESK_EN } from '../../src/core/text/desk-en.ts';
import { IMPORT_EN } from '../../src/core/text/import-en.ts';
import { REFERRAL_EN } from '../../src/core/text/referral-en.ts';
import { VIEWER_EN } from '../../src/core/text/viewer-en.ts';
import { askDesk, BROWSER_ARGS, CHROMIUM, dropFiles, findBreaches, FIRST, readFocus, startDesk, watchPage, writeSmallRoot, type Desk, type Focus, type Watch } from '../support/drive-desk.mjs';
import { putEmptyDatabase } from '../support/pglite-template.ts';

const hasBrowser = existsSync(CHROMIUM);
const isBuilt = existsSync(new URL('../../dist/host/cli/main.js', import.meta.url)) && existsSync(new URL('../../dist/web/index.html', import.meta.url));
const isRelease = process.env['CI'] !== undefined && process.env['CI'] !== '';
test('the browser and the build are there when the desk must be walked', () => {
  if (isRelease) expect([hasBrowser, isBuilt]).toEqual([true, true]);
});

const PAGES = ['referral', 'scan', 'root', 'size', 'landing', 'views', 'release', 'huddle'] as const;
const PLAN_MS = 600_000; // plans run below normal priority beside other tests
const MOST_TABS = 90;

// Steps wait for a plan of a whole CT: on a busy machine that takes a while.
describe.skipIf(!hasBrowser || !isBuilt)('a morning at the desk', { timeout: 1_300_000 }, () => {
  const top = mkdtempSync(join(tmpdir(), 'trinadir-desk-'));
  const watch: Watch = { asked: [], problems: [] };
  let [browser, context, page, desk] = [null, null, null, null] as unknown as [Browser, BrowserContext, Page, Desk];
  let [ct, caseId] = ['', ''];
  beforeAll(async () => {
    ct = writeSmallRoot(top);
    await putEmptyDatabase(join(top, 'data'));
    desk = await startDesk(join(top, 'data'));
    browser = await chromium.launch({ executablePath: CHROMIUM, args: [...BROWSER_ARGS] });
    context = await browser.newContext({ viewport: { width: 1180, height: 900 }, reducedMotion: 'reduce' });
    page = await context.newPage();
    page.setDefaultTimeout(60_000);
    watchPage(page, watch);
  }, 400_000);
  afterAll(async () => {
    await browser?.close();
    await desk?.stop();
    rmSync(top, { recursive: true, force: true });
  });

  /** Tab until the wanted thing has the focus; at every stop a person must see where they are. */
  async function tabTo(what: string, isIt: (focus: Focus) => boolean, key = 'Tab'): Promise<Focus> {
    const passed: string[] = [];
    for (let i = 0; i < MOST_TABS; i++) {
      await page.keyboard.press(key);
      const focus = await readFocus(page);
      if (!focus) continue; // the browser's own frame
      passed.push(`${focus.tag} ${focus.name}`);
      expect(focus, `focus on ${passed.at(-1)} must be seen`).toMatchObject({ isMarked: true, isInSight: true, isCovered: false });
      if (isIt(focus)) return focus;
    }
    throw new Error(`${what} is not reached by ${key}; passed: ${passed.join(' | ')}`);
  }
  const named = (name: string) => (focus: Focus): boolean => focus.name.startsWith(name);
  async function type(label: string, text: string): Promise<void> {
    await tabTo(label, (focus) => named(label)(focus) && /input|textarea|select/.test(focus.tag));
    await page.keyboard.type(text);
  }
  const readEvents = async (): Promise<readonly CaseEvent[]> => (await askDesk(page, `/api/cases/${caseId}/events`)).body as readonly CaseEvent[];
  const goTo = async (name: string): Promise<void> => {
    await page.goto(`${desk.origin}/case/${caseId}/${name}`);
    await page.waitForSelector(`#${name} h2`);
    if (name !== 'referral') await page.waitForFunction((words) => !words.some((word) => document.querySelector('.part.answer')!.textContent!.includes(word)), [DESK_EN.loading, DESK_EN.noPlanSay]); // the plan is being fetched
  };
  const waitForFreshPlan = async (): Promise<void> => {
    await expect.poll(async () => ((await askDesk(page, `/api/cases/${caseId}`)).body as { state: { plan: { isStale: boolean } | null } }).state.plan?.isStale, { timeout: PLAN_MS, interval: 300 }).toBe(false);
    await page.waitForFunction((words) => !words.some((word) => document.querySelector('main')!.textContent!.includes(word)), [DESK_EN.recomputing, DESK_EN.staleTitle], { timeout: PLAN_MS });
  };
  const readPart = (part: 'answer' | 'why'): Promise<string> => page.locator(`.part.${part}`).innerText();

  test('the printed address makes the first account, by keyboard alone, and opens the work list', async () => {
    expect(desk.isFirstStart).toBe(true);
    await page.goto(desk.url);
    await page.getByRole('heading', { name: DESK_EN.firstTitle }).waitFor();
    expect(page.url()).not.toContain('token'); // neither a history nor a glance over the shoulder gives it away
    expect(await findBreaches(page)).toEqual([]);
    for (const [label, text] of [[DESK_EN.login, FIRST.login], [DESK_EN.displayName, FIRST.displayName], [DESK_EN.password, FIRST.password], [DESK_EN.passwordAgain, FIRST.password]] as const) await type(label, text);
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { name: DESK_EN.workListTitle }).waitFor();
    await page.getByText(DESK_EN.workNone).waitFor();
  });

  test('a log-in that fails says so; one that fits opens the page that was asked for', async () => {
    await tabTo(DESK_EN.logOut, named(DESK_EN.logOut));
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { name: DESK_EN.logInTitle }).waitFor();
    expect(await findBreaches(page)).toEqual([]);
    await page.goto(`${desk.origin}/tables`);
    await page.getByRole('heading', { name: DESK_EN.logInTitle }).waitFor();
    await page.keyboard.type(FIRST.login); // the first field has the focus
    await type(DESK_EN.password, 'not this one at all');
    await page.keyboard.press('Enter');
    await page.getByText('Log-in name and password do not fit together.').waitFor();
    watch.problems.splice(0, Infinity, ...watch.problems.filter((p) => !p.includes('status of 401'))); // the refusal itself
    await tabTo(DESK_EN.password, named(DESK_EN.password), 'Shift+Tab');
    await page.keyboard.press('Control+A');
    await page.keyboard.type(FIRST.password);
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { name: 'Tables', exact: true }).waitFor();
  });

  test('a case is opened and its patient entered by keyboard', async () => {
    await tabTo(DESK_EN.skip, named(DESK_EN.skip));
    await tabTo(DESK_EN.workList, named(DESK_EN.workList));
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { name: DESK_EN.openTitle }).waitFor();
    await type(DESK_EN.caseLabel, 'walk 1');
    await type(DESK_EN.procedureOn, '2026-03-02');
    await page.keyboard.press('Enter');
    await page.waitForURL(/\/case\/[^/]+\/referral$/);
    caseId = page.url().split('/').at(-2)!;
    await page.waitForSelector('#referral h2');
    await type(REFERRAL_EN['identity.name'], 'Training Phantom');
    await type(REFERRAL_EN['identity.patientId'], 'TRAINING-100');
    await page.keyboard.press('Tab');
    await expect.poll(async () => (await readEvents()).filter((e) => e.kind === 'referral.entered').length).toBe(2);
  });

  test('a CT folder dropped on the Scan page is taken in and planned, and the pages follow by themselves', async () => {
    await tabTo('Scan', (focus) => focus.href?.endsWith('/scan') ?? false, 'Shift+Tab');
    await page.keyboard.press('Enter');
    await page.waitForSelector('.drop');
    await dropFiles(page, '.drop', [ct]);
    const question = page.getByText(IMPORT_EN.identityTitle);
    const root = page.locator('.case-line a[href$="/root"]:is([title="answered"],[title="answered with doubt"])');
    await question.or(root).first().waitFor({ timeout: PLAN_MS });
    expect(await question.count()).toBe(1); // the entered number is another one: nothing is joined unasked
    expect(await root.count()).toBe(0);
    expect(await findBreaches(page)).toEqual([]);
    await type(IMPORT_EN.identityBecause, 'number was mistyped, papers seen');
    await tabTo(IMPORT_EN.identityJoin, named(IMPORT_EN.identityJoin));
    await page.keyboard.press('Enter');
    await root.waitFor({ timeout: PLAN_MS });
    expect(page.url()).toMatch(/\/scan$/); // nothing was loaded anew
    await page.getByText('fit', { exact: false }).first().waitFor();
    const { body } = await askDesk(page, `/api/cases/${caseId}`);
    expect((body as { state: { scan: { identity: object } } }).state.scan.identity).toMatchObject({ verdict: 'differs', acceptedBecause: 'number was mistyped, papers seen' });
  });

  test('every page of the case line is walked with the keyboard, has an address, and Back goes back', async () => {
    for (const name of PAGES) {
      await tabTo(name, (focus) => focus.href === `/case/${caseId}/${name}`, name === 'referral' ? 'Shift+Tab' : 'Tab');
      await page.keyboard.press('Enter');
      await page.waitForSelector(`#${name} h2`);
      expect(page.url()).toMatch(new RegExp(`/${name}$`));
      expect(await page.locator('.case-line [aria-current=page]').innerText()).toContain(DESK_EN[`page-${name}`]);
      expect(await page.title()).toContain(DESK_EN[`page-${name}`]);
      for (const part of ['answer', 'why', 'doubt', 'next']) expect(await page.locator(`.part.${part}`).count()).toBe(1);
      if (name !== 'referral' && name !== 'huddle') expect(await readPart('answer')).not.toContain(DESK_EN.noPlanSay);
    }
    await page.goBack();
    await page.waitForSelector('#release h2');
    await page.goBack();
    await page.waitForSelector('#views h2');
    await page.goForward();
    await page.waitForSelector('#release h2');
    await goTo('landing'); // a deep link, as from a message of a colleague
    expect(await page.locator('.case-head h1').innerText()).toBe('walk 1');
    // All controls of the longest pages are reached and left again: the focus is never caught.
    for (const name of ['root', 'release'] as const) {
      await goTo(name);
      if (name === 'root') await page.waitForSelector('[data-view=across] [data-grip="nadir.R"]');
      await page.locator('.skip').focus();
      const seen = new Set<string>();
      for (let i = 0; i < 220; i++) {
        await page.keyboard.press('Tab');
        const focus = await readFocus(page);
        if (!focus || (focus.name === DESK_EN.skip && i > 5)) break;
        expect(focus, `${name}: ${focus.tag} ${focus.name}`).toMatchObject({ isMarked: true, isInSight: true, isCovered: false });
        seen.add(focus.name);
      }
      if (name === 'root') for (const wanted of ['nadir R', 'nadir L', 'nadir N', VIEWER_EN.solidShow, VIEWER_EN.help]) expect([...seen].join(' | ')).toContain(wanted);
    }
  });

  test('a nadir moved by keyboard changes ring, size, landing and forecast, is one event, and Undo takes it back', async () => {
    const was: Record<string, string> = {};
    for (const name of ['size', 'landing', 'release', 'root'] as const) {
      await goTo(name);
      was[name] = `${await readPart('answer')} ${await readPart('why')}`;
    }
    await page.waitForSelector('[data-view=across] canvas[data-kind=full]');
    const atOnce = (): Promise<string[]> => page.locator('.at-once dl > div').allInnerTexts();
    const before = await atOnce();
    const ringBefore = await page.locator('[data-live=ring]').innerText();
    await tabTo('nadir R', (focus) => focus.grip === 'nadir.R' && focus.view === 'across');
    for (let i = 0; i < 4; i++) await page.keyboard.press('Shift+PageUp');
    await page.waitForFunction((text) => document.querySelector('[data-live=ring]')!.textContent !== text, ringBefore);
    await page.keyboard.press('Enter');
    await page.locator('.said', { hasText: /nadir R moved by 4\.0 mm and kept/ }).waitFor();
    // At once, by the page itself; then by the server from the CT.
    await page.locator('.at-once .soft').first().waitFor();
    const [low, high] = (await page.locator('.live .interval').innerText()).match(/[\d.]+/g)!.map(Number) as [number, number];
    const [ring, size, landing] = await atOnce();
    expect(ring).toContain(DESK_EN.atOnceWas.split('{')[0]);
    expect(ring).not.toBe(before[0]);
    expect(`${size} ${landing}`).not.toBe(`${before[1]} ${before[2]}`);
    await waitForFreshPlan();
    const stored = await page.locator('[data-live=ring]').innerText();
    expect(stored).not.toBe(ringBefore);
    expect(parseFloat(stored)).toBeGreaterThanOrEqual(low); // what the page said at once holds: the CT's answer lies in its interval
    expect(parseFloat(stored)).toBeLessThanOrEqual(high);
    const moved = (await readEvents()).filter((e) => e.kind === 'mark.moved');
    expect(moved).toHaveLength(1);
    const { mark, lps, was: from } = moved[0]!.data as CaseEventData['mark.moved'];
    expect(mark).toBe('nadir.R');
    expect(distance(lps!, from!)).toBeCloseTo(4, 1);
    for (const name of ['size', 'landing', 'release'] as const) {
      await goTo(name);
      expect(`${await readPart('answer')} ${await readPart('why')}`, name).not.toBe(was[name]);
    }

    await goTo('root');
    await page.waitForSelector('[data-view=across] [data-grip="nadir.R"] rect.disc'); // square: set by a person
    await tabTo(VIEWER_EN.undo, named(VIEWER_EN.undo));
    await page.keyboard.press('Enter');
    await page.waitForSelector('[data-view=across] [data-grip="nadir.R"] circle.disc');
    await waitForFreshPlan();
    expect(await page.locator('[data-live=ring]').innerText()).toBe(ringBefore);
    expect(await readPart('answer') + ' ' + (await readPart('why'))).not.toContain('recomputing');
    expect((await readEvents()).filter((e) => e.kind === 'mark.moved')).toHaveLength(2); // the log keeps both
  });

  test('two windows on one entry: nothing is overwritten unseen', async () => {
    const label = REFERRAL_EN['body.heightCm'];
    await goTo('referral');
    const other = await context.newPage();
    watchPage(other, watch);
    await other.goto(page.url());
    await other.getByLabel(label).waitFor();
    // The other window is typing when this one stores.
    await other.getByLabel(label).focus();
    await other.keyboard.type('17');
    await page.getByLabel(label).fill('162');
    await page.keyboard.press('Tab');
    await expect.poll(async () => (await readEvents()).at(-1)?.data).toMatchObject({ field: 'body.heightCm', value: 162 });
    await other.waitForTimeout(500); // the news is there too
    await other.keyboard.type('0');
    await other.keyboard.press('Tab');
    await other.getByText(DESK_EN.clashTitle).waitFor();
    expect((await readEvents()).at(-1)?.data).toMatchObject({ value: 162 });
    await other.getByRole('button', { name: DESK_EN.clashLeave }).click();
    expect(await other.getByLabel(label).inputValue()).toBe('162');

    // A window that gets no news at all learns of it when it stores.
    await other.route('**/feed', (route) => route.abort());
    await other.reload();
    await other.getByText(DESK_EN.away).waitFor();
    await page.getByLabel(label).fill('163');
    await page.keyboard.press('Tab');
    await expect.poll(async () => (await readEvents()).at(-1)?.data).toMatchObject({ value: 163 });
    await other.getByLabel(label).fill('171');
    await other.keyboard.press('Tab');
    await other.getByText(DESK_EN.clashTitle).waitFor();
    expect(await findBreaches(other)).toEqual([]);
    await other.getByRole('button', { name: DESK_EN.clashKeep }).click();
    await expect.poll(async () => (await readEvents()).at(-1)?.data).toMatchObject({ value: 171 });
    expect(await page.getByLabel(label).inputValue()).toBe('171'); // and the first window follows
    await other.close();
    watch.problems.splice(0, Infinity, ...watch.problems.filter((p) => !/status of 409|ERR_FAILED/.test(p))); // the clash and the cut feed
  });

  test('no page breaks WCAG 2.2 AA as far as a checker can see, in desk and in room light', async () => {
    const found: string[] = [];
    for (const path of ['/', '/tables', '/audit', '/people', '/account', '/nowhere', ...PAGES.map((name) => `/case/${caseId}/${name}`)]) {
      await page.goto(`${desk.origin}${path}`);
      await page.waitForSelector('h1, h2');
      await page.waitForLoadState('networkidle', { timeout: 3000 }).catch(() => {}); // the feed of a case never ends
      for (const light of ['desk', 'room']) {
        await page.evaluate((theme) => (document.documentElement.dataset['theme'] = theme), light);
        found.push(...(await findBreaches(page)).map((breach) => `${light} ${breach}`));
      }
    }
    expect(found).toEqual([]);
  });

  test('nothing was asked of any other machine, and nothing went wrong unseen', () => {
    expect(watch.asked.length).toBeGreaterThan(50);
    expect(watch.asked.filter((url) => !url.startsWith(`${desk.origin}/`) && !/^(data|blob):/.test(url))).toEqual([]);
    expect(watch.problems.filter((p) => !p.includes('status of 404'))).toEqual([]);
    expect(desk.said.join('')).not.toMatch(/Training Phantom|defect/i);
  });
});
