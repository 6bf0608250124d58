import { WorkerPool } from './worker-pool.ts';

/** Runs named jobs in one thread of its own, one after another; it starts with the first and does not keep the program alive. */
export interface ThreadDesk {
  run<Out>(name: string, input: unknown): Promise<Out>;
  close(): Promise<void>;
}

/** A thread that is lost takes its job with it, and that one alone: the jobs behind it are given to a new thread. */
export function makeThreadDesk(makePool: () => WorkerPool = () => new WorkerPool(1, { isQuiet: true })): ThreadDesk {
  let pool: WorkerPool | null = null;
  let last: Promise<unknown> = Promise.resolve();
  const runNow = async <Out>(name: string, input: unknown): Promise<Out> => {
    const mine = (pool ??= makePool());
    try {
      return await mine.run<Out>(name, input);
    } catch (problem) {
      pool = null;
      void mine.close();
      throw problem;
    }
  };
  return {
    run<Out>(name: string, input: unknown): Promise<Out> {
      const mine = last.then(() => runNow<Out>(name, input));
      last = mine.catch(() => null);
      return mine;
    },
    async close() {
      await pool?.close();
    },
  };
}
