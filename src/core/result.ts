/** Failure is a value: nothing in core or formats throws for bad input. A throw means our defect. */
export interface Failure<Code extends string> {
  /** Stable, kebab-case, listed in docs/failures.md. */
  readonly code: Code;
  /** What is wrong, with the number that shows it. */
  readonly message: string;
  /** What the reader can do now. */
  readonly nextStep: string;
  /** Numbers and words behind the message; never a name or a date of birth. */
  readonly evidence: Readonly<Record<string, number | string>>;
}

export type Result<T, Code extends string = string> =
  { readonly ok: true; readonly value: T } | { readonly ok: false; readonly failure: Failure<Code> };

export function succeed<T>(value: T): { readonly ok: true; readonly value: T } {
  return { ok: true, value };
}

export function fail<Code extends string>(
  code: Code,
  message: string,
  nextStep: string,
  evidence: Readonly<Record<string, number | string>> = {},
): { readonly ok: false; readonly failure: Failure<Code> } {
  return { ok: false, failure: { code, message, nextStep, evidence } };
}
