/**
 * A number as text beside its limit: as few digits as keep it on its own side (job.md, E22: a shown value never crosses a
 * limit by rounding). 3 digits at most; then all of them.
 */
export function formatBesideLimit(value: number, limit: number): string {
  for (let digits = 0; digits <= 3; digits++) {
    const shown = Number(value.toFixed(digits));
    if (Math.sign(shown - limit) === Math.sign(value - limit)) return String(shown + 0);
  }
  return String(value);
}

/** A number that stands alone: at most one digit after the point. */
export function formatPlain(value: number): string {
  return String(Number(value.toFixed(1)) + 0);
}
