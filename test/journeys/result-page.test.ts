/**
 * The result in a real browser: two readers grade unseen, pressures are handed in, an echo is entered, a run is measured, the
 * verdict is shown, decided over and put on the wall; a manoeuvre begins a new round.
 */
import { existsSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium, type Browser, type BrowserContext, type Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { CaseEvent } from '../../src/core/case/case-events.ts';
import type { CaseState } from '../../src/core/case/fold-case.ts';
import type { RoomEntry } from '../../src/core/room/room-types.ts';
import { ECHO_EN } from '../../src/core/text/echo-en.ts';
import { RESULT_PAGE_EN } from '../../src/core/text/result-page-en.ts';
import { VERDICT_EN } from '../../src/core/text/verdict-en.ts';
import { BROWSER_ARGS, CHROMIUM, findBreaches, watchPage, type Watch } from '../support/drive-desk.mjs';
import { makeReadyCase } from '../support/frozen-fixture.ts';
import { makeTestDesk, must, type TestDesk, type Visitor } from '../support/make-desk.ts';
import { makeContrastFile, makePressureCsv } from '../support/result-files.ts';

const pagesFolder = process.env['TEST_PAGES'] ?? fileURLToPath(new URL('../../dist/web', import.meta.url));
/** Where pictures for the eye go; none are taken without it. */
const looks = process.env['LOOK'];
const hasAll = existsSync(CHROMIUM) && existsSync(join(pagesFolder, 'index.html'));
const isRelease = process.env['CI'] !== undefined && process.env['CI'] !== '';
test('the browser and the build are there when the result must be walked', () => {
  if (isRelease) expect(hasAll).toBe(true);
});

type Entered = Visitor & { readonly personId: string; readonly login: string };

describe.skipIf(!hasAll)('a result in the browser', { timeout: 240_000 }, () => {
  const caseId = 'result-1';
  const watch: Watch = { asked: [], problems: [] };
  const secretWatch: Watch = { asked: [], problems: [] };
  let [desk, one, two, browser, page, otherPage] = [null, null, null, null, null, null] as unknown as [TestDesk, Entered, Entered, Browser, Page, Page];
  let logged = 0;

  const readState = async (): Promise<CaseState> => must(await desk.opened.store.readState(caseId));
  const logRoom = async (entry: RoomEntry, agoS = 0): Promise<void> => {
    const at = new Date(Date.now() - agoS * 1000).toISOString();
    logged += 1;
    const record = { entryId: `entry-of-test-${logged}`, clientId: 'client-of-test', place: 'desk', count: logged, monotonicMs: 1000 * logged, clientAt: at, happenedAt: at, offset: { addedMs: 0, withinMs: 5 }, corrects: null, entry };
    const answer = await one.ask(`/api/cases/${caseId}/room`, { method: 'POST', body: { records: [record] } });
    if (answer.status !== 200) throw new Error(answer.text);
  };
  const enterPage = async (visitor: Entered, at: Watch, width = 1280): Promise<Page> => {
    const context: BrowserContext = await browser.newContext({ viewport: { width, height: 900 }, reducedMotion: 'reduce' });
    const [name, value] = visitor.cookie.split('=') as [string, string];
    await context.addCookies([{ name, value, url: desk.origin, httpOnly: true, sameSite: 'Strict' }]);
    const made = await context.newPage();
    made.setDefaultTimeout(20_000);
    watchPage(made, at);
    return made;
  };
  const goTo = async (at: Page): Promise<void> => {
    await at.goto(`${desk.origin}/case/${caseId}/result`);
    await at.waitForSelector('#result h2');
    await at.waitForSelector('.gate');
  };
  async function look(name: string, at: Page = page): Promise<void> {
    if (looks === undefined) return;
    mkdirSync(looks, { recursive: true });
    await at.screenshot({ path: join(looks, `${name}.png`), fullPage: true });
  }
  const grade = async (at: Page, low: number, note: { readonly rate?: string; readonly loading?: string } = {}): Promise<void> => {
    const form = at.locator('form.grade');
    await form.locator(`input[name=low]`).nth(low).check({ force: true });
    if (note.rate) await form.locator('[name=rate]').fill(note.rate);
    if (note.loading) await form.locator('[name=loading]').fill(note.loading);
    await form.locator('button[type=submit]').click();
  };

  /** Where a pixel of the drawn spectrum (320 x 200) stands on its picture. */
  const placeOn = async ([column, row]: readonly [number, number]): Promise<{ x: number; y: number }> => {
    const box = (await page.locator('.echo-tracing .frame-picture').boundingBox())!;
    return { x: ((column + 0.5) / 320) * box.width, y: ((row + 0.5) / 200) * box.height };
  };

  beforeAll(async () => {
    desk = await makeTestDesk({ pagesFolder });
    desk.server.door.firstStart.token = null;
    [one, two] = [await desk.enter('operator'), await desk.enter('planner')];
    must(await desk.opened.store.append({ caseId, expectSeq: 0, by: one.personId, events: [
      { kind: 'case.opened', data: { label: 'result 1', procedureOn: '2026-03-02', training: true } },
      ...Object.entries({ 'identity.name': 'Invented Person', 'identity.birthDate': '1944-05-17', 'identity.patientId': 'INV-0042' }).map(([field, value]) => ({ kind: 'referral.entered' as const, data: { field, value, unit: null } })),
    ] }));
    const ready = await makeReadyCase(desk.opened.store, caseId, one.personId);
    const frozen = await one.ask(`/api/cases/${caseId}/freeze`, { method: 'POST', body: { expectSeq: ready.seq } });
    if (frozen.status !== 200) throw new Error(frozen.text);
    browser = await chromium.launch({ executablePath: CHROMIUM, args: [...BROWSER_ARGS] });
    [page, otherPage] = [await enterPage(one, watch), await enterPage(two, secretWatch)];
  }, 240_000);
  afterAll(async () => {
    if (looks) console.log([...watch.problems, ...secretWatch.problems, ...desk.defects].join('\n'));
    await browser?.close();
    await desk?.close();
  });

  test('before the release the page says so; nobody reads the result yet', async () => {
    await goTo(page);
    await page.getByText(RESULT_PAGE_EN.notReleased).waitFor();
    expect(await page.locator('.gate').innerText()).toContain(RESULT_PAGE_EN.gateNobody);
    await look('result-empty');
    expect(await findBreaches(page)).toEqual([]);
    await logRoom({ is: 'phase', phase: 'released' }, 300);
    await page.getByText(RESULT_PAGE_EN.notReleased).waitFor({ state: 'detached' });
  });

  test('pressures of a recording without a patient join with a reason; indices of leak stay hidden until the own grade', async () => {
    const file = { name: 'Person Invented 1944.csv', mimeType: 'text/csv', buffer: Buffer.from(makePressureCsv({ leakAreaCm2: 0.02 })) };
    await page.setInputFiles('#result-pressures input[type=file]', file);
    await page.locator('#result-pressures .notice').waitFor();
    await look('result-other-patient');
    await page.fill('#result-pressures [name=because]', 'Seen at the recorder by two.');
    await page.getByRole('button', { name: RESULT_PAGE_EN.joinAll }).click();
    await page.locator('.trace-picture').waitFor();
    await page.locator('#result-pressures .facts').first().waitFor();
    expect(await page.locator('#result-pressures').innerText()).toContain(RESULT_PAGE_EN.indicesSealed);
    expect(await page.locator('#result').innerText()).not.toContain(RESULT_PAGE_EN.arIndex);
    expect(watch.asked.filter((url) => /Person|1944|recorder/i.test(url))).toEqual([]);
    const care = page.locator('#result-pressures .care');
    await care.locator('[name=loading]').fill('no pressor, no pacing');
    await care.getByRole('button', { name: RESULT_PAGE_EN.noteStore, exact: true }).click();
    await expect.poll(async () => (await readState()).result.recordings[0]?.note?.loadingNote).toBe('no pressor, no pacing');
    await look('result-pressures');
  });

  test('a recording that cannot be measured is kept with its reason and next step', async () => {
    const file = { name: 'flat.csv', mimeType: 'text/csv', buffer: Buffer.from('time s;X\n0;1\n1;1\n2;1\n') };
    await page.setInputFiles('#result-pressures input[type=file]', file);
    await page.locator('#result-pressures .notice').waitFor();
    await look('result-refused');
    if ((await page.locator('#result-pressures [name=because]').count()) > 0) await page.getByRole('button', { name: RESULT_PAGE_EN.leaveFile }).click();
  });

  test('pressures that come in parts are read beat by beat, get old, and are forgotten', async () => {
    await page.locator('.live').evaluate((each) => ((each as HTMLDetailsElement).open = true)); // the checker of the first test may have opened it
    await page.getByRole('button', { name: RESULT_PAGE_EN.liveBegin, exact: true }).click();
    const rows = makePressureCsv({}, 8).split('\n');
    const half = Math.floor(rows.length / 2);
    for (const part of [rows.slice(0, half), rows.slice(half)]) {
      await page.locator('#live-paste').fill(part.join('\n'));
      await page.getByRole('button', { name: RESULT_PAGE_EN.liveSend }).click();
    }
    await page.locator('.live-numbers .facts').waitFor();
    expect(await page.locator('.live-numbers').innerText()).toContain(RESULT_PAGE_EN.indicesSealed);
    await look('result-live');
    await page.locator('.live-numbers.old').waitFor(); // five seconds without a beat
    await page.getByRole('button', { name: RESULT_PAGE_EN.liveForget }).click();
    await page.locator('.live-numbers').waitFor({ state: 'detached' });
    expect((await readState()).result.recordings).toHaveLength(1);
  });

  test('an echo is entered; what contradicts is named at once, a unit slip is asked back', async () => {
    await page.getByRole('button', { name: RESULT_PAGE_EN.beginEcho, exact: true }).click();
    const put = async (code: keyof typeof ECHO_EN, value: string): Promise<void> => {
      await page.locator('#result-echo').getByLabel(ECHO_EN[code], { exact: true }).fill(value);
      await page.keyboard.press('Tab');
    };
    await put('field-valve-velocity', '210');
    await page.locator('#result-echo .problem').first().waitFor();
    await put('field-valve-velocity', '2.1');
    await put('field-valve-mean-gradient', '30');
    await page.locator('#result-echo .contradictions').waitFor();
    await look('result-echo-contradiction');
    await put('field-valve-mean-gradient', '9');
    await page.locator('#result-echo .contradictions').waitFor({ state: 'detached' });
    await put('field-circumference', '6');
    await page.locator('#result-echo').getByLabel(ECHO_EN['field-leak-from'], { exact: true }).selectOption('mild');
    await expect.poll(async () => Object.keys((await readState()).result.echoes[0]?.entries ?? {}).length).toBe(4);
    const care = page.locator('#result-echo .care');
    await care.locator('[name=rate]').fill('72');
    await care.locator('[name=loading]').fill('no pressor');
    await care.getByRole('button', { name: RESULT_PAGE_EN.noteStore, exact: true }).click();
    await expect.poll(async () => (await readState()).result.echoes[0]?.note?.heartRatePerMin).toBe(72);
    await look('result-echo');
  });

  test('a picture joins with a reason; an envelope is marked on it by hand and key, and its numbers become entries', async () => {
    await page.setInputFiles('#result-echo .drop input[type=file]', fileURLToPath(new URL('../reference/echo/us-spectrum.dcm', import.meta.url)));
    await page.locator('#result-echo .drop [name=because]').fill('Seen at the machine by two.');
    await page.locator('#result-echo').getByRole('button', { name: RESULT_PAGE_EN.joinAll }).click();
    const picture = page.locator('.echo-tracing .frame-picture');
    await page.locator('.echo-tracing .frame-grey').waitFor();
    await page.locator('.echo-tracing select').first().selectOption('outflow');
    await picture.scrollIntoViewIfNeeded();
    await picture.click({ position: await placeOn([90, 81]) }); // just off the baseline of the drawn spectrum
    for (const [column, row] of [[100, 120], [110, 150], [122, 168], [134, 158], [146, 120], [156, 81]] as const) await picture.click({ position: await placeOn([column, row]) });
    await page.locator('.echo-tracing .facts').waitFor();
    await page.keyboard.press('Backspace'); // the last mark back, then by key
    await page.keyboard.press('Shift+ArrowLeft');
    await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press('Enter');
    await look('result-echo-traced');
    await page.getByRole('button', { name: RESULT_PAGE_EN.traceTake }).click();
    await expect.poll(async () => (await readState()).result.echoes[0]?.entries['outflow-vti']?.trace?.points.length).toBe(7);
    const entry = (await readState()).result.echoes[0]!.entries['outflow-velocity']!;
    expect(entry).toMatchObject({ from: 'person', trace: { is: 'envelope', frame: 1 } });
    expect(entry.value).toBeGreaterThan(0.5);
    await page.locator('#result-echo').getByLabel(ECHO_EN['field-outflow-vti'], { exact: true }).fill('');
    await page.keyboard.press('Tab'); // taken back: it contradicts the invented numbers of the valve
    await expect.poll(async () => (await readState()).result.echoes[0]?.entries['outflow-vti']).toBe(undefined);
    await page.locator('#result-echo').getByLabel(ECHO_EN['field-outflow-velocity'], { exact: true }).fill('');
    await page.keyboard.press('Tab');
    await expect.poll(async () => (await readState()).result.echoes[0]?.entries['outflow-velocity']).toBe(undefined);
  });

  test('a run is joined, regions are proposed, moved by hand and by key, and measured', async () => {
    const { bytes } = makeContrastFile({ regurgitantFraction: 0.12 });
    await page.setInputFiles('#result-angiogram .runs input[type=file]', { name: 'run.dcm', mimeType: 'application/dicom', buffer: Buffer.from(bytes) }, { timeout: 90_000 });
    await page.locator('.run-regions .frame-grey').waitFor({ timeout: 60_000 });
    await page.locator('.run-regions [name=rate]').fill('72');
    await page.locator('.run-regions [name=loading]').fill('no pressor');
    await page.getByRole('button', { name: RESULT_PAGE_EN.propose }).click();
    await expect.poll(async () => (await readState()).result.angiograms.length, { timeout: 60_000 }).toBe(1);
    await page.locator('.region-aorta').waitFor();
    await look('result-angiogram-proposed');
    const before = await page.locator('.region-aorta .mark').getAttribute('d');
    await page.getByRole('button', { name: RESULT_PAGE_EN.moveRight }).click();
    expect(await page.locator('.region-aorta .mark').getAttribute('d')).not.toBe(before);
    await page.getByRole('button', { name: RESULT_PAGE_EN.moveLeft }).click();
    const grip = (await page.locator('.region-aorta .grip').first().boundingBox())!;
    await page.mouse.move(grip.x + 7, grip.y + 7);
    await page.mouse.down();
    await page.mouse.move(grip.x + 9, grip.y + 5, { steps: 3 });
    await page.mouse.up();
    await page.getByText(RESULT_PAGE_EN.regionsTouched).waitFor();
    await page.getByRole('button', { name: RESULT_PAGE_EN.measure }).click();
    await expect.poll(async () => (await readState()).result.angiograms.length, { timeout: 60_000 }).toBe(2);
    expect(await page.locator('#result-angiogram').innerText()).toContain(RESULT_PAGE_EN.ratioSealed);
    await look('result-angiogram');
  });

  test('two readers are entered; each grades unseen; nothing of the other is in the page or fetched before', async () => {
    await page.getByRole('button', { name: RESULT_PAGE_EN.readersMe }).click();
    await goTo(otherPage);
    await otherPage.getByRole('button', { name: RESULT_PAGE_EN.readersMe }).click();
    await expect.poll(async () => (await readState()).result.readers?.personIds.length).toBe(2);
    await page.getByText(RESULT_PAGE_EN.gateYours).waitFor();
    await look('result-gate-closed');
    await grade(page, 1);
    await page.getByText(RESULT_PAGE_EN.gateStored).waitFor();
    expect(await page.locator('.show-verdict').count()).toBe(0);
    await look('result-gate-waits');
    // The second reader's page: the echo of the first is masked, no grade, no index, no verdict.
    const text = await otherPage.locator('#result').innerText();
    expect(text).toContain(RESULT_PAGE_EN.sealedShort);
    expect(text).not.toContain('AGREE');
    expect(text).not.toContain(RESULT_PAGE_EN.arIndex);
    const seen = await otherPage.evaluate(async (id) => (await fetch(`/api/cases/${id}/result`)).json() as Promise<{ verdict: { verdict: unknown }; grades: unknown[] }>, caseId);
    expect([seen.verdict.verdict, seen.grades]).toEqual([null, []]);
    await look('result-masked', otherPage);
    await grade(otherPage, 1, { rate: '72', loading: 'none' });
    await page.locator('.show-verdict').waitFor();
  });

  test('the verdict is shown with its intervals, remedies and doubts; it is logged once', async () => {
    await page.locator('.show-verdict').click();
    await page.locator('.leak-verdict').waitFor();
    await page.locator('figure.bars svg').waitFor();
    await look('result-verdict');
    const shown = (must(await desk.opened.store.listEvents(caseId, 0)) as readonly CaseEvent[]).filter((e) => e.kind === 'verdict.shown' && e.by === one.personId && (e.data as { what: string }).what === 'verdict');
    expect(shown).toHaveLength(1);
    const remedies = await page.locator('.remedies tbody th').allInnerTexts();
    expect(remedies).toEqual(['wait', 'post-dilate', 'second-valve', 'snare', 'closure', 'surgery'].map((code) => VERDICT_EN[`remedy-${code}` as 'remedy-wait']));
    expect(await findBreaches(page)).toEqual([]);
    await page.reload();
    await page.locator('.leak-verdict').waitFor(); // seen before in this round: shown again without another tap
  });

  test('the decision is stored with its reason, and the verdict goes to the wall by a tap', async () => {
    await page.getByRole('button', { name: RESULT_PAGE_EN.putOnWall }).click();
    await page.locator('.wall-tap [role=status]').waitFor();
    await expect.poll(async () => ((must(await desk.opened.store.listEvents(caseId, 0)) as readonly CaseEvent[]).filter((e): e is CaseEvent<'room.logged'> => e.kind === 'room.logged')).some(({ data }) => data.entry?.is === 'verdict')).toBe(true);
    await page.locator('.decision input[name=decision]').last().check();
    await page.fill('.decision [name=because]', 'All three below the line.');
    await page.getByRole('button', { name: RESULT_PAGE_EN.decideStore }).click();
    await expect.poll(async () => (await readState()).result.decided[0]).toMatchObject({ decision: 'finish', because: 'All three below the line.', answerSha256: expect.stringMatching(/^[0-9a-f]{64}$/) });
    await look('result-decided');
    await page.locator('.case-line a[aria-current=page] .mark-answered').waitFor();
    const [printed, others] = [await one.ask(`/api/cases/${caseId}/prints/result`), await two.ask(`/api/cases/${caseId}/prints/result`)];
    expect([printed.status, printed.headers.get('content-type'), printed.text.slice(0, 5)]).toEqual([200, 'application/pdf', '%PDF-']);
    expect([others.status, others.json<{ error: { code: string } }>().error.code]).toEqual([422, 'verdict-not-shown']); // it was not shown to the second reader
  });

  test('a manoeuvre begins a new round: the verdict goes, and the own grade comes first again', async () => {
    await logRoom({ is: 'dilated', balloonMm: 24, when: 'after' });
    await page.getByText(RESULT_PAGE_EN.gateAgain).waitFor();
    expect(await page.locator('.leak-verdict').count()).toBe(0);
    await look('result-new-round');
  });

  test('on a phone, in the dark and in forced colours nothing overflows and a checker finds nothing', async () => {
    for (const [name, options] of [['dark', { colorScheme: 'dark' }], ['forced', { forcedColors: 'active' }]] as const) {
      await page.emulateMedia(options);
      await look(`result-${name}`);
    }
    await page.emulateMedia({ colorScheme: 'light', forcedColors: 'none' });
    await page.setViewportSize({ width: 375, height: 800 });
    expect(await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)).toBeLessThanOrEqual(0);
    if (looks) for (const [name, part] of [['answer', '.part.answer'], ['why', '.verdict-why'], ['pressures', '#result-pressures'], ['angiogram', '#result-angiogram']] as const) if ((await page.locator(part).count()) > 0) await page.locator(part).screenshot({ path: join(looks, `result-phone-${name}.png`) });
    expect(await findBreaches(page)).toEqual([]);
    expect([...watch.problems, ...secretWatch.problems].filter((p) => !/40[19]|422/.test(p))).toEqual([]);
    expect(desk.defects).toEqual([]);
  });
});
