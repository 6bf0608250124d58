import type { Migration } from './migration-types.ts';

const KEPT_FOR_EVER = ['events', 'audit', 'documents'];

/** Cases with their events, people, sessions, audit, documents, jobs. */
export const FIRST_TABLES: Migration = {
  version: 1,
  name: 'first-tables',
  statements: [
    `create table cases (
      case_id text collate "C" primary key, seq integer not null, sha256 text not null, label text not null, procedure_on text,
      sort_on text collate "C" not null, training boolean not null, changed_at text not null, plan_state text not null,
      missing text not null, state text not null, fold_version integer not null)`,
    'create index cases_by_day on cases (sort_on, case_id)',
    `create table events (
      case_id text collate "C" not null references cases (case_id), seq integer not null, at text not null, by_whom text not null, kind text not null,
      data text not null, supersedes integer, prev_sha256 text not null, sha256 text not null, primary key (case_id, seq))`,
    `create table people (
      person_id text collate "C" primary key, login text collate "C" not null unique, display_name text not null, role text not null, is_active boolean not null,
      password_hash text, oidc_subject text unique, created_at text not null)`,
    `create table sessions (
      token_sha256 text primary key, person_id text collate "C" not null references people (person_id), csrf_token text not null,
      created_at text not null, seen_at text not null, expires_at text not null)`,
    'create index sessions_by_person on sessions (person_id)',
    `create table audit (
      seq integer primary key, at text not null, by_whom text not null, kind text not null, case_id text collate "C",
      data text not null, prev_sha256 text not null, sha256 text not null)`,
    'create index audit_by_case on audit (case_id, seq)',
    'create table audit_head (id integer primary key check (id = 1), seq integer not null, sha256 text not null, at text not null)',
    `insert into audit_head (id, seq, sha256, at) values (1, 0, '${'0'.repeat(64)}', '')`,
    'create table documents (sha256 text collate "C" primary key, kind text not null, text text not null, at text not null)',
    'create index documents_by_kind on documents (kind, at)',
    `create table jobs (
      job_id text collate "C" primary key, case_id text collate "C" not null, kind text not null, state text not null, by_whom text not null, progress text not null,
      failure text, ask text not null, answer text not null, created_at text not null, changed_at text not null)`,
    'create index jobs_by_case on jobs (case_id, created_at)',
    'create index jobs_by_state on jobs (state)',
    // Nothing is ever removed or rewritten, whoever holds the connection.
    `create function refuse_change() returns trigger language plpgsql as $$ begin raise exception 'append only' using errcode = 'TR001'; end $$`,
    ...KEPT_FOR_EVER.flatMap((table) => [
      `create trigger ${table}_stay before update or delete on ${table} for each row execute function refuse_change()`,
      `create trigger ${table}_whole before truncate on ${table} for each statement execute function refuse_change()`,
    ]),
  ],
};
