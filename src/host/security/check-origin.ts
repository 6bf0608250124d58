import { fail, succeed, type Result } from '../../core/result.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';

/** Where the pages are reached: `origins` for browsers, `hosts` for the Host field. */
export interface SiteAddress {
  readonly origins: readonly string[];
  readonly hosts: readonly string[];
  /** Cookies only over TLS. */
  readonly isSecure: boolean;
  readonly port: number;
}

export function makeSiteAddress(port: number, publicOrigin: string | null): SiteAddress {
  const loopback = [`127.0.0.1:${port}`, `localhost:${port}`];
  if (publicOrigin === null) return { hosts: loopback, origins: loopback.map((host) => `http://${host}`), isSecure: false, port };
  const { origin, host, protocol } = new URL(publicOrigin);
  return { hosts: [host, ...loopback], origins: [origin, ...loopback.map((each) => `http://${each}`)], isSecure: protocol === 'https:', port };
}

const SAFE = new Set(['GET', 'HEAD', 'OPTIONS']);
export const isUnsafeMethod = (method: string): boolean => !SAFE.has(method);

/**
 * Whether a request comes from our own pages. A browser says so itself: Sec-Fetch-Site cannot be set by a script, and
 * Origin stands on every request that may change something.
 *
 * Fails  host-foreign (a foreign name that resolves to this machine), cross-site
 */
export function checkOrigin(headers: Headers, method: string, site: SiteAddress): Result<null, 'host-foreign' | 'cross-site'> {
  if (!site.hosts.includes(headers.get('host') ?? '')) return fail('host-foreign', SERVER_EN.hostForeign, SERVER_EN.hostForeignNext);
  const from = headers.get('sec-fetch-site');
  const crossSite = fail('cross-site', SERVER_EN.crossSite, SERVER_EN.crossSiteNext);
  if (isUnsafeMethod(method)) {
    const origin = headers.get('origin');
    if (from !== null && from !== 'same-origin') return crossSite;
    return origin !== null && site.origins.includes(origin) && isOriginOfHost(origin, headers.get('host')!, site) ? succeed(null) : crossSite;
  }
  // A link may lead here from anywhere; a foreign page may not fetch or embed an answer.
  const isLink = headers.get('sec-fetch-mode') === 'navigate' && headers.get('sec-fetch-dest') === 'document';
  return from === null || from === 'same-origin' || from === 'none' || isLink ? succeed(null) : crossSite;
}

/** Host and origin must be the same place, so that localhost is not spoken to from 127.0.0.1. A proxy may pass on either name. */
function isOriginOfHost(origin: string, host: string, site: SiteAddress): boolean {
  return new URL(origin).host === host || (site.isSecure && origin === site.origins[0]);
}
