import type { CaseEvent, NewCaseEvent } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { Result } from '../../core/result.ts';
import type { RoomRecord } from '../../core/room/room-types.ts';

export type Role = 'viewer' | 'planner' | 'operator' | 'programme' | 'admin';

export interface Person {
  readonly personId: string;
  /** Log-in name, unique, lower case. */
  readonly login: string;
  readonly displayName: string;
  readonly role: Role;
  readonly isActive: boolean;
  /** null: logs in by OpenID Connect only. */
  readonly passwordHash: string | null;
  /** `issuer subject` of OpenID Connect; null: local account. */
  readonly oidcSubject: string | null;
  readonly createdAt: string;
}

/** One line of the work list: kept beside the events, in the same transaction, and remade from them by `rebuild`. */
export interface CaseLine {
  readonly caseId: string;
  readonly label: string;
  readonly procedureOn: string | null;
  /** Opened for training, or its newest plan stands on invented sizes. */
  readonly training: boolean;
  readonly seq: number;
  readonly changedAt: string;
  /** What is missing, as codes in the order of the case line: 'referral', 'scan', 'root', 'size', ... */
  readonly missing: readonly string[];
  readonly planState: 'none' | 'planning' | 'made' | 'stale' | 'refused';
}

export type StoreFailureCode =
  | 'case-unknown' | 'case-changed' | 'event-invalid' | 'store-unreachable' | 'store-full' | 'store-locked' | 'store-newer' | 'chain-broken' | 'login-taken' | 'person-unknown'
  | 'blob-unknown' | 'blob-damaged' | 'folder-not-writable' | 'record-differs';

export interface AppendRequest {
  readonly caseId: string;
  /**
   * `seq` the writer has seen; another one in the store: `case-changed`, nothing written. Taps of the room behind it do not
   * count. 0 opens a new case.
   */
  readonly expectSeq: number;
  readonly by: string;
  readonly events: readonly NewCaseEvent[];
}

/** The case store; one suite runs on PGlite and on PostgreSQL. Each call is one transaction; acknowledged means flushed. */
export interface CaseStore {
  append(request: AppendRequest): Promise<Result<readonly CaseEvent[], StoreFailureCode>>;
  readState(caseId: string): Promise<Result<CaseState, StoreFailureCode>>;
  listEvents(caseId: string, afterSeq: number): Promise<Result<readonly CaseEvent[], StoreFailureCode>>;
  /** By procedure date, cases without one last; at most `limit`, continued after `afterCaseId`. */
  listCases(ask: { readonly find?: string | undefined; readonly missing?: string | undefined; readonly afterCaseId?: string | undefined; readonly limit: number }): Promise<Result<{ readonly cases: readonly CaseLine[]; readonly total: number }, StoreFailureCode>>;

  /** Records of the room, at the end of the chain; those it has are known and change nothing. Fails also record-differs (`record`: which). */
  appendRecords(request: LogRequest): Promise<Result<LogOutcome, StoreFailureCode>>;
  listRecords(caseId: string, afterSeq: number): Promise<Result<readonly CaseEvent<'room.logged'>[], StoreFailureCode>>;

  addPairing(pairing: StoredPairing): Promise<Result<StoredPairing, StoreFailureCode>>;
  /** The pairing of a code that is still good, which it then is no more; null: no such code, used, ended or too old. */
  takePairing(codeSha256: string): Promise<Result<StoredPairing | null, StoreFailureCode>>;
  findPairing(pairingId: string): Promise<Result<StoredPairing | null, StoreFailureCode>>;
  listPairings(caseId: string): Promise<Result<readonly StoredPairing[], StoreFailureCode>>;
  /** Its code is good no more, and its session is over. */
  endPairing(pairingId: string): Promise<Result<null, StoreFailureCode>>;

  addPerson(person: Omit<Person, 'createdAt'>): Promise<Result<Person, StoreFailureCode>>;
  changePerson(personId: string, change: Partial<Pick<Person, 'displayName' | 'role' | 'isActive' | 'passwordHash' | 'oidcSubject'>>): Promise<Result<Person, StoreFailureCode>>;
  findPerson(by: { readonly personId: string } | { readonly login: string } | { readonly oidcSubject: string }): Promise<Result<Person | null, StoreFailureCode>>;
  listPeople(): Promise<Result<readonly Person[], StoreFailureCode>>;

  /** Only the SHA-256 of a session's token is stored. */
  addSession(session: StoredSession): Promise<Result<StoredSession, StoreFailureCode>>;
  findSession(tokenSha256: string): Promise<Result<StoredSession | null, StoreFailureCode>>;
  touchSession(tokenSha256: string, seenAt: string): Promise<Result<null, StoreFailureCode>>;
  endSession(tokenSha256: string): Promise<Result<null, StoreFailureCode>>;
  endSessionsOf(personId: string): Promise<Result<null, StoreFailureCode>>;

  /** Hash-chained record of reads, log-ins and administration; case writes are their own chain. */
  addAudit(entry: NewAuditEntry): Promise<Result<AuditEntry, StoreFailureCode>>;
  listAudit(ask: { readonly caseId?: string | undefined; readonly afterSeq: number; readonly limit: number }): Promise<Result<readonly AuditEntry[], StoreFailureCode>>;

  /** Small documents by content: plans, survey states, device tables, rules, landmarks, manifests. Text of JSON. */
  putDocument(kind: DocumentKind, text: string): Promise<Result<{ readonly sha256: string }, StoreFailureCode>>;
  readDocument(sha256: string): Promise<Result<{ readonly kind: DocumentKind; readonly text: string }, StoreFailureCode>>;
  listDocuments(kind: DocumentKind): Promise<Result<readonly { readonly sha256: string; readonly at: string }[], StoreFailureCode>>;

  putJob(job: StoredJob): Promise<Result<StoredJob, StoreFailureCode>>;
  findJob(jobId: string): Promise<Result<StoredJob | null, StoreFailureCode>>;
  listJobs(ask: { readonly caseId?: string | undefined; readonly states?: readonly StoredJob['state'][] | undefined }): Promise<Result<readonly StoredJob[], StoreFailureCode>>;

  /** Checks every chain, every document against its hash and every state against its events; gives what was read. */
  verifyChains(): Promise<Result<{ readonly cases: number; readonly events: number; readonly auditEntries: number; readonly documents: number }, StoreFailureCode>>;
  close(): Promise<void>;
}
export type DocumentKind = 'plan' | 'survey' | 'devices' | 'rules' | 'rescue' | 'landmarks' | 'manifest' | 'cuts' | 'frozen' | 'pressure' | 'contrast' | 'grade' | 'verdict' | 'ecg' | 'rhythm-rules';

export interface LogRequest { readonly caseId: string; readonly by: string; readonly records: readonly RoomRecord[] }
export interface LogOutcome {
  readonly state: CaseState;
  /** Those that were new, as they stand in the log. */
  readonly events: readonly CaseEvent<'room.logged'>[];
  readonly taken: readonly string[];
  readonly known: readonly string[];
}
/** A wall or a remote that a person lets into one room. Only the SHA-256 of its code is stored. */
export interface StoredPairing {
  readonly pairingId: string;
  readonly caseId: string;
  readonly kind: 'remote' | 'wall';
  readonly by: string;
  readonly codeSha256: string;
  readonly madeAt: string;
  /** Of the code. */
  readonly expiresAt: string;
  readonly usedAt: string | null;
  readonly endedAt: string | null;
}

export interface StoredSession {
  readonly tokenSha256: string;
  readonly personId: string;
  readonly csrfToken: string;
  readonly createdAt: string;
  readonly seenAt: string;
  readonly expiresAt: string;
  /** Of a paired wall or remote: which room it may serve. Absent: a person at a browser. */
  readonly scope?: { readonly kind: 'remote' | 'wall'; readonly caseId: string; readonly pairingId: string } | undefined;
}
export interface NewAuditEntry {
  readonly by: string;
  /** 'case.read', 'session.opened', 'session.refused', 'person.changed', 'export.made', ... */
  readonly kind: string;
  readonly caseId: string | null;
  readonly data: Readonly<Record<string, string | number | boolean | null>>;
}
export interface AuditEntry extends NewAuditEntry {
  readonly seq: number;
  readonly at: string;
  readonly prevSha256: string;
  readonly sha256: string;
}
/** Work that takes longer than a request; survives the server. */
export interface StoredJob {
  readonly jobId: string;
  readonly caseId: string;
  readonly kind: 'import' | 'plan' | 'block';
  readonly state: 'receiving' | 'waiting' | 'running' | 'done' | 'failed' | 'cancelled';
  readonly by: string;
  readonly progress: { readonly step: string; readonly ratio: number };
  readonly failure: { readonly code: string; readonly text: string; readonly next: string } | null;
  /** What the job was asked, and what it gave; JSON. */
  readonly ask: unknown;
  readonly answer: unknown;
  readonly createdAt: string;
  readonly changedAt: string;
}

/** Files by content on disk: `pixels/ab/abcdef...`; written beside, flushed, renamed; hash checked when read in full. */
export interface BlobStore {
  /** Streams in; gives the hash of what arrived. A cut-off stream leaves nothing. */
  put(content: AsyncIterable<Uint8Array> | Iterable<Uint8Array>): Promise<Result<{ readonly sha256: string; readonly bytes: number }, StoreFailureCode>>;
  /** Takes over a file that already lies on the same disk (a finished upload). */
  adopt(path: string): Promise<Result<{ readonly sha256: string; readonly bytes: number }, StoreFailureCode>>;
  has(sha256: string): Promise<boolean>;
  /** Where it lies; for reading only. */
  pathOf(sha256: string): string;
  read(sha256: string): Promise<Result<Uint8Array, StoreFailureCode>>;
  /** Reads everything again; gives the damaged and the missing of `wanted`. */
  verify(wanted: readonly string[]): Promise<readonly { readonly sha256: string; readonly problem: 'missing' | 'damaged' }[]>;
}
