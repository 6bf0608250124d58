import { availableParallelism } from 'node:os';

/** Worker threads to use: TRINADIR_WORKERS when it is a whole number from 1 to 64, else the cores. */
export function countWorkers(environment: Readonly<Record<string, string | undefined>> = process.env): number {
  const text = environment['TRINADIR_WORKERS'];
  const asked = text === undefined || text.trim() === '' ? NaN : Number(text);
  if (Number.isInteger(asked) && asked >= 1 && asked <= 64) return asked;
  return Math.max(1, availableParallelism());
}
