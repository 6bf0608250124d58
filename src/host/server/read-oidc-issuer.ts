import { readFile } from 'node:fs/promises';
import * as oidc from 'openid-client';
import { z } from 'zod';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';
import type { OidcIssuer } from './add-oidc-door.ts';

const FILE = z.strictObject({
  issuer: z.url(), clientId: z.string().min(1).max(200), clientSecret: z.string().min(1).max(500).optional(),
  label: z.string().min(1).max(60).default(SERVER_EN.signInWindow), loginClaim: z.string().min(1).max(60).default('preferred_username'),
});
export type OidcFailureCode = 'oidc-file-wrong' | 'oidc-unreachable';
const LOOPBACK = new Set(['127.0.0.1', 'localhost', '[::1]']);

/**
 * The issuer that a file names, asked for its own description (OpenID Connect Discovery 1.0). A file, since a secret does
 * not belong on a command line.
 *
 * Fails  oidc-file-wrong, oidc-unreachable
 */
export async function readOidcIssuer(file: string): Promise<Result<OidcIssuer, OidcFailureCode>> {
  const wrong = (where: string) => fail('oidc-file-wrong', formatText(SERVER_EN, 'oidcFileWrong', { where }), SERVER_EN.oidcFileWrongNext, { where });
  let content: unknown;
  try {
    content = JSON.parse(await readFile(file, 'utf8'));
  } catch {
    return wrong('not readable as JSON');
  }
  const parsed = FILE.safeParse(content);
  if (!parsed.success) return wrong(parsed.error.issues[0]?.path.join('.') || 'its fields');
  const { issuer, clientId, clientSecret, label, loginClaim } = parsed.data;
  const url = new URL(issuer);
  const isHere = url.protocol === 'http:' && LOOPBACK.has(url.hostname);
  if (url.protocol !== 'https:' && !isHere) return wrong('issuer');
  try {
    const config = await oidc.discovery(url, clientId, clientSecret, clientSecret === undefined ? oidc.None() : undefined, { timeout: 10, ...(isHere ? { execute: [oidc.allowInsecureRequests] } : {}) });
    return succeed({ label, config, loginClaim });
  } catch {
    return fail('oidc-unreachable', SERVER_EN.oidcUnreachable, SERVER_EN.oidcUnreachableNext);
  }
}
