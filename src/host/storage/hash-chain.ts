import { createHash } from 'node:crypto';
import type { CaseEvent } from '../../core/case/case-events.ts';
import { formatCanonical } from '../../core/audit/format-canonical.ts';
import type { AuditEntry } from './store-types.ts';

/** In front of the first link of every chain. */
export const CHAIN_START = '0'.repeat(64);

export function hashText(text: string): string {
  return createHash('sha256').update(text).digest('hex');
}

/** SHA-256 over the canonical JSON (RFC 8785) of everything an event says but its own hash. */
export function hashEvent({ caseId, seq, at, by, kind, data, supersedes, prevSha256 }: Omit<CaseEvent, 'sha256'>): string {
  return hashText(formatCanonical({ caseId, seq, at, by, kind, data, supersedes, prevSha256 }));
}

export function hashAuditEntry({ seq, at, by, kind, caseId, data, prevSha256 }: Omit<AuditEntry, 'sha256'>): string {
  return hashText(formatCanonical({ seq, at, by, kind, caseId, data, prevSha256 }));
}
