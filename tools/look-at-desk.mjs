/**
 * node tools/look-at-desk.mjs [--out DIR] [--only NAME,...]: pictures of every page of the desk, to be looked at by a person: desk and
 * room light, the width of a phone, in greys, and as people with three kinds of colour blindness see it. Makes a case from a
 * drawn root in a store of its own, which is gone afterwards. Pictures go to out/desk (not kept in git).
 */
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { chromium } from 'playwright-core';
import { askDesk, BROWSER_ARGS, CHROMIUM, dropFiles, makeFirstAccount, startDesk, writeSmallRoot } from '../test/support/drive-desk.mjs';

const { values } = parseArgs({ options: { out: { type: 'string', default: 'out/desk' }, only: { type: 'string' } } });
const LOOKS = [
  { name: 'desk', light: 'desk', width: 1280, sight: 'none' },
  { name: 'room', light: 'room', width: 1280, sight: 'none' },
  { name: 'phone', light: 'desk', width: 390, sight: 'none' },
  { name: 'greys', light: 'desk', width: 1280, sight: 'achromatopsia' },
  ...['protanopia', 'deuteranopia', 'tritanopia'].map((sight) => ({ name: sight, light: 'desk', width: 1280, sight })),
];
const CASE_PAGES = ['referral', 'scan', 'root', 'size', 'landing', 'views', 'release', 'dry-run', 'huddle'];
const ENTRIES = {
  'identity.name': 'Training Phantom', 'identity.patientId': 'TRAINING-101', 'identity.birthDate': '1944-05-17', 'identity.sex': 'F', 'plan.valveForm': 'three-cusps',
};
const looks = values.only ? LOOKS.filter((l) => values.only.split(',').includes(l.name)) : LOOKS;

mkdirSync(values.out, { recursive: true });
const top = mkdtempSync(join(tmpdir(), 'trinadir-look-'));
const desk = await startDesk(join(top, 'data'));
const browser = await chromium.launch({ executablePath: CHROMIUM, args: [...BROWSER_ARGS] });
try {
  const page = await browser.newPage({ viewport: { width: 1280, height: 900 }, reducedMotion: 'reduce' });
  const shoot = async (name) => {
    const client = await page.context().newCDPSession(page);
    for (const look of looks) {
      await page.setViewportSize({ width: look.width, height: 900 });
      await page.evaluate((light) => (document.documentElement.dataset.theme = light), look.light);
      await client.send('Emulation.setEmulatedVisionDeficiency', { type: look.sight });
      await page.waitForTimeout(400);
      await page.screenshot({ path: join(values.out, `${name}-${look.name}.png`), fullPage: true });
    }
    await client.send('Emulation.setEmulatedVisionDeficiency', { type: 'none' });
    await page.setViewportSize({ width: 1280, height: 900 });
    await client.detach();
  };
  const say = (text) => console.error(text);

  say('first start');
  await page.goto(desk.url);
  await page.waitForSelector('h1');
  await shoot('first-start');
  await makeFirstAccount(page, desk);
  const opened = await askDesk(page, '/api/cases', { method: 'POST', body: { label: 'walk 1', procedureOn: '2026-03-02' } });
  const { caseId, seq } = opened.body;
  await shoot('work-list');
  const events = Object.entries(ENTRIES).map(([field, value]) => ({ kind: 'referral.entered', data: { field, value, unit: null } }));
  await askDesk(page, `/api/cases/${caseId}/events`, { method: 'POST', body: { expectSeq: seq, events } });
  await page.goto(`${desk.origin}/case/${caseId}/scan`);
  await page.waitForSelector('.drop');
  await shoot('scan-empty');
  say('handing in the CT, planning');
  await dropFiles(page, '.drop', [writeSmallRoot(top)]);
  await page.waitForSelector('.case-line a[href$="/root"][title^="answered"], .notice form, .problem', { timeout: 180_000 });
  if (!(await page.locator('.case-line a[href$="/root"][title^="answered"]').count())) throw new Error(await page.locator('main').innerText());
  await askDesk(page, '/api/cases', { method: 'POST', body: { label: 'walk 2', procedureOn: null } });

  const open = async (path) => {
    await page.goto(`${desk.origin}${path}`);
    await page.waitForSelector('h1');
    await page.waitForTimeout(700);
  };
  for (const [name, path] of [['work-list-two', '/'], ['tables', '/tables'], ['audit', '/audit'], ['people', '/people'], ['account', '/account'], ['missing', '/nowhere']]) {
    say(name);
    await open(path);
    await shoot(name);
  }
  for (const name of CASE_PAGES) {
    say(name);
    await open(`/case/${caseId}/${name}`);
    await page.waitForSelector(`#${name} h2`);
    if (name === 'root') await page.waitForSelector('[data-view=across] canvas[data-kind=full]');
    if (name === 'release') await page.waitForTimeout(4000); // the what-if has answered
    await shoot(name);
  }
  say('a mark on its way, and kept');
  await open(`/case/${caseId}/root`);
  await page.waitForSelector('[data-view=across] canvas[data-kind=full]');
  await page.locator('[data-view=across] [data-grip="nadir.R"]').focus();
  for (let i = 0; i < 4; i++) await page.keyboard.press('Shift+PageUp');
  await page.waitForTimeout(1500);
  await shoot('root-held');
  await page.locator('[data-view=across] [data-grip="nadir.R"]').focus();
  await page.keyboard.press('Shift+PageUp');
  await page.keyboard.press('Enter');
  await page.waitForTimeout(1200);
  await shoot('root-recomputing');
} finally {
  await browser.close();
  await desk.stop();
  rmSync(top, { recursive: true, force: true });
}
