/**
 * The Rhythm page in a real browser: baseline from the referral, ECG after release by hand and as a record, a change with its
 * step, the watch after discharge, and the day on which the patient comes on the clinic list.
 */
import { existsSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium, type Browser, type BrowserContext, type Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { NewCaseEvent } from '../../src/core/case/case-events.ts';
import type { CaseState } from '../../src/core/case/fold-case.ts';
import { HOUSE_PAGES_EN } from '../../src/core/text/house-pages-en.ts';
import { RHYTHM_PAGE_EN } from '../../src/core/text/rhythm-page-en.ts';
import { openTrainingCase } from '../../src/host/server/open-training-case.ts';
import { drawEcg } from '../support/draw-ecg.ts';
import { BROWSER_ARGS, CHROMIUM, findBreaches, readFocus, watchPage, type Watch } from '../support/drive-desk.mjs';
import { makeStoredPlan } from '../support/frozen-fixture.ts';
import { makeTestDesk, must, type TestDesk, type Visitor } from '../support/make-desk.ts';
import { depthEntry, makeLog } from '../support/room-log.ts';

const pagesFolder = process.env['TEST_PAGES'] ?? fileURLToPath(new URL('../../dist/web', import.meta.url));
/** Where pictures for the eye go; none are taken without it. */
const looks = process.env['LOOK'];
const hasAll = existsSync(CHROMIUM) && existsSync(join(pagesFolder, 'index.html'));
const isRelease = process.env['CI'] !== undefined && process.env['CI'] !== '';
test('the browser and the build are there when the rhythm must be walked', () => {
  if (isRelease) expect(hasAll).toBe(true);
});

/** Three leads, PR and QRS as given, as a recorder exports them. */
function drawCsv(prMs: number, qrsMs: number): string {
  const { channels } = drawEcg({ beats: Array.from({ length: 14 }, (_, k) => ({ qrsOnS: 0.6 + k * 0.8, prMs, qrsMs })), durationS: 12, samplesPerS: 500, seed: 7, noiseMv: 0.004 });
  return [`time s;${channels.map((c) => `ECG ${c.label} mV`).join(';')}`, ...Array.from({ length: 6000 }, (_, i) => [(i / 500).toFixed(3), ...channels.map((c) => c.samples[i]!.toFixed(4))].join(';'))].join('\n');
}

describe.skipIf(!hasAll)('the rhythm of a case in the browser', { timeout: 240_000 }, () => {
  let [desk, planner, browser, context, page] = [null, null, null, null, null] as unknown as [TestDesk, Visitor & { readonly personId: string }, Browser, BrowserContext, Page];
  let caseId = '';
  /** Release at 10:05 UTC of 2 March 2026 (room-log.ts); the server's clock is set by the test and runs on. */
  let clock = { at: Date.parse('2026-03-02T11:00:00Z'), since: Date.now() };
  const watch: Watch = { asked: [], problems: [] };

  beforeAll(async () => {
    desk = await makeTestDesk({ pagesFolder, readNow: () => clock.at + Date.now() - clock.since });
    desk.server.door.firstStart.token = null;
    caseId = must(await openTrainingCase(desk.opened.store)).caseId;
    planner = await desk.enter('operator');
    const { sha256: planSha256 } = must(await desk.opened.store.putDocument('plan', makeStoredPlan().planText));
    await add([{ kind: 'plan.made', data: { planSha256, surveySha256: null, basedOnSeq: 2 } }]);
    must(await desk.opened.store.appendRecords({ caseId, by: planner.personId, records: makeLog([[60, depthEntry(3)], [200, { is: 'fraction', ratio: 0.8 }], [300, { is: 'phase', phase: 'released' }], [400, depthEntry(4, 0.5)]]) }));
    browser = await chromium.launch({ executablePath: CHROMIUM, args: [...BROWSER_ARGS] });
    await enterPage();
  }, 240_000);
  afterAll(async () => {
    if (looks) console.log([...watch.problems, ...desk.defects].join('\n'));
    await browser?.close();
    await desk?.close();
  });

  /** Two hours ahead of UTC: what is typed is the ward's clock, what is stored is UTC. */
  async function enterPage(): Promise<void> {
    await context?.close();
    context = await browser.newContext({ viewport: { width: 1280, height: 900 }, reducedMotion: 'reduce', timezoneId: 'Europe/Athens' });
    const [name, value] = planner.cookie.split('=') as [string, string];
    await context.addCookies([{ name, value, url: desk.origin, httpOnly: true, sameSite: 'Strict' }]);
    page = await context.newPage();
    page.setDefaultTimeout(20_000);
    watchPage(page, watch);
  }
  const readState = async (): Promise<CaseState> => must(await desk.opened.store.readState(caseId));
  async function add(events: readonly NewCaseEvent[]): Promise<void> {
    must(await desk.opened.store.append({ caseId, expectSeq: (await readState()).seq, by: planner.personId, events }));
  }
  const goTo = async (): Promise<void> => {
    await page.goto(`${desk.origin}/case/${caseId}/rhythm`);
    await page.waitForSelector('.rhythm-word');
  };
  /** Only ahead: a session of a day before is over, so the person logs in again. */
  const moveTo = async (iso: string): Promise<void> => {
    clock = { at: Date.parse(iso), since: Date.now() };
    planner = await desk.enter('operator');
    await enterPage();
    await goTo();
  };
  const partSays = (part: string, text: string | RegExp) => expect.poll(() => page.locator(`.part.${part}`).innerText(), { timeout: 15_000 }).toMatch(text);
  const answerSays = (text: string) => partSays('answer', new RegExp(text.replace(/[.*+?^${}()|[\]\\]/g, '\\$&'), 'i'));
  async function look(name: string): Promise<void> {
    if (looks === undefined) return;
    mkdirSync(looks, { recursive: true });
    await page.screenshot({ path: join(looks, `${name}.png`), fullPage: true });
  }
  const openForm = async (moment: string) => {
    const details = page.locator('.ecg-entry').filter({ has: page.locator(`[name="${moment}-day"]`) });
    if (!(await details.evaluate((d) => (d as HTMLDetailsElement).open))) await details.locator('summary').click();
    return details.locator('form');
  };

  test('before any ECG it cannot be said; the referral’s numbers are offered for the baseline, and only with a time', async () => {
    await goTo();
    await answerSays('CANNOT SAY');
    await partSays('doubt', /PR 178 ms, QRS 92 ms/);
    await look('rhythm-empty');
    const form = await openForm('baseline');
    await form.getByRole('button', { name: RHYTHM_PAGE_EN.fromReferral }).click();
    await form.getByRole('button', { name: RHYTHM_PAGE_EN.save }).click();
    await form.getByText(RHYTHM_PAGE_EN.wrongTime).waitFor();
    expect((await readState()).result.ecgs.baseline).toBeUndefined();
    await form.locator('[name=baseline-day]').fill('2026-03-01');
    await form.locator('[name=baseline-time]').fill('10:00');
    for (const [key, value] of [['rhythm', 'sinus'], ['bundle', 'none'], ['av', 'none']] as const) await form.locator(`[name=baseline-${key}]`).selectOption(value);
    await form.getByRole('button', { name: RHYTHM_PAGE_EN.save }).click();
    await expect.poll(async () => (await readState()).result.ecgs.baseline?.entered?.words).toEqual({ at: '2026-03-01T08:00:00.000Z', rhythm: 'sinus', prMs: 178, qrsMs: 92, ratePerMin: null, hvMs: null, bundleBlock: 'none', avBlock: 'none' });
  });

  test('an entry that contradicts itself is refused by name before it is stored', async () => {
    const form = await openForm('post');
    await form.locator('[name=post-day]').fill('2026-03-02');
    await form.locator('[name=post-time]').fill('12:30');
    await form.locator('[name=post-rhythm]').selectOption('atrial-fibrillation');
    await form.locator('[name=post-pr]').fill('180');
    await form.getByRole('button', { name: RHYTHM_PAGE_EN.save }).click();
    await form.getByText('A PR interval stands beside atrial fibrillation.').waitFor();
    expect((await readState()).result.ecgs.post).toBeUndefined();
    await look('rhythm-refused');
  });

  test('by keyboard alone: the ECG after release is entered, conduction is unchanged, and the wire may come out by the rule', async () => {
    const form = await openForm('post');
    await form.locator('[name=post-rhythm]').focus();
    await page.keyboard.type('sinus');
    for (const key of ['post-bundle', 'post-av']) {
      await page.keyboard.press('Tab');
      expect(await page.evaluate(() => (document.activeElement as HTMLInputElement).name)).toBe(key);
      expect((await readFocus(page))!.isMarked).toBe(true);
      await page.keyboard.type('none');
    }
    for (const value of ['182', '94', '72']) {
      await page.keyboard.press('Tab');
      await page.keyboard.press('Control+A');
      await page.keyboard.type(value);
    }
    await page.keyboard.press('Enter');
    await answerSays('unchanged');
    await answerSays('Temporary pacemaker and venous sheath out before leaving the room');
    await answerSays(RHYTHM_PAGE_EN['wireRule-out']);
    await answerSays(RHYTHM_PAGE_EN['state-not yet due']);
    expect((await readState()).result.ecgs.post!.entered!.words).toMatchObject({ at: '2026-03-02T10:30:00.000Z', prMs: 182, qrsMs: 94, ratePerMin: 72, bundleBlock: 'none' });
    await look('rhythm-unchanged');
    expect(await page.locator('#rhythm').innerText()).not.toMatch(/risk|\d ?% (chance|probab)/i);
    expect(await findBreaches(page)).toEqual([]);
  });

  test('the timer runs by the server’s clock', async () => {
    const answer = await page.locator('.rhythm-next .time').innerText();
    await expect.poll(() => page.locator('.rhythm-next .time').innerText(), { timeout: 70_000 }).not.toBe(answer);
    await moveTo('2026-03-03T10:30:00Z');
    await answerSays('24 hours');
    expect(await page.locator('.rhythm-next').innerText()).toMatch(/\bdue\b/i);
  });

  test('a record that names nobody asks for a reason; its name is not sent; read, it waits for a person’s word', async () => {
    const form = await openForm('h24');
    await form.locator('[name=h24-day]').fill('2026-03-03');
    await form.locator('[name=h24-time]').fill('12:10');
    await form.locator('input[type=file]').setInputFiles({ name: 'Training Phantom 1944.csv', mimeType: 'text/csv', buffer: Buffer.from(drawCsv(230, 146)) });
    await form.locator('.reason input').fill('Seen at the recorder by two.');
    await look('rhythm-other-patient');
    await form.getByRole('button', { name: RHYTHM_PAGE_EN.handInSo }).click();
    await expect.poll(async () => (await readState()).result.ecgs.h24?.joined?.takenAt).toBe('2026-03-03T10:10:00.000Z');
    await answerSays('CANNOT SAY');
    await partSays('next', /say rhythm, bundle branch block and AV block of “24 hours”/);
    expect(watch.asked.filter((url) => /Phantom|1944|recorder/i.test(url))).toEqual([]);
    await look('rhythm-record');
    const again = await openForm('h24');
    await again.locator('[name=h24-rhythm]').selectOption('sinus');
    await again.locator('[name=h24-bundle]').selectOption('left');
    await again.locator('[name=h24-av]').selectOption('none');
    await again.getByRole('button', { name: RHYTHM_PAGE_EN.save }).click();
    await answerSays('new conduction change');
    await answerSays(RHYTHM_PAGE_EN['wireRule-keep']);
    await answerSays(RHYTHM_PAGE_EN.unverified);
    const row = page.locator('.ecgs tbody tr').nth(2);
    expect(await row.innerText()).toMatch(/left/);
    expect(await row.innerText()).toMatch(/from baseline/);
    await look('rhythm-change');
    // A person's number beside the record's: both stand, the contradiction is named.
    const third = await openForm('h24');
    await third.locator('[name=h24-pr]').fill('180');
    await third.getByRole('button', { name: RHYTHM_PAGE_EN.save }).click();
    await partSays('doubt', /PR is entered as 180 ms; the record gives/);
    await look('rhythm-contradiction');
    expect(await findBreaches(page)).toEqual([]);
  });

  test('discharged with a new block: watched, and on the clinic list from the seventh day on', async () => {
    const put = async (label: string, value: string): Promise<void> => {
      const control = page.locator('.part.next').getByLabel(label, { exact: true });
      if ((await control.evaluate((c) => c.tagName)) === 'SELECT') await control.selectOption(value);
      else {
        await control.fill(value);
        await page.keyboard.press('Tab');
      }
      await expect.poll(async () => Object.values((await readState()).result.entries).map((e) => e.value)).toContain(value);
    };
    await put(RHYTHM_PAGE_EN['watch.wire'], 'out');
    await partSays('doubt', /The wire is out, and a rule that holds keeps it/);
    await put(RHYTHM_PAGE_EN['watch.monitor'], 'ambulatory');
    await put(RHYTHM_PAGE_EN['watch.recorder'], 'recorder 12');
    await put(RHYTHM_PAGE_EN['watch.dischargedOn'], '2026-03-03');
    await put(RHYTHM_PAGE_EN['watch.reviewOn'], '2026-03-17');
    await answerSays('until 2026-03-17 (14 days from discharge');
    await answerSays(RHYTHM_PAGE_EN['late-result wanted']);
    await look('rhythm-discharged');
    await moveTo('2026-03-10T08:00:00Z');
    await answerSays(RHYTHM_PAGE_EN.onList);
    expect(await page.locator('.rhythm-next').innerText()).toContain(RHYTHM_PAGE_EN['state-overdue']);
    await answerSays('since 2026-03-10');
    await look('rhythm-list');
    await page.locator('.part.next').getByLabel(RHYTHM_PAGE_EN['watch.monitorResult'], { exact: true }).selectOption('no block');
    await expect.poll(() => page.locator('.part.answer').innerText()).not.toContain(RHYTHM_PAGE_EN.onList);
    await answerSays(RHYTHM_PAGE_EN['late-read']);
  });

  test('on a phone, in the dark and in grey the page still stands', async () => {
    await page.evaluate(() => document.documentElement.setAttribute('data-theme', 'room'));
    await look('rhythm-dark');
    expect(await findBreaches(page)).toEqual([]);
    await page.evaluate(() => document.documentElement.removeAttribute('data-theme'));
    await page.setViewportSize({ width: 390, height: 800 });
    await goTo();
    expect(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth + 1), 'does not scroll sideways').toBe(true);
    await look('rhythm-phone');
    await page.setViewportSize({ width: 1280, height: 900 });
    await page.evaluate(() => (document.documentElement.style.filter = 'grayscale(1)'));
    await look('rhythm-grey');
  });

  test('the published pathway is had as a file under Tables; it is unsigned', async () => {
    await page.goto(`${desk.origin}/tables`);
    const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: HOUSE_PAGES_EN.proposalGet }).click()]);
    expect(download.suggestedFilename()).toBe('rhythm-rules.json');
    const stream = await download.createReadStream();
    const parts: Buffer[] = [];
    for await (const part of stream) parts.push(part as Buffer);
    expect(JSON.parse(Buffer.concat(parts).toString('utf8'))).toMatchObject({ format: 'trinadir.rhythm-rules/1', signedBy: '', training: false });
    expect(watch.problems.filter((p) => !/401|422/.test(p))).toEqual([]);
    expect(desk.defects).toEqual([]);
  });
});
