/**
 * The wall left open for a day: 24 hours of the page's own clock, with taps all along. Its memory and its page must be as
 * large at the end as when it had settled, and its ages true.
 */
import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { chromium, type Browser, type CDPSession, type Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { formatCanonical } from '../../src/core/audit/format-canonical.ts';
import { foldRoom } from '../../src/core/room/fold-room.ts';
import type { RoomEntry, RoomRecord } from '../../src/core/room/room-types.ts';
import { BROWSER_ARGS, CHROMIUM } from '../support/drive-desk.mjs';
import { makeFrozenFixture } from '../support/frozen-fixture.ts';
import { makeTestDesk, type TestDesk } from '../support/make-desk.ts';
import { makeDepth } from '../support/room-log.ts';

const PAGES = process.env['TEST_PAGES'] ?? fileURLToPath(new URL('../../dist/web', import.meta.url));
/** A whole day second by second takes minutes; by default five minutes are one step, in which every timer fires once. */
const isEverySecond = process.env['WALL_DAY'] === 'seconds';
const canRun = existsSync(CHROMIUM) && existsSync(`${PAGES}/offline-worker.js`);
const isRelease = process.env['CI'] !== undefined && process.env['CI'] !== '';
test('the browser and the build are there when the wall must stay open', () => {
  if (isRelease) expect(canRun).toBe(true);
});

describe.skipIf(!canRun)('a wall that is open for 24 hours of its own clock', { timeout: 900_000 }, () => {
  const HOUR = 3600_000;
  const BEGIN = Date.UTC(2026, 2, 2, 7, 0, 0);
  const caseId = 'wall-day-case';
  let [browser, page, session, desk] = [null, null, null, null] as unknown as [Browser, Page, CDPSession, TestDesk];
  const { document: frozenPlan, text, sha256 } = (() => {
    const fixture = makeFrozenFixture({ caseId });
    return { ...fixture, text: formatCanonical(fixture.document) };
  })();
  const records: (RoomRecord & { by: string; seq: number })[] = [];
  let nowMs = BEGIN;
  const tap = (entry: RoomEntry): void => {
    const at = new Date(nowMs).toISOString();
    const count = records.length + 1;
    records.push({ entryId: `entry-of-the-day-${count}`, clientId: 'page-of-the-day', place: 'desk', count, monotonicMs: nowMs - BEGIN, clientAt: at, happenedAt: at, offset: { addedMs: 0, withinMs: 5 }, corrects: null, entry, by: 'person-one', seq: 100 + count });
  };
  /** What the page holds, after everything that can go has gone: bytes, nodes, listeners. */
  async function weigh(): Promise<{ readonly heap: number; readonly nodes: number; readonly listeners: number }> {
    for (let i = 0; i < 3; i++) await session.send('HeapProfiler.collectGarbage');
    const { usedSize } = await session.send('Runtime.getHeapUsage');
    const { nodes, jsEventListeners } = await session.send('Memory.getDOMCounters');
    return { heap: usedSize, nodes, listeners: jsEventListeners };
  }
  async function pass(ms: number): Promise<void> {
    const step = isEverySecond ? 600_000 : 300_000;
    for (let gone = 0; gone < ms; gone += step) {
      nowMs += step;
      if (isEverySecond) await page.clock.runFor(step);
      else await page.clock.fastForward(step);
    }
  }

  beforeAll(async () => {
    desk = await makeTestDesk({ pagesFolder: PAGES });
    browser = await chromium.launch({ executablePath: CHROMIUM, args: [...BROWSER_ARGS, '--js-flags=--expose-gc'] });
    const context = await browser.newContext({ viewport: { width: 1920, height: 1080 }, serviceWorkers: 'block' });
    page = await context.newPage();
    // The server's answers are made here: its clock is that of the day, and a day of polling is no load on a store.
    const json = (body: unknown) => ({ status: 200, contentType: 'application/json', body: JSON.stringify(body) });
    const person = { personId: 'person-one', login: 'one', displayName: 'One', role: 'operator', isActive: true, hasPassword: true, hasOidc: false };
    const frozen = { frozenSha256: sha256, planSha256: frozenPlan.planSha256, amends: null, differences: [], by: 'person-one', at: frozenPlan.frozenAt, seq: 90, isBehind: false };
    await page.route('**/api/**', async (route) => {
      const url = new URL(route.request().url());
      if (url.pathname.endsWith('/session')) return route.fulfill(json({ person, csrfToken: 'mark', needsFirstPerson: false, oidcLabel: null, version: 'test', scope: { kind: 'wall', caseId } }));
      if (url.pathname.endsWith('/clock')) return route.fulfill(json({ at: new Date(nowMs).toISOString(), nowMs }));
      if (url.pathname.endsWith('/room')) return route.fulfill(json({ caseId, label: 'Day', training: true, frozen, seq: 100 + records.length, records: records.filter((r) => r.seq > Number(url.searchParams.get('after') ?? 0)) }));
      if (url.pathname.includes('/frozen/')) return route.fulfill({ status: 200, contentType: 'application/json', body: text });
      return route.abort(); // the feed: the page polls
    });
    await page.clock.install({ time: BEGIN });
    session = await context.newCDPSession(page);
    await session.send('HeapProfiler.enable');
    tap({ is: 'phase', phase: 'access' });
    await page.goto(`${desk.origin}/wall/${caseId}`);
    await page.locator('main.wall[data-card="kit"]').waitFor({ timeout: 20_000 });
    await page.locator('.wall-screen svg').waitFor();
  }, 60_000);
  afterAll(async () => {
    await browser?.close();
    await desk?.close();
  });

  test('is as large at the end of the day as after its first hours, and knows how old its log is', async () => {
    const weights: Awaited<ReturnType<typeof weigh>>[] = [];
    for (let hour = 0; hour < 24; hour++) {
      // Every kind of card comes up each hour; the depth is replaced, so that the state does not grow by itself.
      tap({ is: 'phase', phase: (['access', 'valve-in', 'position', 'releasing', 'released', 'result'] as const)[hour % 6]! });
      if (hour % 6 >= 2) tap({ is: 'depth', reading: makeDepth(3, 0.4) });
      await pass(HOUR);
      await page.waitForTimeout(150); // answers of the poll
      if (hour >= 3) weights.push(await weigh());
    }
    const first = weights.slice(0, 6);
    const last = weights.slice(-6);
    const mean = (list: typeof weights, of: 'heap' | 'nodes' | 'listeners'): number => list.reduce((sum, w) => sum + w[of], 0) / list.length;
    const grown = { heapKb: (mean(last, 'heap') - mean(first, 'heap')) / 1024, nodes: mean(last, 'nodes') - mean(first, 'nodes'), listeners: mean(last, 'listeners') - mean(first, 'listeners') };
    if (process.env['LOOK']) console.info(JSON.stringify({ grown, heapMb: weights.map((w) => (w.heap / 1048576).toFixed(2)), nodes: weights.map((w) => w.nodes), listeners: weights.map((w) => w.listeners) }));
    // 250 drawings of some 10 kB lie between: kept ones would be 2.5 MB, second by second hundreds. Forty taps are a few kB.
    expect(grown.heapKb).toBeLessThan(1200);
    expect(Math.abs(grown.nodes)).toBeLessThan(200); // cards differ by some dozens of nodes
    expect(grown.listeners).toBeLessThan(5);
    expect(foldRoom(records).phase?.phase).toBe('result');
    expect(await page.locator('main.wall').getAttribute('data-card')).toBe('result');
    const said = (await page.locator('.wall-screen text').allTextContents()).join(' ');
    expect(said).toContain('log 1 h 00 ago');
    expect(said).toMatch(/DEPTH[^]*CANNOT SAY/);
  });

  test('a machine that slept wakes up with true ages', async () => {
    tap({ is: 'phase', phase: 'releasing' });
    tap({ is: 'depth', reading: makeDepth(3, 0.4) });
    await pass(300_000);
    await page.locator('main.wall[data-card="depth"]').waitFor();
    // The wall clock goes on while the page stands still: timers fire once, late, as after sleep.
    nowMs += 2 * HOUR;
    await page.clock.fastForward(2 * HOUR);
    await page.waitForFunction(() => document.querySelector('.wall-screen')!.textContent!.includes('too old') && document.querySelector('.wall-screen')!.textContent!.includes('2 h 0'), null, { timeout: 10_000 });
  });
});
