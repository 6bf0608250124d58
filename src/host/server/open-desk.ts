import { fileURLToPath } from 'node:url';
import type { Result } from '../../core/result.ts';
import { DeskJobRunner } from '../jobs/desk-job-runner.ts';
import { makeSteadyClock } from '../security/steady-clock.ts';
import { openStore, type OpenedStore } from '../storage/open-store.ts';
import { makeHandlers } from './make-handlers.ts';
import { readOidcIssuer, type OidcFailureCode } from './read-oidc-issuer.ts';
import { serveDesk, type DeskServer, type ServeFailureCode } from './serve-desk.ts';
import { makeUploadDoor } from './upload-door.ts';

export interface OpenDeskOptions {
  readonly dataFolder: string;
  readonly dbUrl?: string | undefined;
  readonly port?: number | undefined;
  readonly host?: string | undefined;
  readonly origin?: string | undefined;
  readonly oidcFile?: string | undefined;
  readonly version: string;
  readonly onDefect: (problem: unknown, where: string) => void;
  /** The demo: makes its person and case in the opened store before anybody comes. */
  readonly prepare?: (opened: OpenedStore) => Promise<Result<{ readonly personId: string; readonly page: string }, string>>;
}
/** dist/web, from src and from dist alike. */
const PAGES = fileURLToPath(new URL('../../../dist/web', import.meta.url));

/**
 * Opens what is stored and serves it: the whole desk. Closing it closes everything.
 *
 * Fails  as openStore, serveDesk and readOidcIssuer; nothing stays open then
 */
export async function openDesk(options: OpenDeskOptions): Promise<Result<DeskServer, ServeFailureCode | OidcFailureCode | string>> {
  const issuer = options.oidcFile === undefined ? null : await readOidcIssuer(options.oidcFile);
  if (issuer && !issuer.ok) return issuer;
  const readNow = makeSteadyClock();
  const opened = await openStore({ dataFolder: options.dataFolder, dbUrl: options.dbUrl, nowMs: readNow });
  if (!opened.ok) return opened;
  const prepared = options.prepare ? await options.prepare(opened.value) : null;
  const { dataFolder, port, host, origin, version, onDefect } = options;
  const served = prepared && !prepared.ok ? prepared : await serveDesk({
    opened: opened.value, dataFolder, pagesFolder: PAGES, version, readNow, port, host, origin, oidc: issuer?.value, startAs: prepared?.value,
    makeJobs: (services) => new DeskJobRunner(services), makeHandlers, makeUploads: makeUploadDoor, onDefect,
  });
  if (!served.ok) {
    await opened.value.close();
    return served;
  }
  const desk = served.value;
  return { ok: true, value: { ...desk, close: () => desk.close().finally(() => opened.value.close()) } };
}
