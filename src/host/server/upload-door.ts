import { AsyncLocalStorage } from 'node:async_hooks';
import { randomBytes } from 'node:crypto';
import { readdir, readFile, stat } from 'node:fs/promises';
import { join } from 'node:path';
import type { Readable } from 'node:stream';
import { FileStore } from '@tus/file-store';
import { MemoryLocker, Server as TusServer, type ServerOptions } from '@tus/server';
import { fail, succeed, type Result } from '../../core/result.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';
import { isAllowed } from '../security/roles.ts';
import { readStoreFailure } from '../storage/store-failures.ts';
import type { CaseStore, StoredJob } from '../storage/store-types.ts';
import { answerFailure } from './api-status.ts';
import type { DeskApp } from './bind-routes.ts';
import { checkCsrf, findCaller, type Door } from './door.ts';
import type { Services } from './handler-types.ts';
import { writeArriving } from './write-arriving.ts';

/** Binds what is not in the table of routes to the app. */
export type UploadDoor = (app: DeskApp) => void;

/** One file of an import, as it lies in the upload folder. */
export interface UploadedFile {
  /** Its place in what the person handed in: parts with `/` between, checked to stay inside. */
  readonly path: string;
  readonly diskPath: string;
  readonly bytes: number;
  readonly wantedBytes: number;
}
const UPLOADS = '/api/uploads';
export const uploadFolder = (dataFolder: string, jobId: string): string => join(dataFolder, 'uploads', jobId);
const FILE_ID = /^([a-z0-9][a-z0-9-]{3,63})~([0-9a-f]{32})$/;

/** Everything that has arrived for an import, whole or not, by path. */
export async function listUploads(dataFolder: string, jobId: string): Promise<readonly UploadedFile[]> {
  const folder = uploadFolder(dataFolder, jobId);
  const names = await readdir(folder).catch(() => []);
  const files: UploadedFile[] = [];
  for (const name of names.filter((each) => each.endsWith('.json'))) {
    const diskPath = join(folder, name.slice(0, -'.json'.length));
    const info = await stat(diskPath).catch(() => null);
    try {
      const kept = JSON.parse(await readFile(join(folder, name), 'utf8')) as { size?: number; metadata?: { path?: string } };
      const path = readUploadPath(kept.metadata?.path);
      if (info !== null && path !== null && kept.size !== undefined) files.push({ path, diskPath, bytes: info.size, wantedBytes: kept.size });
    } catch {
      continue; // cut off while it was begun: nobody was told that it exists
    }
  }
  // A file that was begun twice, since the first answer was lost on its way, is one file: the one of which more arrived.
  const best = new Map<string, UploadedFile>();
  for (const file of files) if (file.bytes >= (best.get(file.path)?.bytes ?? 0)) best.set(file.path, file);
  return [...best.values()].sort((a, b) => (a.path < b.path ? -1 : 1));
}

/** A path inside the import, or null: absolute, upwards, hidden drive names, control characters, too long. */
export function readUploadPath(path: string | null | undefined): string | null {
  if (path === null || path === undefined || path.length > 1024) return null;
  const parts = path.split('/');
  // eslint-disable-next-line no-control-regex
  const isOdd = (part: string): boolean => part === '' || part === '.' || part === '..' || part.length > 200 || /[\\:\u0000-\u001f\u007f]/.test(part);
  return parts.length > 30 || parts.some(isOdd) ? null : path;
}

interface TusRefusal { readonly status_code: number; readonly body: string }
const refuse = (code: string, status_code: number): TusRefusal => ({ status_code, body: `${code}\n` });

/** Imports still receiving, with what is announced so far: kept here so that two uploads at once cannot pass the limit together. */
type Announced = Map<string, { readonly sizes: Map<string, number>; readonly bytes: number }>;

/**
 * Files of a scan come in by tus 1.0 (resumable uploads): each lies in `uploads/<importId>/`, named by chance, with its
 * size and path beside it. Only who began the import sends to it, no more than was announced, while it receives.
 */
export function makeUploadDoor({ store, dataFolder }: Services, door: Door): UploadDoor {
  const announced: Announced = new Map();
  const connection = new AsyncLocalStorage<Readable>();
  const stops = new Map<string, () => void>();
  const tus = new TusServer({
    path: UPLOADS,
    datastore: makeFileStore(join(dataFolder, 'uploads'), connection, stops),
    locker: makeLocker(stops),
    relativeLocation: true,
    allowedOrigins: [...door.site.origins],
    // The id is one part of the address; on disk it is a folder and a name.
    namingFunction: (_request, metadata) => `${metadata?.['importId'] ?? 'none'}/${randomBytes(16).toString('hex')}`,
    generateUrl: (_request, { id }) => `${UPLOADS}/${id.replace('/', '~')}`,
    getFileIdFromRequest: (_request, lastPath) => lastPath?.replace('~', '/'),
    async onUploadCreate(request, upload) {
      const path = readUploadPath(upload.metadata?.['path']);
      if (path === null || upload.size === undefined) throw refuse('upload-path-wrong', 400);
      const job = await findImport(store, upload.metadata?.['importId'] ?? '');
      if (!job.ok) throw refuse(job.failure.code, 503);
      const ask = job.value && readAsk(job.value);
      if (!job.value || !ask || job.value.by !== request.headers.get(BY)) throw refuse('job-unknown', 404);
      await door.inTurn(async () => {
        const so = announced.get(job.value!.jobId) ?? (await countAnnounced(dataFolder, job.value!.jobId));
        // A page that lost the answer begins the same file again: that is not one file more.
        if (!so.sizes.has(path) && so.sizes.size + 1 > ask.files) throw refuse('upload-more-than-announced', 413);
        const bytes = so.bytes - (so.sizes.get(path) ?? 0) + upload.size!;
        if (bytes > ask.bytes) throw refuse('upload-more-than-announced', 413);
        if (announced.size > 1000) announced.clear();
        so.sizes.set(path, upload.size!);
        announced.set(job.value!.jobId, { sizes: so.sizes, bytes });
      });
      return { metadata: { importId: job.value.jobId, path } };
    },
    // What is not a refusal is a defect, and what it says may hold a path.
    async onResponseError(_request, problem) {
      return 'status_code' in problem ? undefined : { status_code: 500, body: 'defect\n' };
    },
  });

  return (app) => {
    // HEAD comes in as GET; what was sent is not given out again.
    app.on(['POST', 'PATCH', 'GET', 'DELETE'], [UPLOADS, `${UPLOADS}/:id`], async (c) => {
      const { raw: request } = c.req;
      if (request.method === 'GET') return answerFailure(fail('method-wrong', SERVER_EN.methodWrong, SERVER_EN.methodWrongNext).failure, { headers: { Allow: 'DELETE, HEAD, PATCH, POST' } });
      const found = await findCaller(request.headers, door);
      if (!found.ok) return answerFailure(found.failure);
      const allowed = checkSender(found.value, request);
      if (!allowed.ok) return answerFailure(allowed.failure);
      const { personId } = found.value!.person;
      const id = c.req.param('id');
      if (id !== undefined || request.method !== 'POST') {
        const [, jobId] = FILE_ID.exec(id ?? '') ?? [];
        const job = jobId === undefined ? succeed(null) : await findImport(store, jobId);
        if (!job.ok) return answerFailure(job.failure);
        if (job.value?.by !== personId || request.method === 'POST') return answerFailure(fail('route-unknown', SERVER_EN.routeUnknown, SERVER_EN.routeUnknownNext).failure);
      }
      return connection.run(c.env.incoming, () => tus.handleWeb(withPerson(request, personId)));
    });
  };
}

/** The library's store of files, except that content is written straight from the connection. */
function makeFileStore(directory: string, connection: AsyncLocalStorage<Readable>, stops: Map<string, () => void>): FileStore {
  const files = new FileStore({ directory });
  files.write = async (_nothing, id, offset) => {
    const incoming = connection.getStore();
    const { size, storage } = await files.getUpload(id);
    if (!incoming || storage === undefined || size === undefined) throw refuse('upload-unknown', 404);
    stops.set(id, () => incoming.destroy());
    try {
      const arrived = await writeArriving(incoming, storage.path, offset, size);
      if (arrived.end === 'too-long') throw refuse('upload-more-than-announced', 413);
      if (arrived.end === 'cut') throw refuse('upload-cut', 400); // nobody hears it; the sender asks where it ended
      return arrived.offset;
    } catch (problem) {
      throw readStoreFailure(problem)?.failure.code === 'store-full' ? refuse('store-full', 507) : problem;
    } finally {
      stops.delete(id);
    }
  };
  return files;
}

/** One writer per file. Who comes again after a lost connection takes over from the one that still waits for it. */
function makeLocker(stops: ReadonlyMap<string, () => void>): Extract<ServerOptions['locker'], { newLock: unknown }> {
  const locks = new MemoryLocker();
  return {
    newLock(id) {
      const lock = locks.newLock(id);
      return {
        lock: (signal, cancel) => lock.lock(signal, () => {
          stops.get(id)?.();
          cancel();
        }),
        unlock: () => lock.unlock(),
      };
    },
  };
}

/** Who sends stands in a field that no browser can set from outside, since it is overwritten here. The body stays behind. */
const BY = 'x-trinadir-by';
function withPerson({ headers, method, url, signal }: Request, personId: string): Request {
  const fields = new Headers(headers);
  fields.set(BY, personId);
  fields.delete('x-http-method-override');
  return new Request(url, { method, headers: fields, signal });
}

function checkSender(caller: Parameters<typeof checkCsrf>[1] | null, request: Request): Result<null, string> {
  if (caller === null) return fail('not-logged-in', SERVER_EN.notLoggedIn, SERVER_EN.notLoggedInNext);
  if (!isAllowed(caller.person.role, 'edit-case')) return fail('not-allowed', SERVER_EN.notAllowed, SERVER_EN.notAllowedNext);
  return checkCsrf(request, caller);
}

/** An import that still receives; null: no such one. */
async function findImport(store: CaseStore, jobId: string): Promise<Result<StoredJob | null, string>> {
  const job = await store.findJob(jobId);
  if (!job.ok) return job;
  return succeed(job.value?.kind === 'import' && job.value.state === 'receiving' ? job.value : null);
}

function readAsk(job: StoredJob): { readonly files: number; readonly bytes: number } | null {
  const { files, bytes } = (job.ask ?? {}) as { files?: unknown; bytes?: unknown };
  return typeof files === 'number' && typeof bytes === 'number' ? { files, bytes } : null;
}

async function countAnnounced(dataFolder: string, jobId: string): Promise<{ readonly sizes: Map<string, number>; readonly bytes: number }> {
  const files = await listUploads(dataFolder, jobId);
  return { sizes: new Map(files.map((each) => [each.path, each.wantedBytes])), bytes: files.reduce((sum, each) => sum + each.wantedBytes, 0) };
}
