import type { z } from 'zod';

/** Place and kind of the first problem. Field names are those of our own schemas; an unknown key is not repeated. */
export function readIssue(error: z.ZodError): { readonly field: string; readonly problem: string; readonly isMissing: boolean } {
  const issue = error.issues[0]!;
  return {
    field: issue.path.map(String).join('.') || 'the file',
    problem: issue.code,
    isMissing: issue.code === 'invalid_type' && /received (undefined|null|NaN)/.test(issue.message),
  };
}
