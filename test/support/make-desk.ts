import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { request } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Kysely } from 'kysely';
import type { JobRunner, Handlers } from '../../src/host/server/handler-types.ts';
import { makeHandlers } from '../../src/host/server/make-handlers.ts';
import { serveDesk, type DeskOptions, type DeskServer } from '../../src/host/server/serve-desk.ts';
import { makeUploadDoor } from '../../src/host/server/upload-door.ts';
import { openBlobStore } from '../../src/host/storage/blob-store.ts';
import { openTables, type OpenedStore } from '../../src/host/storage/open-store.ts';
import { makePgliteDialect } from '../../src/host/storage/pglite/pglite-dialect.ts';
import type { CaseStore, Role, StoredJob } from '../../src/host/storage/store-types.ts';
import type { StoreTables } from '../../src/host/storage/tables.ts';
import { startEmptyEngine } from './pglite-template.ts';

/** Small scrypt cost: the tests ask who comes in, not how long guessing takes. */
const TEST_COST = { log2N: 10, r: 8, p: 1 };
export const PASSWORD = 'correct horse battery';

export interface Answer { readonly status: number; readonly headers: Headers; readonly text: string; json<T = Record<string, unknown>>(): T }
export interface Ask { readonly method?: string; readonly body?: unknown; readonly raw?: string | Uint8Array; readonly headers?: Readonly<Record<string, string | undefined>> }
/** A person at a browser: cookie and mark are kept and sent, as a page does. */
export interface Visitor {
  cookie: string;
  csrf: string;
  ask(path: string, options?: Ask): Promise<Answer>;
}
export interface TestDesk {
  readonly server: DeskServer;
  readonly opened: OpenedStore;
  readonly folder: string;
  readonly defects: string[];
  readonly jobs: StoredJob[];
  readonly origin: string;
  visit(): Visitor;
  /** A person of this role, logged in. */
  enter(role: Role): Promise<Visitor & { readonly personId: string; readonly login: string }>;
  close(): Promise<void>;
}

const noJobs = (jobs: StoredJob[], store: CaseStore): JobRunner => ({
  async start(job) {
    jobs.push(job);
    return store.putJob(job);
  },
  async cancel(jobId) {
    const job = await store.findJob(jobId);
    return job.ok ? store.putJob({ ...job.value!, state: 'cancelled' }) : job;
  },
  resume: async () => {},
  close: async () => {},
});

/** The embedded engine in memory: what it keeps over a restart is tested with the storage. */
async function openInMemory(dataFolder: string, nowMs: () => number): Promise<{ readonly ok: true; readonly value: OpenedStore }> {
  const pg = await startEmptyEngine();
  const db = new Kysely<StoreTables>({ dialect: makePgliteDialect({ get: async () => pg, drop: () => {}, close: () => pg.close() }) });
  mkdirSync(dataFolder, { recursive: true });
  return { ok: true, value: { store: must(await openTables(db, nowMs)), blobs: must(await openBlobStore(dataFolder)), close: () => db.destroy() } };
}

/** A desk on a store of its own; `breakStore` puts faults between server and store. */
export async function makeTestDesk(options: Partial<DeskOptions> & { readonly breakStore?: (store: CaseStore) => CaseStore; readonly changeHandlers?: (handlers: Handlers) => Handlers } = {}): Promise<TestDesk> {
  const folder = mkdtempSync(join(tmpdir(), 'trinadir-desk-'));
  const pages = join(folder, 'web');
  mkdirSync(join(pages, 'assets'), { recursive: true });
  writeFileSync(join(pages, 'index.html'), '<!doctype html><title>desk</title>');
  writeFileSync(join(pages, 'assets', 'main-abc123.js'), 'export {};');
  writeFileSync(join(folder, 'secret.txt'), 'secret');
  const stored = await openInMemory(join(folder, 'data'), options.readNow ?? Date.now);
  const opened: OpenedStore = { ...stored.value, store: options.breakStore?.(stored.value.store) ?? stored.value.store };
  const defects: string[] = [];
  const jobs: StoredJob[] = [];
  const served = await serveDesk({
    opened, dataFolder: join(folder, 'data'), pagesFolder: pages, version: 'trinadir test', readNow: Date.now, port: 0,
    makeJobs: () => noJobs(jobs, stored.value.store),
    makeHandlers: (door, services) => (options.changeHandlers ?? ((h) => h))(makeHandlers(door, services)),
    makeUploads: makeUploadDoor, onDefect: (problem, where) => void defects.push(`${where}: ${(problem as Error).stack}`), checkAnswers: true, passwordCost: TEST_COST,
    ...options,
  });
  if (!served.ok) throw new Error(served.failure.code);
  const server = served.value;
  const origin = `http://127.0.0.1:${server.port}`;

  const visit = (): Visitor => {
    const visitor: Visitor = {
      cookie: '', csrf: '',
      async ask(path, { method = 'GET', body, raw, headers = {} } = {}) {
        const isUnsafe = method !== 'GET' && method !== 'HEAD';
        const content = raw ?? (body === undefined ? (isUnsafe && method !== 'DELETE' && headers['content-type'] === undefined ? '{}' : undefined) : JSON.stringify(body));
        const sent = Object.fromEntries(Object.entries({
          host: `127.0.0.1:${server.port}`, 'content-type': content === undefined ? undefined : 'application/json',
          cookie: visitor.cookie || undefined, origin: isUnsafe ? origin : undefined, 'x-trinadir-csrf': isUnsafe && visitor.csrf ? visitor.csrf : undefined, ...headers,
        }).filter(([, value]) => value !== undefined)) as Record<string, string>;
        const answer = await send(server.port, path, method, sent, content);
        const given = answer.headers.getSetCookie().find((each) => each.startsWith(`trinadir_${server.port}=`));
        if (given) visitor.cookie = given.split(';')[0]!;
        if (answer.headers.get('content-type')?.startsWith('application/json') && method !== 'HEAD') {
          const told = JSON.parse(answer.text) as { csrfToken?: string | null } | null;
          if (typeof told?.csrfToken === 'string') visitor.csrf = told.csrfToken;
        }
        return answer;
      },
    };
    return visitor;
  };

  let people = 0;
  return {
    server, opened, folder, defects, jobs, origin, visit,
    async enter(role) {
      const login = `${role}${++people}`;
      const passwordHash = await server.door.hasher.hash(PASSWORD);
      const added = await stored.value.store.addPerson({ personId: `person-${login}`, login, displayName: `Person ${login}`, role, isActive: true, passwordHash, oidcSubject: null });
      if (!added.ok) throw new Error(added.failure.code);
      const visitor = visit();
      const answer = await visitor.ask('/api/session', { method: 'POST', body: { login, password: PASSWORD } });
      if (answer.status !== 200) throw new Error(`log-in gave ${answer.status} ${answer.text}`);
      return Object.assign(visitor, { personId: added.value.personId, login });
    },
    async close() {
      await server.close();
      await opened.close();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

/** Sends the path as it stands (fetch would tidy it first), on a connection of its own. */
export function send(port: number, path: string, method: string, headers: Readonly<Record<string, string>>, content?: string | Uint8Array): Promise<Answer> {
  return new Promise((resolve, reject) => {
    const call = request({ host: '127.0.0.1', port, path, method, headers, agent: false }, (answer) => {
      const parts: Buffer[] = [];
      answer.on('data', (data: Buffer) => parts.push(data));
      answer.on('end', () => {
        const text = Buffer.concat(parts).toString();
        const fields = new Headers();
        for (let i = 0; i < answer.rawHeaders.length; i += 2) fields.append(answer.rawHeaders[i]!, answer.rawHeaders[i + 1]!);
        resolve({ status: answer.statusCode!, headers: fields, text, json: <T>() => JSON.parse(text) as T });
      });
      answer.on('error', reject);
    });
    call.on('error', reject);
    if (content !== undefined && !('content-length' in headers) && !('transfer-encoding' in headers)) call.setHeader('content-length', Buffer.byteLength(content));
    call.end(content);
  });
}

export const codeOf = (answer: Answer): string => (answer.json() as { error?: { code: string } }).error?.code ?? 'none';
export const must = <T>(result: { readonly ok: true; readonly value: T } | { readonly ok: false; readonly failure: { readonly code: string } }): T => {
  if (!result.ok) throw new Error(result.failure.code);
  return result.value;
};
