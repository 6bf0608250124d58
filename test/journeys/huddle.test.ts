/**
 * A huddle in a real browser, on a desk whose plan is the training plan without its CT: patient compared, dry run agreed,
 * doubts accepted, a blocker overridden by name, the plan frozen, changed and frozen again.
 */
import { existsSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium, type Browser, type BrowserContext, type Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { NewCaseEvent } from '../../src/core/case/case-events.ts';
import type { CaseState } from '../../src/core/case/fold-case.ts';
import { DRY_RUN_EN } from '../../src/core/text/dry-run-en.ts';
import { FREEZE_EN } from '../../src/core/text/freeze-en.ts';
import { HUDDLE_PAGE_EN } from '../../src/core/text/huddle-page-en.ts';
import { makeFreezeHandlers } from '../../src/host/server/handlers/freeze-handlers.ts';
import { makePrintHandlers } from '../../src/host/server/handlers/print-handlers.ts';
import { makeWhatIfHandlers } from '../../src/host/server/handlers/what-if-handlers.ts';
import { makeWhatIfDesk } from '../../src/host/jobs/what-if-desk.ts';
import { WorkerPool } from '../../src/host/jobs/worker-pool.ts';
import { BROWSER_ARGS, CHROMIUM, findBreaches, watchPage, type Watch } from '../support/drive-desk.mjs';
import { HUDDLE_ENTRIES, makeStoredPlan } from '../support/frozen-fixture.ts';
import { makeTestDesk, must, type TestDesk, type Visitor } from '../support/make-desk.ts';

const pagesFolder = process.env['TEST_PAGES'] ?? fileURLToPath(new URL('../../dist/web', import.meta.url));
/** Where pictures for the eye go; none are taken without it. */
const looks = process.env['LOOK'];
const hasAll = existsSync(CHROMIUM) && existsSync(join(pagesFolder, 'index.html'));
const isRelease = process.env['CI'] !== undefined && process.env['CI'] !== '';
test('the browser and the build are there when a huddle must be walked', () => {
  if (isRelease) expect(hasAll).toBe(true);
});

describe.skipIf(!hasAll)('a huddle in the browser', { timeout: 240_000 }, () => {
  let [desk, planner, browser, context, page] = [null, null, null, null, null] as unknown as [TestDesk, Visitor & { readonly personId: string }, Browser, BrowserContext, Page];
  let caseId = '';
  const watch: Watch = { asked: [], problems: [] };
  const { planText } = makeStoredPlan();

  beforeAll(async () => {
    const whatIfs = makeWhatIfDesk(() => new WorkerPool(0));
    desk = await makeTestDesk({ pagesFolder, changeHandlers: (h) => ({ ...h, ...makeWhatIfHandlers(whatIfs), ...makeFreezeHandlers(whatIfs), ...makePrintHandlers(() => new WorkerPool(0)) }) });
    planner = await desk.enter('planner');
    caseId = (await planner.ask('/api/cases', { method: 'POST', body: { label: 'A 7', procedureOn: '2026-12-01' } })).json<{ caseId: string }>().caseId;
    const { sha256: planSha256 } = must(await desk.opened.store.putDocument('plan', planText));
    await add([
      ...Object.entries({ 'identity.name': 'Invented Person', 'identity.birthDate': '1944-05-17', 'identity.patientId': 'INV-0042', 'identity.sex': 'F' }).map(([field, value]): NewCaseEvent => ({ kind: 'referral.entered', data: { field, value, unit: null } })),
      { kind: 'plan.made', data: { planSha256, surveySha256: null, basedOnSeq: 9 } },
      ...Object.entries(HUDDLE_ENTRIES).filter(([field]) => field !== 'wire.kind' && field !== 'kit.snare.ready').map(([field, value]): NewCaseEvent => ({ kind: 'huddle.entered', data: { field, value } })),
    ]);
    browser = await chromium.launch({ executablePath: CHROMIUM, args: [...BROWSER_ARGS] });
    context = await browser.newContext({ viewport: { width: 1280, height: 900 }, reducedMotion: 'reduce' });
    const [name, value] = planner.cookie.split('=') as [string, string];
    await context.addCookies([{ name, value, url: desk.origin, httpOnly: true, sameSite: 'Strict' }]);
    page = await context.newPage();
    page.setDefaultTimeout(20_000);
    watchPage(page, watch);
  }, 240_000);
  afterAll(async () => {
    await browser?.close();
    await desk?.close();
  });

  const readState = async (): Promise<CaseState> => must(await desk.opened.store.readState(caseId));
  async function add(events: readonly NewCaseEvent[]): Promise<void> {
    must(await desk.opened.store.append({ caseId, expectSeq: (await readState()).seq, by: planner.personId, events }));
  }
  const goTo = async (name: string): Promise<void> => {
    await page.goto(`${desk.origin}/case/${caseId}/${name}`);
    await page.waitForSelector(`#${name} h2`);
    await page.waitForSelector(name === 'huddle' ? '.identity' : '.branches');
  };
  const answerSays = (text: string) => expect.poll(() => page.locator('.part.answer').innerText(), { timeout: 15_000 }).toContain(text);
  async function look(name: string): Promise<void> {
    if (looks === undefined) return;
    mkdirSync(looks, { recursive: true });
    await page.screenshot({ path: join(looks, `${name}.png`), fullPage: true });
  }

  test('another patient stops the huddle; two identifiers that agree let it go on; what was typed is gone', async () => {
    await goTo('huddle');
    await answerSays('Not yet');
    await page.fill('[name=patientId]', 'INV-0043');
    await page.fill('[name=birthDate]', '1944-05-17');
    await page.getByRole('button', { name: HUDDLE_PAGE_EN.identityCompare, exact: true }).click();
    await page.waitForSelector(`text=${HUDDLE_PAGE_EN['identity-differs']}`);
    const hard = page.locator('[data-code="identity-differs"]');
    expect([await hard.count(), await hard.locator('form').count()]).toEqual([1, 0]); // no override is offered
    expect(await page.inputValue('[name=patientId]')).toBe('');
    await look('huddle-differs');
    await page.fill('[name=patientId]', 'inv-0042');
    await page.fill('[name=birthDate]', '1944-05-17');
    await page.getByRole('button', { name: HUDDLE_PAGE_EN.identityCompare, exact: true }).click();
    await page.waitForSelector(`text=${HUDDLE_PAGE_EN['identity-same']}`);
    expect(watch.asked.filter((url) => /INV|1944/i.test(url))).toEqual([]);
  });

  test('an entry is stored when the control is left, and its blocker goes', async () => {
    expect(await page.locator('[data-code="entry-wire.kind"]').count()).toBe(1);
    await page.getByLabel(FREEZE_EN['wire.kind']).fill('pre-shaped, stiff');
    await page.keyboard.press('Tab');
    await expect.poll(() => page.locator('[data-code="entry-wire.kind"]').count()).toBe(0);
    expect((await readState()).huddle['wire.kind']).toMatchObject({ value: 'pre-shaped, stiff', by: planner.personId });
  });

  test('the dry run is stepped through by keyboard and names person, item and place for each branch', async () => {
    await goTo('dry-run');
    await answerSays('3 of 3');
    await look('dry-run-open');
    await page.focus('#step-start');
    for (const step of ['pacing', 'pull', 'release']) {
      await page.keyboard.press('ArrowRight');
      await page.waitForSelector(`#step-${step}[aria-selected=true]`);
      await look(`dry-run-${step}`);
    }
    expect(await page.locator('#step-panel').innerText()).toContain('In the gripping world');
    expect(await page.locator('#dry-run').innerText()).not.toContain('%');
    for (const branch of ['moved-up', 'moved-down', 'leaks']) {
      const form = page.locator(`section[aria-labelledby="branch-${branch}"] form`);
      await form.locator('[name=person]').fill('Colleague One');
      await form.locator('[name=item]').fill('snare');
      await form.locator('[name=place]').fill('shelf snare');
      await form.locator('button').click();
      await page.waitForSelector(`section[aria-labelledby="branch-${branch}"] .agreed`);
    }
    await answerSays(DRY_RUN_EN.answerAll);
    await look('dry-run-agreed');
    expect(await findBreaches(page)).toEqual([]);
  });

  test('doubts are accepted one by one, a missing box is overridden by name, and the plan is frozen', async () => {
    await goTo('huddle');
    const freeze = page.getByRole('button', { name: HUDDLE_PAGE_EN.freeze });
    expect(await freeze.isDisabled()).toBe(true);
    const open = page.locator('#doubts details');
    for (let left = await open.count(); left > 0; left = await open.count()) {
      await open.first().locator('summary').click();
      await open.first().locator('input').fill('Looked at by the team.');
      await open.first().locator('button').click();
      await expect.poll(() => open.count()).toBe(left - 1);
    }
    for (const code of ['kit-snare', 'training-sizes']) {
      const line = page.locator(`[data-code="${code}"]`);
      await line.locator('summary').click();
      await line.locator('input').fill('The snare is on its way; this is a rehearsal.');
      await line.locator('button').click();
      await expect.poll(() => line.innerText()).toContain('Overridden by');
    }
    await answerSays(HUDDLE_PAGE_EN.ready);
    await look('huddle-ready');
    await freeze.click();
    await answerSays(HUDDLE_PAGE_EN.frozen);
    const { frozen } = await readState();
    await answerSays(`${frozen!.frozenSha256.slice(0, 4)} ${frozen!.frozenSha256.slice(4, 8)}`);
    await look('huddle-frozen');
    expect(await findBreaches(page)).toEqual([]);
  });

  test('a later entry shows what would differ, voids the overrides, and is frozen as an amendment', async () => {
    await page.getByLabel(FREEZE_EN['depth.stopMm']).fill('4');
    await page.keyboard.press('Tab');
    await answerSays(HUDDLE_PAGE_EN.behind);
    expect(await page.locator('[data-code="kit-snare"]').innerText()).not.toContain('Overridden by');
    for (const code of ['kit-snare', 'training-sizes']) {
      const line = page.locator(`[data-code="${code}"]`);
      await line.locator('summary').click();
      await line.locator('input').fill('As before.');
      await line.locator('button').click();
      await expect.poll(() => line.innerText()).toContain('Overridden by');
    }
    await page.waitForSelector('.differences');
    await expect.poll(() => page.locator('.differences').innerText()).toContain(FREEZE_EN['depth.stopMm']);
    await look('huddle-behind');
    const first = (await readState()).frozen!;
    await page.getByRole('button', { name: HUDDLE_PAGE_EN.freezeAgain }).click();
    await expect.poll(async () => (await readState()).frozen!.amends).toBe(first.frozenSha256);
    expect((await readState()).frozen!.differences).toContain('huddle.depth.stopMm');
    await page.waitForSelector(`text=${HUDDLE_PAGE_EN.differedTitle}`);
    await look('huddle-amended');
  });

  test('on a phone, in the dark and in grey the pages still stand', async () => {
    await page.evaluate(() => document.documentElement.setAttribute('data-theme', 'room'));
    await look('huddle-dark');
    await page.evaluate(() => document.documentElement.removeAttribute('data-theme'));
    await page.setViewportSize({ width: 390, height: 800 });
    for (const name of ['huddle', 'dry-run']) {
      await goTo(name);
      expect(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth + 1), `${name} does not scroll sideways`).toBe(true);
      await look(`${name}-phone`);
    }
    await page.setViewportSize({ width: 1280, height: 900 });
    await page.evaluate(() => (document.documentElement.style.filter = 'grayscale(1)'));
    await look('dry-run-grey');
    expect(watch.problems).toEqual([]);
    expect(desk.defects).toEqual([]);
  });
});
