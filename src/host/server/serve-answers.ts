import { randomBytes } from 'node:crypto';
import type { Server } from 'node:http';
import { createAdaptorServer } from '@hono/node-server';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { makeAnswerApp } from './answer-app.ts';

export interface AnswerServer {
  /** Holds the start token: print it, do not log it. */
  readonly startUrl: string;
  readonly port: number;
  close(): Promise<void>;
}

const LOOPBACK = '127.0.0.1';
const USUAL_PORT = 8471;

function listen(server: Server, port: number): Promise<number | null> {
  return new Promise((resolve, reject) => {
    const refuse = (problem: { code?: string }): void =>
      problem.code === 'EADDRINUSE' || problem.code === 'EACCES' ? resolve(null) : reject(problem as Error);
    server.once('error', refuse);
    server.listen(port, LOOPBACK, () => {
      server.off('error', refuse);
      const address = server.address();
      resolve(typeof address === 'object' && address ? address.port : port);
    });
  });
}

/**
 * Serves a folder of answers on the loopback address only. Without `port` the usual one, or a free one when it is taken.
 *
 * Fails  port-taken
 */
export async function serveAnswers(options: {
  readonly folder: string;
  readonly indexHtml: string;
  readonly port?: number;
}): Promise<Result<AnswerServer, 'port-taken'>> {
  const startToken = randomBytes(24).toString('base64url');
  const sessionToken = randomBytes(24).toString('base64url');
  let answer: ((request: Request) => Response | Promise<Response>) | null = null;
  const server = createAdaptorServer({
    fetch: (request) => answer?.(request) ?? new Response('Starting.', { status: 503 }),
    hostname: LOOPBACK,
  }) as Server;
  let port = await listen(server, options.port ?? USUAL_PORT);
  if (port === null && options.port === undefined) port = await listen(server, 0);
  if (port === null) {
    const taken = options.port ?? USUAL_PORT;
    return fail('port-taken', formatText(HOUSE_EN, 'portTaken', { port: taken }), HOUSE_EN.portTakenNext, { port: taken });
  }
  const app = makeAnswerApp({ folder: options.folder, port, startToken, sessionToken, indexHtml: options.indexHtml });
  answer = (request) => app.fetch(request);
  const close = (): Promise<void> =>
    new Promise((resolve) => {
      server.close(() => resolve());
      server.closeAllConnections();
    });
  return succeed({ startUrl: `http://${LOOPBACK}:${port}/start/${startToken}`, port, close });
}
