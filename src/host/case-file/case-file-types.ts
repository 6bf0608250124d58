import type { CaseEvent } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { Result } from '../../core/result.ts';

export type CaseFileFailureCode =
  | 'case-unreadable' | 'case-not-case' | 'case-other-format' | 'case-too-large' | 'case-zip-outside' | 'case-zip-double' | 'chain-broken' | 'case-read-only' | 'case-in-use' | 'case-place-taken'
  | 'document-missing' | 'document-damaged' | 'event-invalid' | 'folder-not-writable' | 'store-full';

/** Names inside a case folder and inside a .trinadir.zip: the same, so that an unpacked zip is a case folder. */
export const CASE_FILES = { head: 'case.json', events: 'events.ndjson', documents: 'documents' } as const;
export const nameDocument = (sha256: string): string => `${CASE_FILES.documents}/${sha256}.json`;

/** Something to say beside an answer, which does not stand in its way. */
export interface CaseNote {
  readonly code: 'log-tail-unacknowledged' | 'zip-entries-foreign';
  readonly text: string;
}

/** A case, wherever it came from: its chain checked, its state folded. Documents are checked when they are read. */
export interface OpenedCase {
  readonly where: 'folder' | 'zip' | 'stored';
  readonly caseId: string;
  readonly events: readonly CaseEvent[];
  readonly state: CaseState;
  readonly notes: readonly CaseNote[];
  /** Text of JSON, its hash checked. Fails document-missing, document-damaged, and as the store. */
  readDocument(sha256: string): Promise<Result<string, string>>;
  /** Hashes of the documents that lie there; of a stored case those that its events name. */
  listDocuments(): Promise<readonly string[]>;
  /** What a person's id is shown as. */
  nameOf(by: string): string;
  /** Notes in the record of a store that this was read or written out; nothing for a file. */
  note(kind: 'case.read' | 'export.made', data: Readonly<Record<string, string>>): Promise<Result<unknown, string>>;
  close(): Promise<void>;
}
