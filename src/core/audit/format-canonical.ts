/**
 * JSON in one fixed form, so that the same content has the same hash whatever the order of its keys.
 * Shape     text without white space; keys by UTF-16 code units; numbers and strings as ECMAScript writes them
 * Source    RFC 8785 (JSON Canonicalization Scheme), sections 3.2.2 and 3.2.3
 * Fails     never for parsed JSON; a value that JSON cannot hold (undefined, NaN) is a defect of the caller and throws
 */
export function formatCanonical(value: unknown): string {
  if (value === null || typeof value === 'boolean' || typeof value === 'string') return JSON.stringify(value);
  if (typeof value === 'number') {
    if (!Number.isFinite(value)) throw new Error('A number that is not finite has no canonical form.');
    return JSON.stringify(value);
  }
  if (Array.isArray(value)) return `[${value.map(formatCanonical).join(',')}]`;
  if (typeof value !== 'object') throw new Error(`A ${typeof value} has no canonical form.`);
  const record = value as Readonly<Record<string, unknown>>;
  const keys = Object.keys(record).sort((a, b) => (a < b ? -1 : a > b ? 1 : 0));
  return `{${keys.map((key) => `${JSON.stringify(key)}:${formatCanonical(record[key])}`).join(',')}}`;
}
