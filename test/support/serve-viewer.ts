import { createServer, type IncomingMessage, type ServerResponse } from 'node:http';
import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'vite';
import type { CaseEvent, NewCaseEvent } from '../../src/core/case/case-events.ts';
import { foldCase } from '../../src/core/case/fold-case.ts';
import type { Plan } from '../../src/core/case/plan-types.ts';
import type { SurveyDocument } from '../../src/core/root/survey-document.ts';
import type { CtVolume } from '../../src/core/volume/volume-types.ts';
import { writeSurveyDocument } from '../../src/formats/plan/write-survey-document.ts';
import { drawDeskCss } from '../../src/formats/report/desk-style.ts';

/** What one page of the viewer is shown; events grow while it runs. */
export interface ViewerCase {
  readonly plan: Plan;
  readonly survey: SurveyDocument;
  /** By series; the first is the measured one. */
  readonly blocks: Readonly<Record<string, CtVolume>>;
  readonly surfaces: Readonly<Record<string, Uint8Array>>;
  readonly events: CaseEvent[];
  role: 'viewer' | 'planner';
  /** Refuses the next edit, as a store that cannot be reached does. */
  refusesEdits: boolean;
  /** Plans of readings by hash, beside that of the case. */
  readonly plans: Record<string, Plan>;
}
export interface ViewerServer {
  readonly origin: string;
  close(): Promise<void>;
}
const CASE = 'case-0001';
const SHA = 'a'.repeat(64);
export const READER = 'person-ann';
const POLICY = "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; connect-src 'self'; worker-src 'self' blob:";

/** Events of a case with its scan, before anybody touched a mark. */
export function openViewerEvents(): CaseEvent[] {
  const events: CaseEvent[] = [];
  addEvent(events, 'trinadir', { kind: 'case.opened', data: { label: 'training', procedureOn: null, training: true } });
  addEvent(events, 'trinadir', { kind: 'scan.joined', data: { scanId: 'scan-0001', manifestSha256: SHA, files: 1, bytes: 1, identity: { verdict: 'same', fields: [], acceptedBecause: null } } });
  addEvent(events, 'trinadir', { kind: 'plan.made', data: { planSha256: SHA, surveySha256: SHA, basedOnSeq: 2 } });
  return events;
}
export function addEvent(events: CaseEvent[], by: string, event: NewCaseEvent): void {
  events.push({ caseId: CASE, seq: events.length + 1, at: '2026-03-02T08:11:00.000Z', by, kind: event.kind, data: event.data, supersedes: event.supersedes ?? null, prevSha256: SHA, sha256: SHA });
}

/** Builds the test page of the viewer into a folder. */
export async function buildViewerPage(outDir: string): Promise<void> {
  const style = 'virtual:section-style.css';
  await build({
    configFile: false, logLevel: 'error', root: fileURLToPath(new URL('./viewer-page/', import.meta.url)), base: '/',
    plugins: [{ name: 'section-style', resolveId: (id) => (id === style ? `\0${style}` : null), load: (id) => (id === `\0${style}` ? drawDeskCss() : null) }],
    oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
    build: { outDir, emptyOutDir: true, target: 'es2022', assetsInlineLimit: 0, modulePreload: { polyfill: false }, chunkSizeWarningLimit: 3000 },
    worker: { format: 'es' },
  });
}

/** Serves the built page and answers the routes that the viewer asks, under the policy of the real server. */
export async function serveViewer(pages: string, shown: ViewerCase): Promise<ViewerServer> {
  const server = createServer((ask, answer) => void answerViewer(pages, shown, ask, answer));
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

async function answerViewer(pages: string, shown: ViewerCase, ask: IncomingMessage, answer: ServerResponse): Promise<void> {
  const url = new URL(ask.url ?? '/', 'http://page');
  const sendJson = (value: unknown, status = 200): void => void answer.writeHead(status, { 'content-type': 'application/json' }).end(JSON.stringify(value));
  const sendBytes = (bytes: Uint8Array | string, headers: Record<string, string> = {}): void => void answer.writeHead(200, { 'content-type': 'application/octet-stream', 'content-length': String(Buffer.byteLength(bytes as Uint8Array)), ...headers }).end(bytes);
  const path = url.pathname.replace(`/api/cases/${CASE}`, '/case');
  const state = () => foldCase(CASE, shown.events);
  if (path === '/api/session') {
    return sendJson({ person: { personId: READER, login: 'ann', displayName: 'Ann', role: shown.role, isActive: true, hasPassword: true, hasOidc: false }, csrfToken: 'token', needsFirstPerson: false, oidcLabel: null, version: 'test', scope: null });
  }
  if (path === '/api/names') return sendJson([{ personId: READER, displayName: 'Ann' }, { personId: 'person-ben', displayName: 'Ben' }]);
  if (path === '/api/cases') return sendJson({ cases: [], total: 0 });
  if (path === '/case') return sendJson({ state: state(), jobs: [] });
  if (path.startsWith('/case/plans/')) return sendJson(shown.plans[path.slice(-64)] ?? shown.plan);
  if (path.startsWith('/case/surveys/')) return sendBytes(writeSurveyDocument(shown.survey));
  if (path === '/case/volumes') {
    return sendJson(Object.keys(shown.blocks).map((seriesUid, i) => ({ seriesUid, description: null, phasePercent: 35 + 40 * i, slices: 200, spacingMm: [0.4, 0.4, 0.6], verdict: 'fit', isMeasured: i === 0, findings: [] })));
  }
  if (path === '/case/block') {
    const block = shown.blocks[url.searchParams.get('seriesUid') ?? Object.keys(shown.blocks)[0]!];
    if (!block) return sendJson({ error: { code: 'block-missing', text: 'There is no such block.', next: 'Choose another phase.' } }, 404);
    return sendBytes(new Uint8Array(block.samplesHu.buffer, block.samplesHu.byteOffset, block.samplesHu.byteLength), { 'x-dims': block.dims.join(','), 'x-lps-from-voxel': block.lpsFromVoxel.rows.join(','), 'x-padding-hu': String(block.paddingHu ?? '') });
  }
  if (path.startsWith('/case/surfaces/')) {
    const surface = shown.surfaces[path.slice('/case/surfaces/'.length)];
    return surface ? sendBytes(surface) : sendJson({ error: { code: 'surface-missing', text: 'There is no such surface.', next: 'Plan again.' } }, 404);
  }
  if (path === '/case/events' && ask.method === 'GET') return sendJson(shown.events.slice(Number(url.searchParams.get('after') ?? 0)));
  if (path === '/case/events') {
    const parts: Buffer[] = [];
    for await (const part of ask) parts.push(part as Buffer);
    const body = JSON.parse(Buffer.concat(parts).toString()) as { expectSeq: number; events: NewCaseEvent[] };
    if (shown.refusesEdits) return sendJson({ error: { code: 'store-unreachable', text: 'The store cannot be reached.', next: 'Try again.' } }, 503);
    for (const event of body.events) addEvent(shown.events, READER, event);
    return sendJson({ state: state(), events: shown.events.slice(-body.events.length) });
  }
  const file = join(pages, path === '/' ? 'index.html' : path);
  if (!existsSync(file)) return sendJson({ error: { code: 'not-here', text: path, next: '' } }, 404);
  const kind = file.endsWith('.js') ? 'text/javascript' : file.endsWith('.css') ? 'text/css' : 'text/html';
  answer.writeHead(200, { 'content-type': kind, 'content-security-policy': POLICY }).end(readFileSync(file));
}
