/** The time of the server, ms since 1970, that never goes back. */
export type ReadNow = () => number;

/**
 * A clock that never runs backwards: when the machine's clock is set back, time goes on by the monotonic timer, so that
 * sessions still end and no record is dated before the one in front of it. When it is set forward, so is this one.
 */
export function makeSteadyClock(readWall: ReadNow = Date.now, readMonotonicMs: ReadNow = () => performance.now()): ReadNow {
  let lastMs = readWall();
  let lastTick = readMonotonicMs();
  return () => {
    const tick = readMonotonicMs();
    lastMs = Math.max(readWall(), lastMs + Math.max(0, tick - lastTick));
    lastTick = tick;
    return Math.floor(lastMs);
  };
}
export const formatInstant = (ms: number): string => new Date(ms).toISOString();
