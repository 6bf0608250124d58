import type { Migration } from './migration-types.ts';

/** Log of the room and the walls and remotes that were paired to it. */
export const ROOM: Migration = {
  version: 2,
  name: 'room',
  statements: [
    // Of a tap in the room: its own number, so that one that arrives twice is found at once and can never stand twice.
    'alter table events add column entry_id text collate "C"',
    'create unique index events_by_entry on events (case_id, entry_id)',
    `create table pairings (
      pairing_id text collate "C" primary key, case_id text collate "C" not null references cases (case_id), kind text not null, by_whom text not null,
      code_sha256 text not null unique, made_at text not null, expires_at text not null, used_at text, ended_at text)`,
    'create index pairings_by_case on pairings (case_id, made_at)',
    // A session with a pairing may do what its room needs and nothing else.
    'alter table sessions add column pairing_id text collate "C" references pairings (pairing_id)',
  ],
};
