import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { afterEach, describe, expect, test } from 'vitest';
import type { LoadSlicesInput, LoadSlicesOutput } from '../intake/load-slices-job.ts';
import { countWorkers } from './count-workers.ts';
import { WorkerPool } from './worker-pool.ts';

const isBuilt = existsSync(fileURLToPath(new URL('../../../dist/host/jobs/worker-entry.js', import.meta.url)));
const withThreads = test.skipIf(!isBuilt);
const open: WorkerPool[] = [];
const openPool = (workers: number): WorkerPool => {
  const pool = new WorkerPool(workers);
  open.push(pool);
  return pool;
};
afterEach(async () => { for (const pool of open.splice(0)) await pool.close(); });

const nothing = (): LoadSlicesInput => ({ samplesHu: new Int16Array(new SharedArrayBuffer(8)), slices: [], wantsHashes: true });

describe('WorkerPool', () => {
  test('runs jobs in this thread when it has no workers, in the order given', async () => {
    const pool = openPool(0);
    const outputs = await Promise.all([1, 2, 3].map(() => pool.run<LoadSlicesOutput>('load-slices', nothing())));
    expect(outputs).toEqual(Array(3).fill({ hashes: [], paddingCount: 0, clippedCount: 0, failures: [] }));
  });
  withThreads('gives the answers of this thread from worker threads, also with more jobs than threads', async () => {
    const pool = openPool(2);
    expect(pool.workers).toBe(2);
    const outputs = await Promise.all(Array.from({ length: 9 }, () => pool.run<LoadSlicesOutput>('load-slices', nothing())));
    expect(outputs).toHaveLength(9);
    expect(outputs[8]).toEqual({ hashes: [], paddingCount: 0, clippedCount: 0, failures: [] });
  });
  test('rejects a job that nobody knows, and goes on', async () => {
    for (const workers of isBuilt ? [0, 1] : [0]) {
      const pool = openPool(workers);
      await expect(pool.run('no-such-job', {})).rejects.toThrow('no-such-job');
      await expect(pool.run('load-slices', nothing())).resolves.toBeDefined();
    }
  });
  withThreads('rejects what waits when it is closed', async () => {
    const pool = openPool(1);
    const waiting = Array.from({ length: 4 }, () => pool.run('load-slices', nothing()));
    const settled = Promise.allSettled(waiting);
    await pool.close();
    expect((await settled).some((one) => one.status === 'rejected')).toBe(true);
    await expect(pool.run('load-slices', nothing())).rejects.toThrow('closed');
  });
});

describe('countWorkers', () => {
  test('takes TRINADIR_WORKERS when it is a whole number of at least 1, else the cores', () => {
    expect(countWorkers({ TRINADIR_WORKERS: '3' })).toBe(3);
    const cores = countWorkers({});
    expect(cores).toBeGreaterThanOrEqual(1);
    for (const odd of ['', '0', '-1', '1.5', 'many', '1000']) expect(countWorkers({ TRINADIR_WORKERS: odd })).toBe(cores);
  });
});
