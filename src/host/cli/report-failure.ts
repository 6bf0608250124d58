import type { Failure } from '../../core/result.ts';
import type { CommandIo } from './command-io.ts';

/**
 * Tells the person, or with --json the program, why there is no answer: the last line on standard error.
 * `where` is the verb, or verb and input part ("plan", "plan landmarks"); never a path or file content.
 */
export function reportFailure(
  failure: Failure<string>,
  where: string,
  options: { readonly json: boolean },
  io: CommandIo,
): void {
  if (options.json) {
    const error = { code: failure.code, text: failure.message, next: failure.nextStep, where };
    io.err(`${JSON.stringify({ error })}\n`);
  } else {
    io.err(`trinadir ${where}: ${failure.message}\n  Next: ${failure.nextStep}\n  Code: ${failure.code}\n`);
  }
}
