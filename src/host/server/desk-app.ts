import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { extname, join } from 'node:path';
import { Readable } from 'node:stream';
import type { HttpBindings } from '@hono/node-server';
import { Hono } from 'hono';
import { fail } from '../../core/result.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';
import { checkOrigin } from '../security/check-origin.ts';
import { SECURITY_HEADERS, TLS_HEADERS } from '../security/security-headers.ts';
import { answerFailure } from './api-status.ts';
import { bindRoutes, type BindOptions, type DeskApp } from './bind-routes.ts';
import { CONTENT_TYPES, findPageFile } from './find-page-file.ts';
import type { Handlers } from './handler-types.ts';

export interface DeskAppOptions extends BindOptions {
  readonly handlers: Handlers;
  /** The built pages: index.html and assets/. */
  readonly pagesFolder: string;
  /** Told of a throw, which is our defect. */
  readonly onDefect: (problem: unknown, where: string) => void;
  /** Adds what is not in the table of routes: uploads, log-in by an issuer, the demo's start address. */
  readonly addDoors?: (app: DeskApp) => void;
}

/** The server's whole answer to a request: guard, API, doors, pages. */
export function makeDeskApp(options: DeskAppOptions): DeskApp {
  const app = new Hono<{ Bindings: HttpBindings }>();
  const { site } = options.door;
  const fixed = Object.entries({ ...SECURITY_HEADERS, ...(site.isSecure ? TLS_HEADERS : {}) });

  app.use('*', async (c, next) => {
    const allowed = checkOrigin(c.req.raw.headers, c.req.method, site);
    if (allowed.ok) await next();
    else c.res = answerFailure(allowed.failure);
    for (const [name, value] of fixed) if (name !== 'Cache-Control' || !c.res.headers.has(name)) c.res.headers.set(name, value);
  });
  app.onError((problem, c) => {
    options.onDefect(problem, `server ${c.req.method} ${c.req.routePath}`);
    return answerFailure(fail('defect', SERVER_EN.defect, SERVER_EN.defectNext).failure);
  });
  bindRoutes(app, options.handlers, options);
  options.addDoors?.(app);
  const unknown = () => answerFailure(fail('route-unknown', SERVER_EN.routeUnknown, SERVER_EN.routeUnknownNext).failure);
  app.all('/api/*', unknown);
  app.get('*', (c) => answerPage(options.pagesFolder, new URL(c.req.url).pathname));
  app.all('*', () => answerFailure(fail('method-wrong', SERVER_EN.methodWrong, SERVER_EN.methodWrongNext).failure, { headers: { Allow: 'GET, HEAD' } }));
  app.notFound(unknown);
  return app;
}

/** A file of the pages. Every address without an extension is a page of the one document, which reads its own address. */
async function answerPage(folder: string, pathname: string): Promise<Response> {
  const isPage = extname(pathname) === '';
  const file = isPage ? join(folder, 'index.html') : await findPageFile(folder, pathname);
  const info = file === null ? null : await stat(file).catch(() => null);
  if (file === null || info === null) {
    const failure = isPage ? fail('pages-missing', SERVER_EN.pagesMissing, SERVER_EN.pagesMissingNext) : fail('route-unknown', SERVER_EN.routeUnknown, SERVER_EN.routeUnknownNext);
    return answerFailure(failure.failure);
  }
  const isHashed = /^\/assets\//.test(pathname); // the build puts a hash of the content into these names
  return new Response(Readable.toWeb(createReadStream(file)) as ReadableStream, {
    headers: {
      'Content-Type': CONTENT_TYPES[extname(file).toLowerCase()] ?? 'application/octet-stream', 'Content-Length': String(info.size),
      'Cache-Control': isHashed ? 'public, max-age=31536000, immutable' : 'no-cache',
    },
  });
}
