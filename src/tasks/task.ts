import type { Result } from '../core/result.ts';

/** A computation that runs unchanged in a Node thread, a browser worker or the cohort queue: same input, same answer. */
export interface Task<Name extends string, In, Out, Code extends string> {
  readonly name: Name;
  run(input: In, report: (doneRatio: number) => void): Promise<Result<Out, Code>> | Result<Out, Code>;
}
