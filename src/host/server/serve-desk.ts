import type { Server } from 'node:http';
import { createAdaptorServer } from '@hono/node-server';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';
import { makeSiteAddress } from '../security/check-origin.ts';
import { makeLoginLimit, type LimitPoints } from '../security/login-limit.ts';
import { makePasswordHasher, type PasswordCost } from '../security/password-hash.ts';
import { makeSecretToken } from '../security/secret-token.ts';
import { makeSessions, type SessionTimes } from '../security/sessions.ts';
import type { ReadNow } from '../security/steady-clock.ts';
import type { OpenedStore } from '../storage/open-store.ts';
import type { StoreFailureCode } from '../storage/store-types.ts';
import { addOidcDoor, type OidcIssuer } from './add-oidc-door.ts';
import { addStartDoor } from './add-start-door.ts';
import { makeCaseFeed } from './case-feed.ts';
import { makeDeskApp } from './desk-app.ts';
import { makeTurns, type Door } from './door.ts';
import type { Handlers, JobRunner, Services } from './handler-types.ts';
import { keepTrainingTables } from './handlers/table-handlers.ts';
import type { UploadDoor } from './upload-door.ts';

export interface DeskOptions {
  readonly opened: OpenedStore;
  readonly dataFolder: string;
  readonly pagesFolder: string;
  readonly version: string;
  readonly readNow: ReadNow;
  /** Default: the usual port, or a free one when it is taken. */
  readonly port?: number | undefined;
  readonly host?: string | undefined;
  /** Address that browsers use when a proxy stands in front. */
  readonly origin?: string | undefined;
  readonly oidc?: OidcIssuer | undefined;
  /** The demo: whoever opens the printed address is this person, at this page. */
  readonly startAs?: { readonly personId: string; readonly page: string } | undefined;
  readonly makeJobs: (services: Omit<Services, 'jobs'>) => JobRunner;
  readonly makeHandlers: (door: Door, services: Services) => Handlers;
  readonly makeUploads: (services: Services, door: Door) => UploadDoor;
  readonly onDefect: (problem: unknown, where: string) => void;
  readonly checkAnswers?: boolean;
  /** Cheaper in tests. */
  readonly passwordCost?: PasswordCost;
  readonly limitPoints?: LimitPoints;
  readonly sessionTimes?: SessionTimes;
}
export interface DeskServer {
  /** Address for browsers; with a secret part when nobody has an account yet, or for the demo: print it, do not log it. */
  readonly startUrl: string;
  readonly isFirstStart: boolean;
  readonly port: number;
  readonly services: Services;
  readonly door: Door;
  /** Ends connections and jobs; the store is closed by whoever opened it. */
  close(): Promise<void>;
}
export type ServeFailureCode = 'port-taken' | 'origin-missing' | 'origin-wrong' | StoreFailureCode;

const LOOPBACK = '127.0.0.1';
const USUAL_PORT = 8471;
const LOOPBACK_HOSTS = new Set([LOOPBACK, 'localhost', '::1']);

/** Scheme and name of a site: https, or http for this machine. */
function checkPublicOrigin(origin: string): Result<string, 'origin-wrong'> {
  const wrong = fail('origin-wrong', SERVER_EN.originWrong, SERVER_EN.originWrongNext);
  try {
    const url = new URL(origin);
    const isHere = url.protocol === 'http:' && LOOPBACK_HOSTS.has(url.hostname);
    return url.origin === origin.replace(/\/$/, '') && (url.protocol === 'https:' || isHere) ? succeed(url.origin) : wrong;
  } catch {
    return wrong;
  }
}

function listen(server: Server, port: number, host: string): Promise<number | null> {
  return new Promise((resolve, reject) => {
    const refuse = (problem: { code?: string }): void => (/^(EADDRINUSE|EACCES|EADDRNOTAVAIL|ENOTFOUND|EAI_AGAIN)$/.test(problem.code ?? '') ? resolve(null) : reject(problem as Error));
    server.once('error', refuse);
    server.listen(port, host, () => {
      server.off('error', refuse);
      const address = server.address();
      resolve(typeof address === 'object' && address ? address.port : port);
    });
  });
}

/**
 * Serves the desk over an opened store.
 *
 * Fails  port-taken, origin-missing, origin-wrong, and as the store
 */
export async function serveDesk(options: DeskOptions): Promise<Result<DeskServer, ServeFailureCode>> {
  const { opened: { store, blobs }, readNow, host = LOOPBACK } = options;
  if (!LOOPBACK_HOSTS.has(host) && options.origin === undefined) return fail('origin-missing', SERVER_EN.originMissing, SERVER_EN.originMissingNext);
  const origin = options.origin === undefined ? succeed(null) : checkPublicOrigin(options.origin);
  if (!origin.ok) return origin;
  const kept = await keepTrainingTables(store);
  if (!kept.ok) return kept;
  const people = await store.listPeople();
  if (!people.ok) return people;

  let answer: ((request: Request, env: object) => Response | Promise<Response>) | null = null;
  const server = createAdaptorServer({ fetch: (request, env) => answer?.(request, env) ?? new Response('Starting.', { status: 503 }), hostname: host }) as Server;
  server.requestTimeout = 0; // an upload may take an hour; bodies of questions have their own limit (read-body.ts)
  let port = await listen(server, options.port ?? USUAL_PORT, host);
  if (port === null && options.port === undefined) port = await listen(server, 0, host);
  if (port === null) {
    const taken = options.port ?? USUAL_PORT;
    return fail('port-taken', formatText(SERVER_EN, 'addressTaken', { port: taken }), SERVER_EN.addressTakenNext, { port: taken });
  }

  const site = makeSiteAddress(port, origin.value);
  const isFirstStart = people.value.length === 0;
  const door: Door = {
    sessions: makeSessions(store, readNow, options.sessionTimes), hasher: makePasswordHasher(options.passwordCost), limit: makeLoginLimit(options.limitPoints),
    site, readNow, version: options.version, firstStart: { token: isFirstStart ? makeSecretToken() : null }, oidcLabel: options.oidc?.label ?? null, inTurn: makeTurns(),
  };
  const parts = { store, blobs, feed: makeCaseFeed(), dataFolder: options.dataFolder, version: options.version };
  const services: Services = { ...parts, jobs: options.makeJobs(parts) };
  const base = origin.value ?? `http://${LOOPBACK}:${port}`;
  let startPath = '/';
  const app = makeDeskApp({
    services, door, handlers: options.makeHandlers(door, services), pagesFolder: options.pagesFolder, onDefect: options.onDefect, checkAnswers: options.checkAnswers ?? false,
    addDoors: (adding) => {
      options.makeUploads(services, door)(adding);
      if (options.oidc) addOidcDoor(adding, { issuer: options.oidc, door, services, base });
      if (options.startAs) startPath = addStartDoor(adding, { door, services, ...options.startAs });
    },
  });
  if (door.firstStart.token !== null) startPath = `/first-start#token=${door.firstStart.token}`; // what follows # is not sent, so it stands in no log
  answer = (request, env) => app.fetch(request, env);
  await services.jobs.resume();

  return succeed({
    startUrl: `${isFirstStart ? `http://${LOOPBACK}:${port}` : base}${startPath}`, isFirstStart, port, services, door,
    async close() {
      const closed = new Promise<void>((resolve) => server.close(() => resolve()));
      server.closeAllConnections();
      await services.jobs.close();
      await closed;
    },
  });
}
