import { createHash } from 'node:crypto';
import { formatCanonical } from '../../core/audit/format-canonical.ts';

const SIGNING = new Set(['signedBy', 'signedAt', 'signedSha256']);

/** SHA-256 of a table's content without its three signing fields, in canonical form (decision 0010). */
export function hashSigned(content: Readonly<Record<string, unknown>>): string {
  const rest = Object.fromEntries(Object.entries(content).filter(([key]) => !SIGNING.has(key)));
  return createHash('sha256').update(formatCanonical(rest), 'utf8').digest('hex');
}

/** Whether a hash is stated and no longer that of the content. A table without a stated hash is signed by name and time alone. */
export function isChangedAfterSigning(content: unknown): boolean {
  if (content === null || typeof content !== 'object') return false;
  const record = content as Readonly<Record<string, unknown>>;
  return typeof record['signedSha256'] === 'string' && record['signedSha256'] !== hashSigned(record);
}
