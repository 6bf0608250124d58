import { cleanupOutdatedCaches, matchPrecache, precache } from 'workbox-precaching';
import { registerRoute } from 'workbox-routing';
import { isRoomPath } from './state/room-path.ts';

/**
 * Service worker of the room: its pages open without a server. It keeps the pages' own files and nothing else: no answer
 * of the API, no document, no log. A page comes from the server whenever that answers; only when it does not, the kept one
 * is shown. Files of the pages carry a hash of their content in their names, so that a kept one is never an old one.
 */
interface WorkerPlace {
  skipWaiting(): Promise<void>;
  readonly clients: { claim(): Promise<void> };
  addEventListener(kind: string, listen: (event: WorkerEvent) => void): void;
}
interface WorkerEvent {
  readonly data?: unknown;
  readonly ports?: readonly MessagePort[];
  waitUntil(work: Promise<unknown>): void;
}
/** Put here by the build: every file of the pages that the room needs. */
declare const PAGE_FILES: readonly { readonly url: string; readonly revision: string | null }[];

const place = self as unknown as WorkerPlace;
/** How long the server may take to give a page before the kept one is shown. */
const MOST_WAIT_MS = 2500;
const PAGE = '/index.html';

precache([...PAGE_FILES]);
cleanupOutdatedCaches();

registerRoute(
  ({ url, request, sameOrigin }) => sameOrigin && request.mode === 'navigate' && isRoomPath(url.pathname),
  async ({ request }) => {
    const kept = async (): Promise<Response> => (await matchPrecache(PAGE).catch(() => undefined)) ?? Response.error();
    try {
      const fresh = await fetch((request as Request).url, { credentials: 'same-origin', cache: 'no-cache', signal: AbortSignal.timeout(MOST_WAIT_MS) });
      return fresh.status >= 500 ? await kept() : fresh;
    } catch {
      return kept();
    }
  },
);
registerRoute(
  ({ url, sameOrigin }) => sameOrigin && url.pathname.startsWith('/assets/'),
  async ({ request, url }) => (await matchPrecache(url.pathname)) ?? fetch(request),
);

// A first worker takes over at once; a newer one waits until a page says that the person knows (see offline.ts).
place.addEventListener('activate', (event) => event.waitUntil(place.clients.claim()));
place.addEventListener('message', (event) => {
  if (event.data === 'take over') event.waitUntil(place.skipWaiting());
  if (event.data === 'files') event.ports?.[0]?.postMessage(PAGE_FILES.map((file) => file.url));
});
