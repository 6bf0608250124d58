/**
 * What the room waits for: the fold of a long log, and a tap from the moment it is sent until another page is told of it, over
 * HTTP on loopback with the real program and its store on disk. The other column is the promise in ms. Medians; the slowest
 * of twenty beside them.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { startDesk } from '../test/support/drive-desk.mjs';
import { enterFirst, makeTap } from '../test/support/room-visitor.mjs';

const TITLE = 'The log of the room: fold, and a tap until another page is told (other column: the promise)';
const EVENTS = 5000;
const TAPS = 200;
const START_MS = Date.UTC(2026, 2, 2, 9);

export const name = 'room';

const median = (values) => [...values].sort((a, b) => a - b)[values.length >> 1];
const slow = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length * 0.95)];

/** A long log of five pages: every kind of tap that comes often, a tenth of them corrections. */
function makeLongLog(count) {
  const view = { primaryDeg: 10, secondaryDeg: -20 };
  const reading = { depthMm: 3, lowMm: 2, highMm: 4, state: 'uncorrected', by: 'entered', views: [view], cusp: 'N', edge: 'inflow', clicks: 1, unsheathedRatio: null };
  const kinds = [
    { is: 'pacing', isOn: true, ratePerMin: 120 }, { is: 'depth', reading }, { is: 'contrast', ml: 8 }, { is: 'view', view }, { is: 'fraction', ratio: 0.5 }, { is: 'pacing', isOn: false, ratePerMin: null },
    { is: 'phase', phase: 'releasing' }, { is: 'moved', direction: 'up', mm: 2 }, { is: 'recaptured', isWhole: true }, { is: 'act', seconds: 260 }, { is: 'rescue', card: 'tamponade', did: 'ticked', line: 1 }, { is: 'note', text: 'x' },
  ];
  const records = Array.from({ length: count }, (_, k) => makeTap(`bench-page-${k % 5}`, 1 + Math.floor(k / 5), kinds[k % kinds.length], START_MS + k * 1000));
  return records.map((record, k) => (k % 10 === 9 ? { ...record, corrects: records[k - 7].entryId } : record));
}

export async function run({ print }) {
  const { foldRoom } = await import('../dist/core/room/fold-room.js');
  const { computeRoomTimers } = await import('../dist/core/room/room-timers.js');
  const rows = [];
  const put = (what, promisedMs, times, note = '') => rows.push({ what, oursMs: median(times), theirsMs: promisedMs, goal: 1, note: `${note}${note ? '; ' : ''}95 of 100 within ${slow(times).toFixed(1)} ms` });
  const records = makeLongLog(EVENTS);
  const backwards = [...records].reverse();
  const timesOf = (work, runs = 30) => Array.from({ length: runs }, () => {
    const began = performance.now();
    work();
    return performance.now() - began;
  });
  const first = timesOf(() => foldRoom(records), 1);
  put(`fold of ${EVENTS} taps`, 100, timesOf(() => foldRoom(records)), `first of all ${first[0].toFixed(1)} ms`);
  put(`fold of ${EVENTS} taps, arrived backwards`, 100, timesOf(() => foldRoom(backwards)));
  const room = foldRoom(records);
  put(`times and totals of ${EVENTS} taps`, 100, timesOf(() => computeRoomTimers(room, null, START_MS + EVENTS * 1000)));

  const top = mkdtempSync(join(tmpdir(), 'trinadir-bench-room-'));
  try {
    const desk = await startDesk(join(top, 'data'));
    try {
      const visitor = await enterFirst(desk);
      for (const held of [0, EVENTS]) {
        print(`  taps on a log of ${held} ...`);
        const { caseId } = await visitor.ask('/api/cases', { method: 'POST', body: { label: 'bench', procedureOn: null } });
        for (let k = 0; k < held; k += 200) await visitor.ask(`/api/cases/${caseId}/room`, { method: 'POST', body: { records: records.slice(k, k + 200) } });
        const { sent, told } = await timeTaps(visitor, caseId, held + 1);
        put(`a tap until another page is told, log of ${held}`, 100, told, 'sent by HTTP, stored, told as a server-sent event');
        put(`a tap until it is acknowledged, log of ${held}`, 100, sent);
        if (held > 0) {
          const reads = [];
          for (let k = 0; k < 5; k++) {
            const began = performance.now();
            const news = await visitor.ask(`/api/cases/${caseId}/room`);
            foldRoom(news.records);
            reads.push(performance.now() - began);
          }
          put(`a page that opens: ${held + TAPS} taps read and folded`, 1000, reads);
        }
      }
    } finally {
      await desk.stop();
    }
  } finally {
    rmSync(top, { recursive: true, force: true });
  }
  return { title: TITLE, rows, notes: ['Tap to wall also needs the page to draw (a frame, 16 ms); the journey of the room measures it in a browser.'] };
}

async function timeTaps(visitor, caseId, seq) {
  const arrived = new Map();
  const stop = await visitor.follow(caseId, seq, (record) => {
    arrived.get(record.entryId)?.();
  });
  const [sent, told] = [[], []];
  for (let k = 0; k < TAPS; k++) {
    const tap = makeTap('bench-tapping', k + 1, { is: 'contrast', ml: 1 });
    const began = performance.now();
    const isTold = new Promise((resolve) => arrived.set(tap.entryId, () => resolve(performance.now() - began)));
    await visitor.ask(`/api/cases/${caseId}/room`, { method: 'POST', body: { records: [tap] } });
    sent.push(performance.now() - began);
    told.push(await isTold);
  }
  stop();
  return { sent, told };
}
