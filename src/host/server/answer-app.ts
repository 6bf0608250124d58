import { createHash, timingSafeEqual } from 'node:crypto';
import { readFile, realpath, stat } from 'node:fs/promises';
import { extname, join, sep } from 'node:path';
import { Hono } from 'hono';
import { getCookie, setCookie } from 'hono/cookie';

/**
 * Read-only pages over one folder of answers, for a browser on this machine. Nothing is shown without the cookie that
 * the start address gives; a foreign page can neither read nor embed anything.
 */
export interface AnswerAppOptions {
  readonly folder: string;
  readonly port: number;
  /** Part of the address printed at the start; exchanged for the cookie. */
  readonly startToken: string;
  readonly sessionToken: string;
  /** The page at /, complete HTML without script. */
  readonly indexHtml: string;
}

const SECURITY_HEADERS: Readonly<Record<string, string>> = {
  // No script runs from these pages unless it is a file of ours; styles stand inside the self-contained pages.
  'Content-Security-Policy':
    "default-src 'none'; script-src 'self'; style-src 'unsafe-inline'; img-src 'self' data:; font-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
  'X-Content-Type-Options': 'nosniff',
  'X-Frame-Options': 'DENY',
  'Referrer-Policy': 'no-referrer',
  'Cross-Origin-Opener-Policy': 'same-origin',
  'Cross-Origin-Resource-Policy': 'same-origin',
  'Permissions-Policy': 'camera=(), microphone=(), geolocation=()',
  'Cache-Control': 'no-store',
};

const CONTENT_TYPES: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.json': 'application/json; charset=utf-8',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.pdf': 'application/pdf',
  '.stl': 'model/stl',
  '.dcm': 'application/dicom',
};

/** Equal or not, in a time that does not tell how much of the token was right. */
function isSameToken(given: string, wanted: string): boolean {
  const digest = (text: string): Buffer => createHash('sha256').update(text).digest();
  return timingSafeEqual(digest(given), digest(wanted));
}

/** The file that an address names, or null: outside the folder, hidden, not a plain file, or not there. */
async function findFile(folder: string, pathname: string): Promise<string | null> {
  let parts: string[];
  try {
    parts = pathname.slice(1).split('/').map(decodeURIComponent);
  } catch {
    return null; // broken percent signs
  }
  if (parts.some((part) => part === '' || part.startsWith('.') || /[/\\:\0]/.test(part))) return null;
  try {
    const top = await realpath(folder);
    const path = await realpath(join(top, ...parts)); // follows links, so that a link out of the folder is seen
    return path.startsWith(top + sep) && (await stat(path)).isFile() ? path : null;
  } catch {
    return null;
  }
}

export function makeAnswerApp(options: AnswerAppOptions): Hono {
  const app = new Hono();
  const hosts = [`127.0.0.1:${options.port}`, `localhost:${options.port}`];
  const cookie = `trinadir_${options.port}`; // cookies do not tell ports apart, names do

  app.use('*', async (c, next) => {
    for (const [name, value] of Object.entries(SECURITY_HEADERS)) c.header(name, value);
    // A foreign name that resolves to this machine (DNS rebinding) gets nothing.
    if (!hosts.includes(c.req.header('host') ?? '')) return c.text('This address is not served here.', 421);
    if (c.req.method !== 'GET' && c.req.method !== 'HEAD') return c.text('Only reading is possible.', 405, { Allow: 'GET, HEAD' });
    return next();
  });
  app.get('/start/:token', (c) => {
    if (!isSameToken(c.req.param('token'), options.startToken)) return c.text('The start address is not right.', 403);
    setCookie(c, cookie, options.sessionToken, { httpOnly: true, sameSite: 'Strict', path: '/' });
    return c.redirect('/', 303);
  });
  app.use('*', async (c, next) => {
    if (isSameToken(getCookie(c, cookie) ?? '', options.sessionToken)) return next();
    return c.text('Open the start address that the program printed.', 403);
  });
  app.get('/', (c) => c.html(options.indexHtml));
  app.get('*', async (c) => {
    const file = await findFile(options.folder, new URL(c.req.url).pathname);
    if (file === null) return c.text('There is no such page.', 404);
    const type = CONTENT_TYPES[extname(file).toLowerCase()];
    if (type === undefined) c.header('Content-Disposition', 'attachment');
    c.header('Content-Type', type ?? 'application/octet-stream');
    return c.body(await readFile(file));
  });
  return app;
}
