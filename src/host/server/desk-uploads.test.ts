import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { connect } from 'node:net';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { codeOf, makeTestDesk, must, type Ask, type TestDesk, type Visitor } from '../../../test/support/make-desk.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import { listUploads, readUploadPath, uploadFolder } from './upload-door.ts';

let desk: TestDesk;
let planner: Visitor & { personId: string };
let caseId = '';
beforeAll(async () => {
  desk = await makeTestDesk();
  planner = await desk.enter('planner');
  caseId = (await planner.ask('/api/cases', { method: 'POST', body: { label: 'Up', procedureOn: null } })).json<{ caseId: string }>().caseId;
});
afterAll(() => desk.close());

let imports = 0;
const beginImport = async (ask: { files: number; bytes: number }, by = planner.personId): Promise<string> => {
  const jobId = `import-${++imports}`;
  must(await desk.opened.store.putJob({ jobId, caseId, kind: 'import', state: 'receiving', by, progress: { step: '', ratio: 0 }, failure: null, ask, answer: null, createdAt: '', changedAt: '' }));
  return jobId;
};
const b64 = (text: string): string => Buffer.from(text).toString('base64');
/** Begins an upload with its first bytes, as the page does. */
const create = (visitor: Visitor, jobId: string, path: string, length: number, content: string, more: Record<string, string | undefined> = {}) =>
  visitor.ask('/api/uploads', { method: 'POST', raw: content, headers: { 'tus-resumable': '1.0.0', 'upload-length': String(length), 'upload-metadata': `importId ${b64(jobId)},path ${b64(path)}`, 'content-type': 'application/offset+octet-stream', ...more } });
const tus = (visitor: Visitor, method: string, at: string, headers: Record<string, string>, raw?: string): ReturnType<Visitor['ask']> =>
  visitor.ask(at, { method, headers: { 'tus-resumable': '1.0.0', ...headers }, ...(raw === undefined ? { headers: { 'tus-resumable': '1.0.0', 'content-type': undefined as never, ...headers } } : { raw }) } as Ask);

describe('uploads', () => {
  test('a file arrives whole in one go, another in pieces after a cut, each under its own path', async () => {
    const jobId = await beginImport({ files: 2, bytes: 20 });
    const whole = await create(planner, jobId, 'study/IM 1.dcm', 10, '0123456789');
    expect([whole.status, whole.headers.get('upload-offset')]).toEqual([201, '10']);
    const begun = await create(planner, jobId, 'study/IM 2.dcm', 10, 'abcd');
    const at = begun.headers.get('location')!;
    expect(at).toMatch(/^\/api\/uploads\/import-\d+~[0-9a-f]{32}$/);
    expect((await listUploads(join(desk.folder, 'data'), jobId)).map((f) => [f.path, f.bytes, f.wantedBytes])).toEqual([['study/IM 1.dcm', 10, 10], ['study/IM 2.dcm', 4, 10]]);
    expect((await tus(planner, 'HEAD', at, {})).headers.get('upload-offset')).toBe('4');
    const patch = { 'content-type': 'application/offset+octet-stream' };
    expect((await tus(planner, 'PATCH', at, { ...patch, 'upload-offset': '2' }, 'xx')).status).toBe(409); // not where it ended
    expect((await tus(planner, 'PATCH', at, { ...patch, 'upload-offset': '4' }, 'efghij')).status).toBe(204);
    const files = await listUploads(join(desk.folder, 'data'), jobId);
    expect(files.map((f) => readFileSync(f.diskPath, 'latin1'))).toEqual(['0123456789', 'abcdefghij']);
  });

  test('a file that is begun again, since the first answer was lost, is one file and is not counted twice', async () => {
    const jobId = await beginImport({ files: 1, bytes: 10 });
    expect((await create(planner, jobId, 'IM 1.dcm', 10, '0123')).status).toBe(201);
    expect((await create(planner, jobId, 'IM 1.dcm', 10, '0123456789')).status).toBe(201);
    expect((await create(planner, jobId, 'IM 2.dcm', 1, 'x')).status).toBe(413);
    expect((await create(planner, jobId, 'IM 1.dcm', 11, 'x')).status).toBe(413);
    expect((await listUploads(join(desk.folder, 'data'), jobId)).map((f) => [f.path, f.bytes, f.wantedBytes])).toEqual([['IM 1.dcm', 10, 10]]);
  });

  test('a connection that breaks is gone on with from where the server says that it ended', async () => {
    const jobId = await beginImport({ files: 1, bytes: 8 });
    const at = (await create(planner, jobId, 'cut.dcm', 8, '')).headers.get('location')!;
    await new Promise<void>((resolve) => {
      const socket = connect(desk.server.port, '127.0.0.1', () => {
        socket.write(`PATCH ${at} HTTP/1.1\r\nHost: 127.0.0.1:${desk.server.port}\r\nOrigin: ${desk.origin}\r\nCookie: ${planner.cookie}\r\nX-Trinadir-Csrf: ${planner.csrf}\r\nTus-Resumable: 1.0.0\r\nUpload-Offset: 0\r\nContent-Type: application/offset+octet-stream\r\nContent-Length: 8\r\n\r\n012`, () => setTimeout(() => socket.destroy(), 100));
      });
      socket.on('close', () => resolve());
    });
    // What the server had read of the three stays; what it had not is sent again.
    for (let tries = 0; tries < 100; tries++) {
      const offset = Number((await tus(planner, 'HEAD', at, {})).headers.get('upload-offset'));
      expect(offset).toBeLessThanOrEqual(3);
      const rest = await tus(planner, 'PATCH', at, { 'content-type': 'application/offset+octet-stream', 'upload-offset': String(offset) }, '01234567'.slice(offset));
      if (rest.status === 204) break;
    }
    expect(readFileSync((await listUploads(join(desk.folder, 'data'), jobId))[0]!.diskPath, 'latin1')).toBe('01234567');
    expect(desk.defects).toEqual([]);
  });

  test('who comes again while the old connection still hangs takes over where it stands', async () => {
    const jobId = await beginImport({ files: 1, bytes: 8 });
    const at = (await create(planner, jobId, 'hang.dcm', 8, '')).headers.get('location')!;
    const hanging = connect(desk.server.port, '127.0.0.1', () => {
      hanging.write(`PATCH ${at} HTTP/1.1\r\nHost: 127.0.0.1:${desk.server.port}\r\nOrigin: ${desk.origin}\r\nCookie: ${planner.cookie}\r\nX-Trinadir-Csrf: ${planner.csrf}\r\nTus-Resumable: 1.0.0\r\nUpload-Offset: 0\r\nContent-Type: application/offset+octet-stream\r\nContent-Length: 8\r\n\r\n0123`);
    });
    hanging.on('error', () => {});
    for (let tries = 0; tries < 400; tries++) {
      const offset = (await tus(planner, 'HEAD', at, {})).headers.get('upload-offset');
      const rest = await tus(planner, 'PATCH', at, { 'content-type': 'application/offset+octet-stream', 'upload-offset': offset ?? '0' }, '01234567'.slice(Number(offset)));
      if (rest.status === 204) break;
    }
    hanging.destroy();
    expect(readFileSync((await listUploads(join(desk.folder, 'data'), jobId))[0]!.diskPath, 'latin1')).toBe('01234567');
    expect(desk.defects).toEqual([]);
  });

  test('no more files and bytes than announced, however many come at once', async () => {
    const jobId = await beginImport({ files: 3, bytes: 100 });
    const answers = await Promise.all(Array.from({ length: 8 }, (_, k) => create(planner, jobId, `${k}.dcm`, 10, '0123456789')));
    expect(answers.map((a) => a.status).sort()).toEqual([201, 201, 201, 413, 413, 413, 413, 413]);
    const large = await beginImport({ files: 3, bytes: 100 });
    expect((await create(planner, large, 'a.dcm', 101, '')).status).toBe(413);
    const longer = await create(planner, large, 'b.dcm', 4, '0123456789'); // sends more than it said
    expect(longer.status).toBeGreaterThanOrEqual(400);
    const deferred = await create(planner, large, 'c.dcm', 0, '', { 'upload-length': undefined, 'upload-defer-length': '1' });
    expect(deferred.status).toBe(400);
  });

  test('only who began the import sends to it, while it receives, with the mark of the session', async () => {
    const other = await desk.enter('planner');
    const viewer = await desk.enter('viewer');
    const jobId = await beginImport({ files: 5, bytes: 100 });
    expect((await create(other, jobId, 'a.dcm', 1, 'x')).status).toBe(404);
    expect((await create(planner, 'import-none', 'a.dcm', 1, 'x')).status).toBe(404);
    expect([(await create(viewer, jobId, 'a.dcm', 1, 'x')).status, (await create(desk.visit(), jobId, 'a.dcm', 1, 'x')).status]).toEqual([403, 401]);
    expect(codeOf(await create(planner, jobId, 'a.dcm', 1, 'x', { 'x-trinadir-csrf': 'y' }))).toBe('csrf-wrong');
    expect(codeOf(await create(planner, jobId, 'a.dcm', 1, 'x', { origin: 'https://evil.example' }))).toBe('cross-site');
    expect((await create(other, jobId, 'a.dcm', 1, 'x', { 'x-trinadir-by': planner.personId })).status).toBe(404); // who one is cannot be said in a field
    const at = (await create(planner, jobId, 'a.dcm', 2, 'x')).headers.get('location')!;
    expect((await tus(other, 'HEAD', at, {})).status).toBe(404);
    const patch = { 'content-type': 'application/offset+octet-stream', 'upload-offset': '1' };
    expect((await tus(other, 'PATCH', at, patch, 'y')).status).toBe(404);
    expect((await tus(other, 'POST', '/api/uploads', { 'x-http-method-override': 'DELETE' }, '')).status).toBeGreaterThanOrEqual(400);
    must(await desk.opened.store.putJob({ ...must(await desk.opened.store.findJob(jobId))!, state: 'waiting' }));
    expect((await tus(planner, 'PATCH', at, patch, 'y')).status).toBe(404);
    expect((await create(planner, jobId, 'b.dcm', 1, 'x')).status).toBe(404);
  });

  test('a path out of the import, or an id out of the folder, writes nothing anywhere', async () => {
    const jobId = await beginImport({ files: 50, bytes: 1000 });
    for (const path of ['../x', '/etc/x', 'a/../../x', 'a\\..\\x', '', '.', 'a//b', 'C:x', 'a\u0000b', `${'a/'.repeat(40)}b`, 'a'.repeat(201)]) {
      expect((await create(planner, jobId, path, 1, 'x')).status, path).toBe(400);
    }
    expect(existsSync(uploadFolder(join(desk.folder, 'data'), jobId))).toBe(false);
    for (const id of ['..%2f..%2fsecret.txt', 'import-1~..', 'import-1', '..~..', `${jobId}~${'0'.repeat(32)}%2f..`, '%00']) {
      expect([404, 400], id).toContain((await tus(planner, 'HEAD', `/api/uploads/${id}`, {})).status);
    }
    expect((await tus(planner, 'HEAD', `/api/uploads/${jobId}~${'0'.repeat(32)}`, {})).status).toBe(404);
    expect(readdirSync(desk.folder).sort()).toEqual(['data', 'secret.txt', 'web']);
    expect(desk.defects).toEqual([]);
  });
});

describe(`readUploadPath (seed ${seed})`, () => {
  test('whatever passes stays inside the folder that it is joined to', () => {
    const part = fc.oneof(fc.constantFrom('..', '.', '', 'a', 'IM 1', '...', '~', 'ä'), fc.string({ maxLength: 6 }));
    fc.assert(fc.property(fc.array(part, { maxLength: 6 }), (parts) => {
      const path = readUploadPath(parts.join('/'));
      if (path !== null) expect(join('/top', path)).toBe(`/top/${path}`);
    }), replay);
  });
});
