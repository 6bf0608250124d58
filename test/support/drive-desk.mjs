// Drives the desk as a person does: the real program in a folder of its own, a page of Chromium, files dropped on it.
// Plain Node, so that the journeys (TypeScript), the bench and tools/look-at-desk.mjs use the same.
import { spawn, spawnSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';

export const CHROMIUM = process.env.CHROMIUM ?? '/usr/bin/chromium';
export const BROWSER_ARGS = ['--no-sandbox', '--disable-gpu'];
export const PROGRAM = fileURLToPath(new URL('../../bin/trinadir.mjs', import.meta.url));
const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
export const FIRST = { login: 'anna', displayName: 'Anna Reader', password: 'three cusp nadirs make a plane' };

/** A drawn root as a small DICOM folder: planned in seconds, whole root inside. */
export function writeSmallRoot(top) {
  const shape = join(top, 'shape.json');
  const scan = { dims: [190, 190, 190], spacingMm: [0.65, 0.65, 0.6], sliceThicknessMm: 0.6 };
  writeFileSync(shape, JSON.stringify({ format: 'trinadir.phantom/1', from: { scenario: 'plain-root' }, scan }));
  const out = join(top, 'ct');
  const done = spawnSync(process.execPath, [PROGRAM, 'phantom', '--shape', shape, '--out', out], { encoding: 'utf8' });
  if (done.status !== 0) throw new Error(done.stderr);
  return join(out, 'dicom');
}

/** `trinadir serve`, on a free port unless one is named. Whatever it says on standard error is kept in `said`. */
export async function startDesk(dataFolder, port = '0') {
  const child = spawn(process.execPath, [PROGRAM, 'serve', '--data', dataFolder, '--port', port, '--json'], { stdio: ['ignore', 'pipe', 'pipe'] });
  const said = [];
  child.stderr.setEncoding('utf8').on('data', (text) => said.push(text));
  const ended = new Promise((resolve) => child.once('exit', resolve));
  const first = await Promise.race([new Promise((resolve) => createInterface({ input: child.stdout }).once('line', resolve)), ended.then(() => null)]);
  if (first === null) throw new Error(`trinadir serve ended: ${said.join('').slice(-600)}`);
  const { url, isFirstStart } = JSON.parse(first);
  return {
    url, isFirstStart, said, origin: new URL(url).origin, pid: child.pid,
    async stop() {
      child.kill('SIGTERM');
      await ended;
    },
  };
}

/** Everything a page asks for and everything that goes wrong on it. */
export function watchPage(page, watch = { asked: [], problems: [] }) {
  page.on('request', (request) => watch.asked.push(request.url()));
  page.on('pageerror', (problem) => watch.problems.push(`${page.url()}: ${problem.message}`));
  page.on('console', (message) => {
    if (message.type() === 'error' || message.type() === 'warning') watch.problems.push(`${page.url()}: ${message.text()}`);
  });
  return watch;
}

/** Fills the form of the first start; the token came with the address. */
export async function makeFirstAccount(page, desk) {
  await page.goto(desk.url);
  await page.fill('[name=login]', FIRST.login);
  await page.fill('[name=displayName]', FIRST.displayName);
  await page.fill('[name=password]', FIRST.password);
  await page.fill('[name=again]', FIRST.password);
  await page.click('button[type=submit]');
  await page.waitForSelector('.head');
}

/** A question to the server from inside the page, with its session. Gives { status, body }. */
export async function askDesk(page, path, options = {}) {
  return page.evaluate(async ([where, { method = 'GET', body }]) => {
    const session = await (await fetch('/api/session')).json();
    const answer = await fetch(where, { method, headers: { 'content-type': 'application/json', 'x-trinadir-csrf': session.csrfToken ?? '' }, ...(body === undefined ? {} : { body: JSON.stringify(body) }) });
    return { status: answer.status, body: await answer.json().catch(() => null) };
  }, [path, options]);
}

/** Files or folders let go over an element, through the browser's own drag and drop. */
export async function dropFiles(page, selector, paths) {
  const box = await page.locator(selector).boundingBox();
  const client = await page.context().newCDPSession(page);
  const at = { x: box.x + box.width / 2, y: box.y + box.height / 2, data: { items: [], files: paths, dragOperationsMask: 1 } };
  for (const type of ['dragEnter', 'dragOver', 'drop']) await client.send('Input.dispatchDragEvent', { type, ...at });
  await client.detach();
}

/** Breaches of WCAG 2.2 AA that a checker can see, with whatever is folded away opened. */
export async function findBreaches(page) {
  await page.evaluate(() => document.querySelectorAll('details').forEach((each) => (each.open = true)));
  if (!(await page.evaluate(() => 'axe' in globalThis))) await page.evaluate(AXE);
  return page.evaluate(async () => {
    // The faint watermark is an ornament: its words stand in full contrast in the head of the case and in every picture.
    const found = await globalThis.axe.run({ exclude: ['.watermark'] }, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'], resultTypes: ['violations'] });
    return found.violations.flatMap((v) => v.nodes.slice(0, 3).map((node) => `${location.pathname} ${v.id}: ${node.html.slice(0, 160)} ${node.any[0]?.message ?? ''}`));
  });
}

/** What has the focus, and whether a person can see that it does. */
export const readFocus = (page) => page.evaluate(() => {
  const at = document.activeElement;
  if (!at || at === document.body) return null;
  const style = getComputedStyle(at);
  const box = at.getBoundingClientRect();
  const isDrawn = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
  const middle = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
  // A mark in a picture wears a ring of its own.
  const isMarked = isDrawn || [...at.querySelectorAll('circle')].some((part) => {
    const own = getComputedStyle(part);
    return own.stroke !== 'none' && parseFloat(own.strokeWidth) >= 3;
  });
  return {
    name: (at.getAttribute('aria-label') ?? at.labels?.[0]?.textContent ?? at.textContent ?? '').trim().slice(0, 80), tag: at.tagName.toLowerCase(), href: at.getAttribute('href'), grip: at.getAttribute('data-grip'), view: at.closest('[data-view]')?.getAttribute('data-view') ?? null,
    isMarked, isInSight: box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth, isCovered: middle !== null && !at.contains(middle) && !middle.contains(at) && !(middle.closest('label')?.contains(at) ?? false) && middle.closest('.saving') !== null,
  };
});
