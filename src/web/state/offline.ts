import { signal } from '@preact/signals';

/**
 * The service worker of the room's pages: registered by the first of them. A page never changes under the person's hands:
 * what is newer is said, and comes when they load the page again.
 */
/** `newer`: the server has other pages than this one. */
export const pageState = signal<'current' | 'newer'>('current');

const OWN_FILE = new URL(import.meta.url).pathname;
const LOOK_MS = 10 * 60_000;
/** How long the person who asked for newer pages waits for the worker that brings them. */
const HANDOVER_MS = 3000;

export function registerOffline(): void {
  if (!('serviceWorker' in navigator) || isRegistered) return;
  isRegistered = true;
  const { serviceWorker } = navigator;
  let isFirst = serviceWorker.controller === null;
  serviceWorker.addEventListener('controllerchange', () => {
    if (!isFirst) void judge(serviceWorker.controller);
    isFirst = false;
  });
  void serviceWorker.register('/offline-worker.js', { updateViaCache: 'none' }).then((registration) => {
    const look = (): void => {
      const { waiting } = registration;
      if (waiting) void judge(waiting);
    };
    look();
    registration.addEventListener('updatefound', () => registration.installing?.addEventListener('statechange', look));
    setInterval(lookForNewer, LOOK_MS);
    void judge(registration.active);
  }, () => undefined);
}
let isRegistered = false;
/** Asks the server for newer pages: now and then, and when it is back. */
export function lookForNewer(): void {
  if (!isRegistered) return;
  void navigator.serviceWorker.getRegistration().then((registration) => registration?.update()).catch(() => undefined);
}

/** Asks a worker which files it keeps; of this page's own file it must know, or page and worker are of two versions. */
async function judge(worker: ServiceWorker | null): Promise<void> {
  if (worker === null) return;
  const channel = new MessageChannel();
  const files = await new Promise<readonly string[]>((resolve) => {
    channel.port1.onmessage = (event: MessageEvent<readonly string[]>) => resolve(event.data);
    worker.postMessage('files', [channel.port2]);
  });
  const isOwn = files.includes(OWN_FILE);
  const isActive = worker.state === 'activated' || worker.state === 'activating';
  // A worker that waits and keeps this very page is the newer one: the page came from the server. It may take over.
  if (isOwn && !isActive) worker.postMessage('take over');
  else if (!isOwn && !isActive) pageState.value = 'newer';
  else if (!isOwn) void readWaiting();
}
/** The active worker is of another version: older than the page (a newer one is on its way) or newer than it. */
async function readWaiting(): Promise<void> {
  const registration = await navigator.serviceWorker.getRegistration();
  if (!registration) return;
  if (registration.waiting) return judge(registration.waiting);
  if (registration.installing) return; // judged when it is there
  await registration.update().catch(() => undefined);
  if (!registration.installing && !registration.waiting) pageState.value = 'newer';
}
/** The person wants the newer pages: the worker that waits takes over, and the page is loaded again. */
export async function loadNewer(): Promise<void> {
  const { serviceWorker } = navigator;
  const registration = await serviceWorker.getRegistration().catch(() => undefined);
  if (registration?.waiting) {
    // A page that is asked for while one worker hands over to the other waits for both: first the one, then the other.
    const handed = new Promise((resolve) => serviceWorker.addEventListener('controllerchange', resolve, { once: true }));
    registration.waiting.postMessage('take over');
    await Promise.race([handed, new Promise((resolve) => setTimeout(resolve, HANDOVER_MS))]);
  }
  location.reload();
}
