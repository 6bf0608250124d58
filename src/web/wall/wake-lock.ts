import { signal } from '@preact/signals';

/** True: the machine may switch this screen off by itself; the wall says so. */
export const mayScreenSleep = signal(false);

/** Keeps the screen on while the page is seen; asked for again whenever the browser let it go. Gives what ends it. */
export function keepAwake(): () => void {
  let isWanted = true;
  let held: WakeLockSentinel | null = null;
  const ask = async (): Promise<void> => {
    if (!isWanted || held || document.visibilityState !== 'visible') return;
    try {
      const lock = await navigator.wakeLock.request('screen');
      held = lock;
      mayScreenSleep.value = false;
      lock.addEventListener('release', () => {
        held = null;
        void ask();
      });
      if (!isWanted) void lock.release();
    } catch {
      mayScreenSleep.value = true; // not offered, low battery, or not a secure address
    }
  };
  const look = (): void => void ask();
  document.addEventListener('visibilitychange', look);
  const timer = setInterval(look, 30_000);
  void ask();
  return () => {
    isWanted = false;
    clearInterval(timer);
    document.removeEventListener('visibilitychange', look);
    void held?.release();
  };
}
