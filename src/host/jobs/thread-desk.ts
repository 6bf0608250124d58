import { WorkerPool } from './worker-pool.ts';

/** Runs named jobs in one thread of its own, one after another; it starts with the first and does not keep the program alive. */
export interface ThreadDesk {
  run<Out>(name: string, input: unknown): Promise<Out>;
  close(): Promise<void>;
}

/** A thread that is lost takes its job with it; the next job gets a new one. */
export function makeThreadDesk(makePool: () => WorkerPool = () => new WorkerPool(1, { isQuiet: true })): ThreadDesk {
  let pool: WorkerPool | null = null;
  return {
    async run<Out>(name: string, input: unknown): Promise<Out> {
      const mine = (pool ??= makePool());
      try {
        return await mine.run<Out>(name, input);
      } catch (problem) {
        if (pool === mine) pool = null;
        void mine.close();
        throw problem;
      }
    },
    async close() {
      await pool?.close();
    },
  };
}
