/**
 * Rows of the database. Times are ISO 8601 text in UTC with milliseconds and JSON is canonical text, so that both
 * engines give back exactly the bytes that were hashed. Whole numbers are int4: no engine turns them into text.
 */
export interface StoreTables {
  schema_version: { version: number; name: string; at: string };
  cases: CaseRow;
  events: EventRow;
  people: PersonRow;
  sessions: SessionRow;
  audit: AuditRow;
  /** One row: where the audit chain ends. */
  audit_head: { id: number; seq: number; sha256: string; at: string };
  documents: { sha256: string; kind: string; text: string; at: string };
  jobs: JobRow;
  pairings: PairingRow;
}
export interface CaseRow {
  case_id: string;
  seq: number;
  sha256: string;
  label: string;
  procedure_on: string | null;
  /** procedure_on, or a date after all others. */
  sort_on: string;
  training: boolean;
  changed_at: string;
  plan_state: string;
  /** Codes between bars: '|scan|root|'. */
  missing: string;
  /** CaseState as JSON, and which version of the fold made it. */
  state: string;
  fold_version: number;
}
export interface EventRow {
  case_id: string;
  seq: number;
  at: string;
  by_whom: string;
  kind: string;
  data: string;
  supersedes: number | null;
  prev_sha256: string;
  sha256: string;
  /** `entryId` of a tap in the room; null for every other event. */
  entry_id: string | null;
}
export interface PersonRow {
  person_id: string;
  login: string;
  display_name: string;
  role: string;
  is_active: boolean;
  password_hash: string | null;
  oidc_subject: string | null;
  created_at: string;
}
export interface SessionRow {
  token_sha256: string;
  person_id: string;
  csrf_token: string;
  created_at: string;
  seen_at: string;
  expires_at: string;
  pairing_id: string | null;
}
export interface PairingRow {
  pairing_id: string;
  case_id: string;
  kind: string;
  by_whom: string;
  code_sha256: string;
  made_at: string;
  expires_at: string;
  used_at: string | null;
  ended_at: string | null;
}
export interface AuditRow {
  seq: number;
  at: string;
  by_whom: string;
  kind: string;
  case_id: string | null;
  data: string;
  prev_sha256: string;
  sha256: string;
}
export interface JobRow {
  job_id: string;
  case_id: string;
  kind: string;
  state: string;
  by_whom: string;
  progress: string;
  failure: string | null;
  ask: string;
  answer: string;
  created_at: string;
  changed_at: string;
}
