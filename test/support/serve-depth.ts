import { existsSync, readFileSync } from 'node:fs';
import { createServer, type IncomingMessage, type ServerResponse } from 'node:http';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'vite';
import type { CaseState } from '../../src/core/case/fold-case.ts';
import type { FrozenDocument } from '../../src/core/room/frozen-types.ts';
import type { RoomRecord } from '../../src/core/room/room-types.ts';
import { BECAUSE_HEADER, type RunAnswer } from '../../src/formats/api/run-schemas.ts';
import { drawDeskCss } from '../../src/formats/report/desk-style.ts';

/** A run as the test server keeps it: what it tells, and its frames in 8 bit grey. */
export interface ServedRun {
  readonly about: RunAnswer;
  readonly grey: (frame: number) => Uint8Array;
  /** Served in the place of `grey`, as a run that is stored as JPEG is. */
  readonly jpeg?: Uint8Array;
}
export interface DepthCase {
  readonly frozen: FrozenDocument;
  readonly runs: ServedRun[];
  /** What the next file handed in becomes; a refusal in the words of the server. */
  next: ServedRun | { readonly status: number; readonly code: string; readonly text: string; readonly next: string } | null;
  readonly records: readonly RoomRecord[];
  /** Reasons given for files that were handed in. */
  readonly reasons: (string | null)[];
}
const POLICY = "default-src 'none'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; img-src 'self' data: blob:; connect-src 'self'";

/** Builds the test page of the depth panel into a folder. */
export async function buildDepthPage(outDir: string): Promise<void> {
  const style = 'virtual:section-style.css';
  await build({
    configFile: false, logLevel: 'error', root: fileURLToPath(new URL('./depth-page/', import.meta.url)), base: '/',
    plugins: [{ name: 'section-style', resolveId: (id) => (id === style ? `\0${style}` : null), load: (id) => (id === `\0${style}` ? drawDeskCss() : null) }],
    oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
    build: { outDir, emptyOutDir: true, target: 'es2022', assetsInlineLimit: 0, modulePreload: { polyfill: false }, chunkSizeWarningLimit: 3000 },
  });
}

/** Serves the built page and answers the routes that the panel asks, under the policy of the real server. */
export async function serveDepth(pages: string, shown: DepthCase): Promise<{ readonly origin: string; close(): Promise<void> }> {
  const server = createServer((ask, answer) => void answerDepth(pages, shown, ask, answer));
  await new Promise<void>((done) => server.listen(0, '127.0.0.1', done));
  const address = server.address();
  return {
    origin: `http://127.0.0.1:${typeof address === 'object' && address ? address.port : 0}`,
    close: () => new Promise((done) => {
      server.closeAllConnections();
      server.close(() => done());
    }),
  };
}

export const listRuns = (runs: readonly ServedRun[]): CaseState['runs'] => runs.map(({ about }, i) => ({
  runId: about.runId, blobSha256: 'a'.repeat(64), frames: about.frames, rows: about.rows, columns: about.columns, view: about.views[0] ?? null,
  identity: { verdict: 'same', fields: [], acceptedBecause: null }, by: 'person-ann', at: '2026-03-02T10:00:00.000Z', seq: i + 1,
}));

async function answerDepth(pages: string, shown: DepthCase, ask: IncomingMessage, answer: ServerResponse): Promise<void> {
  const url = new URL(ask.url ?? '/', 'http://page');
  const sendJson = (value: unknown, status = 200): void => void answer.writeHead(status, { 'content-type': 'application/json' }).end(JSON.stringify(value));
  const path = url.pathname.replace(`/api/cases/${shown.frozen.caseId}`, '/case');
  if (path === '/frozen') return sendJson(shown.frozen);
  if (path === '/room') return sendJson({ runs: listRuns(shown.runs), records: shown.records });
  if (path === '/case/runs' && ask.method === 'POST') {
    for await (const _part of ask);
    const said = ask.headers[BECAUSE_HEADER];
    const reason = typeof said === 'string' ? decodeURIComponent(said) : null;
    shown.reasons.push(reason);
    const next = shown.next;
    if (next === null) return sendJson({ error: { code: 'run-not-xa', text: 'Not a run.', next: 'Choose another file.' } }, 422);
    if ('status' in next && reason === null) return sendJson({ error: { code: next.code, text: next.text, next: next.next } }, next.status);
    if ('about' in next) shown.runs.push(next);
    return 'about' in next ? sendJson(next.about) : sendJson(shown.runs[0]!.about);
  }
  const run = shown.runs.find(({ about }) => path.startsWith(`/case/runs/${about.runId}`));
  if (run && /\/frames\/\d+$/.test(path)) return void answer.writeHead(200, { 'content-type': run.jpeg ? 'image/jpeg' : 'application/octet-stream' }).end(run.jpeg ?? run.grey(Number(path.split('/').at(-1))));
  if (run) return sendJson(run.about);
  const file = join(pages, path === '/' ? 'index.html' : path);
  if (!existsSync(file)) return sendJson({ error: { code: 'not-here', text: path, next: '' } }, 404);
  const kind = file.endsWith('.js') ? 'text/javascript' : file.endsWith('.css') ? 'text/css' : 'text/html';
  answer.writeHead(200, { 'content-type': kind, 'content-security-policy': POLICY }).end(readFileSync(file));
}
