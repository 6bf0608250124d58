/**
 * What a person waits for at the desk, in a real browser with software drawing and the real program: the first page after a
 * start with 1,000 stored cases, a case opened, scrolling a cut of 512 x 512, a dragged mark answered, a CT of 300 MB handed
 * in. The other column is the promise in ms; for the upload it is a plain copy of the same files. Medians.
 */
import { closeSync, existsSync, fsyncSync, mkdirSync, mkdtempSync, openSync, readFileSync, readdirSync, rmSync, writeFileSync, writeSync } from 'node:fs';
import { randomFillSync } from 'node:crypto';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';
import { askDesk, BROWSER_ARGS, CHROMIUM, dropFiles, makeFirstAccount, startDesk, writeSmallRoot } from '../test/support/drive-desk.mjs';

const ROOT = dirname(dirname(fileURLToPath(import.meta.url)));
const TITLE = 'What a person waits for at the desk, in Chromium with software drawing (other column: the promise; for the upload a plain copy)';
const CASES = 1000;
const MB = 1024 * 1024;
const UPLOAD = { files: 600, bytes: MB / 2 };

export const name = 'desk';

export async function run({ print }) {
  if (!existsSync(CHROMIUM)) return { title: TITLE, rows: [], notes: [`No browser at ${CHROMIUM}; name one with CHROMIUM.`] };
  if (!existsSync(join(ROOT, 'dist', 'web', 'index.html'))) return { title: TITLE, rows: [], notes: ['The pages are not built; run npm run setup first.'] };
  const top = mkdtempSync(join(tmpdir(), 'trinadir-bench-desk-'));
  const browser = await chromium.launch({ executablePath: CHROMIUM, args: [...BROWSER_ARGS] });
  try {
    return await measure(top, browser, print);
  } finally {
    await browser.close();
    rmSync(top, { recursive: true, force: true });
  }
}

async function measure(top, browser, print) {
  const dataFolder = join(top, 'data');
  const rows = [];
  const put = (what, promisedMs, oursMs, note = '') => rows.push({ what, oursMs, theirsMs: promisedMs, goal: 1, note });

  print(`  storing ${CASES} cases ...`);
  await storeCases(dataFolder);
  let desk = await startDesk(dataFolder);
  const context = await browser.newContext({ viewport: { width: 1280, height: 1000 }, reducedMotion: 'reduce' });
  const page = await context.newPage();
  await makeFirstAccount(page, desk);

  print('  first page after a start ...');
  const firsts = [];
  for (let i = 0; i < 3; i++) {
    const { port } = new URL(desk.origin); // the same again: the session of the browser holds
    await desk.stop();
    desk = await startDesk(dataFolder, port);
    firsts.push(await timed(async () => {
      await page.goto(desk.origin);
      await page.waitForSelector('table.work tbody tr');
    }));
  }
  put(`first page after a start, ${CASES} stored cases`, 1000, median(firsts));

  print('  handing in a CT and planning it ...');
  const { caseId } = (await askDesk(page, '/api/cases', { method: 'POST', body: { label: 'bench', procedureOn: null } })).body;
  await enterIdentity(page, caseId);
  await page.goto(`${desk.origin}/case/${caseId}/scan`);
  await page.waitForSelector('.drop');
  await dropFiles(page, '.drop', [writeSmallRoot(top)]);
  await page.waitForSelector('.case-line a[href$="/root"][title^="answered"]', { timeout: 300_000 });

  print('  opening a case ...');
  const opens = [];
  const link = `a[href="/case/${caseId}"]`;
  for (let i = 0; i < 7; i++) {
    await page.goto(`${desk.origin}/?find=bench`);
    await page.waitForSelector(link);
    opens.push(await page.evaluate((selector) => new Promise((done) => {
      const from = performance.now();
      const look = () => (document.querySelector('#referral h2') ? done(performance.now() - from) : requestAnimationFrame(look));
      document.querySelector(selector).click();
      look();
    }), link));
  }
  put('open a case from the work list', 500, median(opens));

  await page.goto(`${desk.origin}/case/${caseId}/root`);
  await page.waitForSelector('[data-view=across] canvas[data-kind=full]');
  await page.waitForTimeout(1500);
  print('  scrolling ...');
  const scrolls = [];
  for (let i = 0; i < 3; i++) scrolls.push(await scroll(page));
  const frameMs = median(scrolls.map((s) => s.frameMs));
  const { sidePx } = scrolls[0];
  put(`one picture while scrolling, ${sidePx} x ${sidePx}`, 1000 / 30, frameMs, `${(1000 / frameMs).toFixed(0)} pictures a second`);

  print('  dragging ...');
  await page.locator('[data-view=across]').focus();
  await page.keyboard.press('0'); // as it opened: a mark far from the cut is not drawn
  await page.waitForTimeout(500);
  const drags = [];
  for (let i = 0; i < 9; i++) drags.push(await drag(page, i));
  put('a nadir dragged by a step to the ring, size and landing that answer it', 300, median(drags));

  print('  handing in 300 MB ...');
  const folder = join(top, 'upload');
  writeFiles(folder, UPLOAD.files, UPLOAD.bytes);
  const single = join(top, 'one');
  writeFiles(single, 1, 300 * MB);
  const many = [];
  const one = [];
  const [copies, syncs, copiesOne] = [[], [], []];
  for (let i = 0; i < 3; i++) {
    copies.push(await timed(() => copyFiles(folder, join(top, `copy-${i}`), false)));
    many.push(await upload(page, desk, folder));
    copiesOne.push(await timed(() => copyFiles(single, join(top, `copy-one-${i}`), false)));
    one.push(await upload(page, desk, join(single, '0.bin')));
    syncs.push(await timed(() => copyFiles(folder, join(top, `copy-sync-${i}`), true)));
    for (const each of [`copy-${i}`, `copy-one-${i}`, `copy-sync-${i}`]) rmSync(join(top, each), { recursive: true, force: true });
  }
  rows.push({ what: `300 MB handed in by drop, ${UPLOAD.files} files`, oursMs: median(many), theirsMs: median(copies), goal: 2, note: `${rate(median(many))} MB/s` });
  rows.push({ what: '300 MB handed in by drop, one file', oursMs: median(one), theirsMs: median(copiesOne), goal: 2, note: `${rate(median(one))} MB/s` });
  await desk.stop();
  return { title: TITLE, rows, notes: [`a copy of the ${UPLOAD.files} files that waits until they are on the disk: ${median(syncs).toFixed(0)} ms`, 'a copy stays in the memory of this machine; an upload goes through browser, loopback and server as well'] };
}

const rate = (ms) => (300_000 / ms).toFixed(0);
const median = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)];
async function timed(work) {
  const from = process.hrtime.bigint();
  await work();
  return Number(process.hrtime.bigint() - from) / 1e6;
}

async function storeCases(dataFolder) {
  const { openStore } = await import(join(ROOT, 'dist', 'host', 'storage', 'open-store.js'));
  const opened = await openStore({ dataFolder });
  if (!opened.ok) throw new Error(opened.failure.code);
  for (let i = 0; i < CASES; i++) {
    const day = new Date(Date.UTC(2026, 0, 1 + (i % 360))).toISOString().slice(0, 10);
    const events = [
      { kind: 'case.opened', data: { label: `case ${i + 1}`, procedureOn: day, training: false } },
      { kind: 'referral.entered', data: { field: 'identity.sex', value: i % 2 ? 'F' : 'M', unit: null } },
      { kind: 'referral.entered', data: { field: 'body.heightCm', value: 150 + (i % 40), unit: 'cm' } },
    ];
    const done = await opened.value.store.append({ caseId: `case-${i + 1}`, expectSeq: 0, by: 'bench', events });
    if (!done.ok) throw new Error(done.failure.code);
  }
  await opened.value.close();
}

async function enterIdentity(page, caseId) {
  const events = [['identity.name', 'Training Phantom'], ['identity.patientId', 'TRAINING-101']].map(([field, value]) => ({ kind: 'referral.entered', data: { field, value, unit: null } }));
  await askDesk(page, `/api/cases/${caseId}/events`, { method: 'POST', body: { expectSeq: 1, events } });
}

/** Two seconds of the wheel, one notch a picture of the screen; how many cuts came. */
function scroll(page) {
  return page.evaluate(async () => {
    const view = document.querySelector('[data-view=across]');
    view.style.width = '512px';
    await new Promise((done) => setTimeout(done, 600));
    const canvas = view.querySelector('canvas');
    const sidePx = canvas.width;
    const count = () => Number(canvas.dataset.drawn);
    const [from, at] = [count(), performance.now()];
    let way = 0;
    while (performance.now() - at < 2000) {
      view.dispatchEvent(new WheelEvent('wheel', { deltaY: Math.floor(way++ / 40) % 2 ? 50 : -50, bubbles: true, cancelable: true }));
      await new Promise(requestAnimationFrame);
    }
    return { frameMs: (performance.now() - at) / (count() - from), sidePx: Math.max(sidePx, canvas.width) };
  });
}

/** From the step of the pointer to the changed numbers on the page; the mark is put back afterwards. */
async function drag(page, turn) {
  const box = await page.locator('[data-view=across] [data-grip="nadir.R"] .reach').boundingBox();
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await page.mouse.move(x, y);
  await page.mouse.down();
  await page.mouse.move(x + 6, y);
  await page.waitForTimeout(800);
  const tookMs = page.evaluate(() => new Promise((done) => {
    let from = 0;
    const place = document.querySelector('.at-once');
    const watch = new MutationObserver(() => {
      if (from === 0) return;
      watch.disconnect();
      requestAnimationFrame(() => done(performance.now() - from)); // drawn, too
    });
    watch.observe(place, { subtree: true, characterData: true, childList: true });
    addEventListener('pointermove', () => (from ||= performance.now()), { capture: true, once: true });
  }));
  await page.mouse.move(x + 26 + turn, y + 8);
  const took = await tookMs;
  await page.keyboard.press('Escape');
  await page.mouse.up();
  await page.waitForTimeout(600);
  return took;
}

async function upload(page, desk, path) {
  const { caseId } = (await askDesk(page, '/api/cases', { method: 'POST', body: { label: 'upload', procedureOn: null } })).body;
  await page.goto(`${desk.origin}/case/${caseId}/scan`);
  await page.waitForSelector('.drop');
  const sent = page.waitForRequest(/\/received$/, { timeout: 300_000 });
  const tookMs = timed(() => sent);
  await dropFiles(page, '.drop', [path]);
  const took = await tookMs;
  await page.waitForTimeout(1500); // the server finds no CT in it; that is not measured
  return took;
}

function writeFiles(folder, count, bytes) {
  mkdirSync(folder, { recursive: true });
  const content = Buffer.alloc(bytes);
  for (let i = 0; i < count; i++) {
    randomFillSync(content, 0, Math.min(bytes, 64 * 1024));
    writeFileSync(join(folder, `${i}.bin`), content);
  }
}
function copyFiles(from, to, isOnDisk) {
  mkdirSync(to, { recursive: true });
  for (const each of readdirSync(from)) {
    const file = openSync(join(to, each), 'w');
    writeSync(file, readFileSync(join(from, each)));
    if (isOnDisk) fsyncSync(file);
    closeSync(file);
  }
}
