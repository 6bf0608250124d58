import type { Reason } from '../units/fact.ts';

/** A reason from the words of the catalogue. */
export function makeReason(code: string, text: string, next: string): Reason {
  return { code, text, next };
}

/** At most two decimals, no trailing zeros. For showing only: decisions use the unrounded value. */
export function showNumber(value: number): string {
  return String(Math.round(value * 100) / 100 + 0);
}

const MOST_DECIMALS = 9;
/** The value with as many decimals as it takes to stand on its own side of the limit: rounding never crosses one. */
export function showBeside(value: number, limit: number): string {
  for (let decimals = 0; decimals <= MOST_DECIMALS; decimals++) {
    const shown = Number(value.toFixed(decimals));
    if (decimals >= 2 && Math.sign(shown - limit) === Math.sign(value - limit)) return String(shown + 0);
  }
  return String(value);
}
