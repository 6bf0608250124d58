/**
 * One seed for every property test. Change runs use the fixed seed; nightly runs set TEST_SEED to a new one.
 * Put `seed` in the describe title and hand `replay` to fc.assert: the title and the printed path replay a failure:
 *   TEST_SEED=... TEST_PATH=... npx vitest run path/to/file.test.ts
 */
const FIXED_SEED = 20260302;

function readWholeNumber(name: string, preset: number): number {
  const text = process.env[name];
  if (text === undefined || text === '') return preset;
  const value = Number(text);
  if (!Number.isSafeInteger(value)) throw new Error(`${name} is "${text}"; it must be a whole number.`);
  return value;
}

export const seed: number = readWholeNumber('TEST_SEED', FIXED_SEED);
const path = process.env['TEST_PATH'];

/** Options of fc.assert: { seed, numRuns, path? }. A dear test takes fewer runs: `{ ...replay, numRuns: 20 }`. */
export const replay: { readonly seed: number; readonly numRuns: number; readonly path?: string } = {
  seed,
  numRuns: readWholeNumber('TEST_RUNS', 100),
  ...(path ? { path } : {}),
};
