import { request } from 'node:http';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { codeOf, makeTestDesk, must, type TestDesk, type Visitor } from '../../../test/support/make-desk.ts';
import { makeReadyCase } from '../../../test/support/frozen-fixture.ts';
import { foldRoom } from '../../core/room/fold-room.ts';
import type { RoomEntry, RoomRecord } from '../../core/room/room-types.ts';
import { FHIR_BUNDLE } from '../../formats/fhir/fhir-shapes.ts';
import { ROUTES, type Route, type RouteName } from '../../formats/api/api-routes.ts';
import type { RoomNews } from './stream-room.ts';

let desk: TestDesk;
let nowMs = Date.UTC(2026, 10, 25, 9);
beforeAll(async () => {
  desk = await makeTestDesk({ readNow: () => nowMs });
});
afterAll(() => desk.close());

const openCase = async (visitor: Visitor): Promise<string> => (await visitor.ask('/api/cases', { method: 'POST', body: { label: 'Room', procedureOn: null } })).json<{ caseId: string }>().caseId;
let made = 0;
function tap(entry: RoomEntry | null, more: Partial<RoomRecord> = {}): RoomRecord {
  made += 1;
  const at = new Date(nowMs - 1000).toISOString();
  return { entryId: `tap-${String(made).padStart(6, '0')}`, clientId: 'page-one', place: 'desk', count: made, monotonicMs: made, clientAt: at, happenedAt: at, offset: { addedMs: 0, withinMs: 10 }, corrects: null, entry, ...more };
}
const contrast = (ml: number, more: Partial<RoomRecord> = {}): RoomRecord => tap({ is: 'contrast', ml }, more);
const log = (visitor: Visitor, caseId: string, records: readonly unknown[]) => visitor.ask(`/api/cases/${caseId}/room`, { method: 'POST', body: { records } });
const read = async (visitor: Visitor, caseId: string, after = 0): Promise<RoomNews> => (await visitor.ask(`/api/cases/${caseId}/room?after=${after}`)).json<RoomNews & Record<string, unknown>>();

/** The room's server-sent events, as they arrive. */
function follow(visitor: Visitor, caseId: string, lastEventId?: number): Promise<{ until(done: (news: readonly RoomNews[]) => boolean): Promise<readonly RoomNews[]>; isEnded(): boolean; close(): void }> {
  return new Promise((resolve, reject) => {
    let [text, ended] = ['', false];
    let wake: () => void = () => {};
    const headers = { host: `127.0.0.1:${desk.server.port}`, cookie: visitor.cookie, ...(lastEventId === undefined ? {} : { 'last-event-id': String(lastEventId) }) };
    const call = request({ host: '127.0.0.1', port: desk.server.port, path: `/api/cases/${caseId}/room/feed`, headers, agent: false }, (answer) => {
      expect([answer.statusCode, answer.headers['content-type']]).toEqual([200, 'text/event-stream']);
      answer.on('data', (data: Buffer) => ((text += data.toString()), wake()));
      answer.on('close', () => ((ended = true), wake()));
      const parse = (): RoomNews[] => text.split('\n\n').flatMap((block) => {
        const data = block.split('\n').find((line) => line.startsWith('data: '));
        return data && block.includes('event: room') ? [JSON.parse(data.slice(6)) as RoomNews] : [];
      });
      resolve({
        async until(done) {
          while (!done(parse()) && !ended) await new Promise<void>((next) => (wake = next));
          return parse();
        },
        isEnded: () => ended,
        close: () => call.destroy(),
      });
    });
    call.on('error', (problem) => (ended ? undefined : reject(problem)));
    call.end();
  });
}
const idsOf = (news: readonly RoomNews[]): string[] => news.flatMap((n) => n.records.map((r) => r.entryId));

describe('taps', () => {
  test('are logged at the end of the chain, read back whole, and known when they come again', async () => {
    const planner = await desk.enter('planner');
    const caseId = await openCase(planner);
    const taps = [contrast(20), tap({ is: 'pacing', isOn: true, ratePerMin: 120 })];
    const first = (await log(planner, caseId, taps)).json();
    expect(first).toEqual({ seq: 3, taken: taps.map((t) => t.entryId), known: [] });
    const again = (await log(planner, caseId, [taps[1]!, contrast(5), taps[0]!])).json<{ seq: number; taken: string[]; known: string[] }>();
    expect([again.seq, again.taken.length, again.known.sort()]).toEqual([4, 1, taps.map((t) => t.entryId).sort()]);
    const room = await read(planner, caseId);
    expect(room).toMatchObject({ caseId, label: 'Room', training: false, frozen: null, seq: 4 });
    expect(room.records.map(({ by, seq, ...record }) => [by, seq, record])).toEqual([[planner.personId, 2, taps[0]], [planner.personId, 3, taps[1]], [planner.personId, 4, expect.anything()]]);
    expect((await read(planner, caseId, 3)).records).toHaveLength(1);
    expect(foldRoom(room.records).contrastMl).toBe(25);
    const audit = must(await desk.opened.store.listAudit({ caseId, afterSeq: 0, limit: 99 })).map((a) => a.data['what']);
    expect(audit).not.toContain('logRoom'); // the taps are in the case's own chain, with author and time
    expect(must(await desk.opened.store.verifyChains()).cases).toBeGreaterThan(0);
  });

  test('the same tap twice in one request stands once; one number for two taps is refused by place, and nothing of it is logged', async () => {
    const planner = await desk.enter('planner');
    const caseId = await openCase(planner);
    const one = contrast(7);
    expect((await log(planner, caseId, [one, one])).json()).toMatchObject({ taken: [one.entryId], known: [] });
    const refused = await log(planner, caseId, [contrast(1), { ...one, entry: { is: 'contrast', ml: 70 } }]);
    expect([refused.status, codeOf(refused), refused.text.includes('Record 1')]).toEqual([400, 'request-invalid', true]);
    expect((await read(planner, caseId)).records).toHaveLength(1);
  });

  test('sent again with a better time of the page it is the same tap', async () => {
    const planner = await desk.enter('planner');
    const caseId = await openCase(planner);
    const one = contrast(7, { offset: null });
    await log(planner, caseId, [one]);
    const better = await log(planner, caseId, [{ ...one, happenedAt: new Date(nowMs - 1500).toISOString(), offset: { addedMs: -500, withinMs: 4 } }]);
    expect(better.json()).toMatchObject({ taken: [], known: [one.entryId] });
  });

  test('two remotes, a desk and an editor at once: every tap is in the log once, and the editor is not refused', async () => {
    const planner = await desk.enter('planner');
    const caseId = await openCase(planner);
    const edit = (expectSeq: number, value: number) => planner.ask(`/api/cases/${caseId}/events`, { method: 'POST', body: { expectSeq, events: [{ kind: 'referral.entered', data: { field: 'risk.euroscorePercent', value, unit: '%' } }] } });
    const pages = ['page-r1', 'page-r2', 'page-d1'].map((clientId) => Array.from({ length: 8 }, (_, i) => contrast(1, { clientId, count: i + 1 })));
    const answers = await Promise.all([...pages.flatMap((taps) => [log(planner, caseId, taps.slice(0, 5)), log(planner, caseId, taps.slice(3)), log(planner, caseId, taps)]), edit(1, 5)]);
    expect(answers.map((a) => a.status)).toEqual(answers.map(() => 200));
    const room = await read(planner, caseId);
    expect(room.records.map((r) => r.entryId).sort()).toEqual(pages.flat().map((t) => t.entryId).sort());
    expect(foldRoom(room.records)).toMatchObject({ contrastMl: 24, holes: [] });
    const events = must(await desk.opened.store.listEvents(caseId, 0));
    expect([events.length, events.map((e) => e.seq)]).toEqual([26, events.map((_, k) => k + 1)]);
    // A second edit that has not seen the first is still told so.
    expect([(await edit(1, 6)).status, (await edit(room.seq, 7)).status]).toEqual([409, 200]);
  });

  test('a page whose clock runs ahead is set to the arrival of its taps; the raw time stays, and what was done stands beside it', async () => {
    const planner = await desk.enter('planner');
    const caseId = await openCase(planner);
    const future = new Date(nowMs + 3_600_000).toISOString();
    await log(planner, caseId, [contrast(1, { clientAt: future, happenedAt: future, offset: null }), contrast(2)]);
    const [ahead, fine] = (await read(planner, caseId)).records;
    expect(ahead).toMatchObject({ clientAt: future, happenedAt: new Date(nowMs).toISOString(), offset: { addedMs: -3_600_000, withinMs: 3_600_000 } });
    expect(fine!.happenedAt).toBe(new Date(nowMs - 1000).toISOString());
  });

  test('old taps of a page that was without a server for hours stand where they were made', async () => {
    const planner = await desk.enter('planner');
    const caseId = await openCase(planner);
    await log(planner, caseId, [tap({ is: 'pacing', isOn: false, ratePerMin: null })]);
    const early = new Date(nowMs - 7_200_000).toISOString();
    await log(planner, caseId, [tap({ is: 'pacing', isOn: true, ratePerMin: 180 }, { clientId: 'page-late', count: 1, clientAt: early, happenedAt: early })]);
    const room = foldRoom((await read(planner, caseId)).records);
    expect([room.records[0]!.happenedAt, room.pacing?.isOn]).toEqual([early, false]);
  });

  test('who may not: a visitor, a viewer, a case that is not there, a record of the wrong form', async () => {
    const [planner, viewer] = [await desk.enter('planner'), await desk.enter('viewer')];
    const caseId = await openCase(planner);
    expect((await log(desk.visit(), caseId, [contrast(1)])).status).toBe(401);
    expect(codeOf(await log(viewer, caseId, [contrast(1)]))).toBe('not-allowed');
    expect((await viewer.ask(`/api/cases/${caseId}/room`)).status).toBe(200);
    expect(codeOf(await log(planner, 'case-none', [contrast(1)]))).toBe('case-unknown');
    for (const wrong of [{ ...contrast(1), count: 0 }, { ...contrast(-1) }, { ...contrast(1), happenedAt: '2026-03-02T08:11:00+01:00' }, { ...contrast(1), name: 'x' }, { ...contrast(1), entry: null }, tap({ is: 'phase', phase: 'lunch' } as never)]) {
      expect((await log(planner, caseId, [wrong])).status, JSON.stringify(wrong)).toBe(400);
    }
    expect((await log(planner, caseId, [])).status).toBe(400);
    expect((await read(planner, caseId)).records).toEqual([]);
  });
});

describe('news', () => {
  test('come as they happen; a page that comes back gets what it missed and nothing twice', async () => {
    const planner = await desk.enter('planner');
    const caseId = await openCase(planner);
    const before = contrast(1);
    await log(planner, caseId, [before]);
    const feed = await follow(planner, caseId);
    expect(idsOf(await feed.until((n) => n.length > 0))).toEqual([before.entryId]);
    const [one, two, three] = [contrast(2), contrast(3), contrast(4)];
    await log(planner, caseId, [one]);
    const seen = await feed.until((n) => idsOf(n).length > 1);
    expect(idsOf(seen)).toEqual([before.entryId, one.entryId]);
    feed.close();
    await log(planner, caseId, [two, three]);
    const back = await follow(planner, caseId, seen.at(-1)!.seq);
    expect(idsOf(await back.until((n) => idsOf(n).length > 0))).toEqual([two.entryId, three.entryId]);
    back.close();
  });

  test('with many writers the number that a page comes back with stands for everything it was told', async () => {
    const planner = await desk.enter('planner');
    const caseId = await openCase(planner);
    const feed = await follow(planner, caseId);
    const taps = Array.from({ length: 30 }, (_, i) => contrast(1, { clientId: `page-${i % 5}`, count: i + 1 }));
    await Promise.all(taps.map((t) => log(planner, caseId, [t])));
    const news = await feed.until((n) => idsOf(n).length >= 30);
    feed.close();
    expect(idsOf(news).sort()).toEqual(taps.map((t) => t.entryId).sort());
    let told = 0;
    for (const n of news) {
      told += n.records.length;
      expect(n.records.every((r) => r.seq <= n.seq)).toBe(true);
      expect(told).toBe(n.seq - 1); // the case was opened by event 1; every other event is a tap
    }
  });

  test('news that are lost between two servers on one database are read from it', async () => {
    const planner = await desk.enter('planner');
    const caseId = await openCase(planner);
    const feed = await follow(planner, caseId);
    await feed.until((n) => n.length > 0);
    const silent = contrast(9);
    must(await desk.opened.store.appendRecords({ caseId, by: planner.personId, records: [silent] })); // as another server would
    const loud = contrast(10);
    await log(planner, caseId, [loud]);
    expect(idsOf(await feed.until((n) => idsOf(n).length > 1))).toEqual([silent.entryId, loud.entryId]);
    feed.close();
  });
});

describe('pairing', () => {
  const pair = async (visitor: Visitor, caseId: string, kind: string): Promise<{ pairingId: string; code: string; expiresAt: string }> => (await visitor.ask(`/api/cases/${caseId}/pairings`, { method: 'POST', body: { kind } })).json();
  const use = (visitor: Visitor, code: string) => visitor.ask('/api/pairings', { method: 'POST', body: { code } });

  test('a code lets one device in, once, as whoever made it; typed in any case and spacing', async () => {
    const operator = await desk.enter('operator');
    const caseId = await openCase(operator);
    const { code, pairingId } = await pair(operator, caseId, 'remote');
    const phone = desk.visit();
    const typed = await use(phone, ` ${code.slice(0, 3).toLowerCase()}-${code.slice(3)} `);
    expect(typed.json()).toMatchObject({ person: { personId: operator.personId }, scope: { kind: 'remote', caseId } });
    expect(codeOf(await use(desk.visit(), code))).toBe('pairing-unknown');
    expect((await log(phone, caseId, [contrast(3, { place: 'remote' })])).status).toBe(200);
    expect((await read(phone, caseId)).records[0]!.by).toBe(operator.personId);
    expect((await phone.ask('/api/session')).json()).toMatchObject({ scope: { kind: 'remote' } });
    const listed = (await operator.ask(`/api/cases/${caseId}/pairings`)).json<unknown>() as { pairingId: string; state: string }[];
    expect(listed).toMatchObject([{ pairingId, state: 'in use' }]);
    expect(JSON.stringify(listed)).not.toContain(code);
    expect((await operator.ask('/api/session')).json()).toMatchObject({ scope: null });
  });

  test('of all routes a wall may read its room, a remote may log in it too, and nothing else; of no other case', async () => {
    const operator = await desk.enter('admin');
    const [caseId, other] = [await openCase(operator), await openCase(operator)];
    const may: Record<string, readonly string[]> = { wall: ['compareClock', 'readRoom', 'followRoom', 'readFrozen', 'endSession'], remote: ['compareClock', 'readRoom', 'followRoom', 'readFrozen', 'endSession', 'logRoom'] };
    for (const kind of ['wall', 'remote']) {
      const device = desk.visit();
      await use(device, (await pair(operator, caseId, kind)).code);
      for (const [name, route] of Object.entries(ROUTES) as [RouteName, Route][]) {
        if (route.needs === 'nobody' || name === 'endSession' || (route.answer === 'event-stream' && may[kind]!.includes(name))) continue;
        const path = (id: string): string => route.path.replace('{caseId}', id).replace('{sha256}', 'a'.repeat(64)).replace('{format}', 'csv').replace('{number}', '1').replace('{name}', route.path.includes('prints') ? 'plan' : 'calcium.stl').replace(/\{\w+\}/g, 'none-such');
        const answer = await device.ask(path(caseId), { method: route.method });
        if (may[kind]!.includes(name)) expect(answer.status, `${kind} ${name}`).not.toBe(403);
        else expect([answer.status, codeOf(answer)], `${kind} ${name}`).toEqual([403, 'not-allowed']);
        if (route.path.includes('{caseId}')) expect((await device.ask(path(other), { method: route.method })).status, `${kind} ${name} of another case`).toBe(403);
      }
      const feed = await follow(device, caseId);
      expect((await feed.until((n) => n.length > 0))[0]).toMatchObject({ caseId });
      feed.close();
      for (const path of [`/api/cases/${other}/room/feed`, `/api/cases/${caseId}/feed`]) expect((await device.ask(path)).status).toBe(403);
      // Doors that are not in the table know persons only.
      expect((await device.ask('/api/uploads', { method: 'POST', headers: { 'tus-resumable': '1.0.0', 'upload-length': '1' } })).status).toBe(401);
      const refused = must(await desk.opened.store.listAudit({ afterSeq: 0, limit: 10_000 })).filter((a) => a.kind === 'access.refused' && 'pairingId' in a.data);
      expect(refused.length).toBeGreaterThan(5);
    }
  });

  test('nothing that a wall or remote can read names the patient', async () => {
    const operator = await desk.enter('operator');
    const caseId = await openCase(operator);
    const entered = [['identity.name', 'Zebrafish'], ['identity.birthDate', '1931-07-19'], ['identity.patientId', 'MRN77341']].map(([field, value]) => ({ kind: 'referral.entered', data: { field, value, unit: null } }));
    expect((await operator.ask(`/api/cases/${caseId}/events`, { method: 'POST', body: { expectSeq: 1, events: entered } })).status).toBe(200);
    const { seq } = await makeReadyCase(desk.opened.store, caseId, operator.personId);
    expect((await operator.ask(`/api/cases/${caseId}/freeze`, { method: 'POST', body: { expectSeq: seq } })).status).toBe(200);
    const phone = desk.visit();
    await use(phone, (await pair(operator, caseId, 'remote')).code);
    await log(phone, caseId, [contrast(1, { place: 'remote' })]);
    const room = await phone.ask(`/api/cases/${caseId}/room`);
    const sha256 = room.json<RoomNews & Record<string, unknown>>().frozen?.frozenSha256;
    expect(sha256).toMatch(/^[0-9a-f]{64}$/);
    const frozen = await phone.ask(`/api/cases/${caseId}/frozen/${sha256}`);
    expect(frozen.status).toBe(200);
    for (const { text } of [room, frozen, await phone.ask('/api/session'), await phone.ask('/api/clock')]) expect(/Zebrafish|1931-07-19|19310719|MRN77341/.test(text)).toBe(false);
  });

  test('a remote cannot log as a desk, a wall not at all; a wrong mark is refused', async () => {
    const operator = await desk.enter('operator');
    const caseId = await openCase(operator);
    const [phone, wall] = [desk.visit(), desk.visit()];
    await use(phone, (await pair(operator, caseId, 'remote')).code);
    await use(wall, (await pair(operator, caseId, 'wall')).code);
    expect(codeOf(await log(phone, caseId, [contrast(1, { place: 'remote' }), contrast(1)]))).toBe('not-allowed');
    expect(codeOf(await log(wall, caseId, [contrast(1, { place: 'wall' })]))).toBe('not-allowed');
    const marked = phone.csrf;
    phone.csrf = 'x'.repeat(43);
    expect(codeOf(await log(phone, caseId, [contrast(1, { place: 'remote' })]))).toBe('csrf-wrong');
    phone.csrf = marked;
    expect((await read(phone, caseId)).records).toEqual([]);
  });

  test('a code is over after its minutes, when it is taken back, or when the person is gone', async () => {
    const [operator, admin] = [await desk.enter('operator'), await desk.enter('admin')];
    const caseId = await openCase(operator);
    const old = await pair(operator, caseId, 'wall');
    expect(Date.parse(old.expiresAt) - nowMs).toBe(5 * 60_000);
    nowMs += 5 * 60_000;
    expect(codeOf(await use(desk.visit(), old.code))).toBe('pairing-unknown');
    const listed = async () => ((await operator.ask(`/api/cases/${caseId}/pairings`)).json<unknown>() as { pairingId: string; state: string }[]).find((p) => p.pairingId === old.pairingId)?.state;
    expect(await listed()).toBe('over');
    const taken = await pair(operator, caseId, 'wall');
    expect((await operator.ask(`/api/cases/${caseId}/pairings/${taken.pairingId}`, { method: 'DELETE' })).status).toBe(200);
    expect(codeOf(await use(desk.visit(), taken.code))).toBe('pairing-unknown');
    const orphan = await pair(operator, caseId, 'wall');
    await admin.ask(`/api/people/${operator.personId}`, { method: 'PATCH', body: { isActive: false } });
    expect(codeOf(await use(desk.visit(), orphan.code))).toBe('pairing-unknown');
  });

  test('a device that is let go is out at once; a pairing of another room is not found', async () => {
    const operator = await desk.enter('operator');
    const caseId = await openCase(operator);
    const { code, pairingId } = await pair(operator, caseId, 'remote');
    const phone = desk.visit();
    await use(phone, code);
    expect((await phone.ask(`/api/cases/${caseId}/room`)).status).toBe(200);
    await operator.ask(`/api/cases/${caseId}/pairings/${pairingId}`, { method: 'DELETE' });
    expect((await phone.ask(`/api/cases/${caseId}/room`)).status).toBe(401);
    const gone = await operator.ask(`/api/cases/${await openCase(operator)}/pairings/${pairingId}`, { method: 'DELETE' });
    expect([gone.status, codeOf(gone)]).toEqual([404, 'pairing-unknown']);
  });

  test('a browser in which a colleague is logged in keeps that session, and the code stays good', async () => {
    const operator = await desk.enter('operator');
    const caseId = await openCase(operator);
    const { code } = await pair(operator, caseId, 'wall');
    expect(codeOf(await use(operator, code))).toBe('pairing-needless');
    expect((await operator.ask('/api/cases')).status).toBe(200);
    expect((await use(desk.visit(), code)).status).toBe(200);
  });

  test('two devices with one code at the same moment: one comes in', async () => {
    const operator = await desk.enter('operator');
    const caseId = await openCase(operator);
    const { code } = await pair(operator, caseId, 'remote');
    const answers = await Promise.all([desk.visit(), desk.visit(), desk.visit()].map((v) => use(v, code)));
    expect(answers.map((a) => a.status).sort()).toEqual([200, 404, 404]);
  });

  test('whoever guesses is stopped after some tries, whoever types right is not counted, and a room has no more than ten', async () => {
    const own = await makeTestDesk();
    try {
      const operator = await own.enter('operator');
      const caseId = await openCase(operator);
      for (let k = 0; k < 10; k++) {
        const visitor = own.visit();
        const { code } = await pair(operator, caseId, 'remote');
        expect((await use(visitor, code)).status).toBe(200);
      }
      expect(codeOf(await operator.ask(`/api/cases/${caseId}/pairings`, { method: 'POST', body: { kind: 'wall' } }))).toBe('pairing-crowd');
      const codes = [];
      for (let k = 0; k < 12; k++) codes.push(codeOf(await use(own.visit(), k % 2 === 0 ? '777777' : 'no code')));
      expect(codes).toEqual([...Array.from({ length: 10 }, () => 'pairing-unknown'), 'too-many-attempts', 'too-many-attempts']);
    } finally {
      await own.close();
    }
  });
});

test('the log is handed over as table, sheet and bundle, to whoever may read the case, and it is noted', async () => {
  const [planner, viewer] = [await desk.enter('planner'), await desk.enter('viewer')];
  const caseId = await openCase(planner);
  const one = contrast(8);
  await log(planner, caseId, [one, contrast(4, { corrects: one.entryId })]);
  const answers = await Promise.all(['csv', 'pdf', 'fhir'].map((format) => viewer.ask(`/api/cases/${caseId}/log/${format}`)));
  expect(answers.map((a) => [a.status, a.headers.get('content-type')])).toEqual([[200, 'text/csv; charset=utf-8'], [200, 'application/pdf'], [200, 'application/fhir+json; charset=utf-8']]);
  const [csv, pdf, fhir] = answers.map((a) => a.text);
  expect([csv!.split('\r\n').length, csv!.includes('Contrast 8 mL'), csv!.includes('superseded'), pdf!.startsWith('%PDF-')]).toEqual([5, true, true, true]);
  expect(FHIR_BUNDLE.safeParse(JSON.parse(fhir!)).success).toBe(true);
  const exports = must(await desk.opened.store.listAudit({ caseId, afterSeq: 0, limit: 99 })).filter((a) => a.kind === 'export.made');
  expect(exports.map((a) => [a.by, a.data['what']]).sort()).toEqual(['log csv', 'log fhir', 'log pdf'].map((what) => [viewer.personId, what]));
  expect((await viewer.ask(`/api/cases/${caseId}/log/xml`)).status).toBe(400);
  expect((await desk.visit().ask(`/api/cases/${caseId}/log/csv`)).status).toBe(401);
});

test('the clock that pages compare theirs with is the server’s own', async () => {
  const planner = await desk.enter('planner');
  expect((await planner.ask('/api/clock')).json()).toEqual({ at: new Date(nowMs).toISOString(), nowMs });
  expect((await desk.visit().ask('/api/clock')).status).toBe(401);
  expect(desk.defects).toEqual([]);
});
