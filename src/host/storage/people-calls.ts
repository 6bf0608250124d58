import type { Kysely, Selectable } from 'kysely';
import { fail, succeed } from '../../core/result.ts';
import { STORE_EN } from '../../core/text/store-en.ts';
import { attempt, isTaken } from './store-failures.ts';
import type { CaseStore, Person, Role, StoredSession } from './store-types.ts';
import type { PairingRow, PersonRow, SessionRow, StoreTables } from './tables.ts';

type PeopleCalls = Pick<CaseStore, 'addPerson' | 'changePerson' | 'findPerson' | 'listPeople' | 'addSession' | 'findSession' | 'touchSession' | 'endSession' | 'endSessionsOf'>;
const failTaken = () => fail('login-taken' as const, STORE_EN.loginTaken, STORE_EN.loginTakenNext);

/** Accounts and their sessions. */
export function makePeopleCalls(db: Kysely<StoreTables>, nowMs: () => number): PeopleCalls {
  return {
    addPerson: (person) => attempt(async () => {
      try {
        const row = writePersonRow({ ...person, createdAt: new Date(nowMs()).toISOString() });
        await db.insertInto('people').values(row).execute();
        return succeed(readPersonRow(row));
      } catch (problem) {
        if (isTaken(problem)) return failTaken();
        throw problem;
      }
    }),
    changePerson: (personId, change) => attempt(async () => {
      const set = {
        ...(change.displayName === undefined ? {} : { display_name: change.displayName }), ...(change.role === undefined ? {} : { role: change.role }),
        ...(change.isActive === undefined ? {} : { is_active: change.isActive }), ...(change.passwordHash === undefined ? {} : { password_hash: change.passwordHash }),
        ...(change.oidcSubject === undefined ? {} : { oidc_subject: change.oidcSubject }),
      };
      try {
        const row = Object.keys(set).length === 0
          ? await db.selectFrom('people').selectAll().where('person_id', '=', personId).executeTakeFirst()
          : await db.updateTable('people').set(set).where('person_id', '=', personId).returningAll().executeTakeFirst();
        return row ? succeed(readPersonRow(row)) : fail('person-unknown', STORE_EN.personUnknown, STORE_EN.personUnknownNext);
      } catch (problem) {
        if (isTaken(problem)) return failTaken();
        throw problem;
      }
    }),
    findPerson: (by) => attempt(async () => {
      const all = db.selectFrom('people').selectAll();
      const chosen = 'personId' in by ? all.where('person_id', '=', by.personId) : 'login' in by ? all.where('login', '=', by.login) : all.where('oidc_subject', '=', by.oidcSubject);
      const row = await chosen.executeTakeFirst();
      return succeed(row ? readPersonRow(row) : null);
    }),
    listPeople: () => attempt(async () => succeed((await db.selectFrom('people').selectAll().orderBy('login').execute()).map(readPersonRow))),

    addSession: (session) => attempt(async () => {
      await db.insertInto('sessions').values(writeSessionRow(session)).execute();
      return succeed(session);
    }),
    findSession: (tokenSha256) => attempt(async () => {
      const row = await db.selectFrom('sessions').leftJoin('pairings', 'pairings.pairing_id', 'sessions.pairing_id').selectAll('sessions').select(['pairings.kind', 'pairings.case_id']).where('token_sha256', '=', tokenSha256)
        .where('pairings.ended_at', 'is', null) // of one that was ended while its device came in
        .executeTakeFirst();
      return succeed(row ? readSessionRow(row) : null);
    }),
    touchSession: (tokenSha256, seenAt) => attempt(async () => {
      await db.updateTable('sessions').set({ seen_at: seenAt }).where('token_sha256', '=', tokenSha256).execute();
      return succeed(null);
    }),
    endSession: (tokenSha256) => attempt(async () => {
      await db.deleteFrom('sessions').where('token_sha256', '=', tokenSha256).execute();
      return succeed(null);
    }),
    endSessionsOf: (personId) => attempt(async () => {
      await db.deleteFrom('sessions').where('person_id', '=', personId).execute();
      return succeed(null);
    }),
  };
}

function readPersonRow(row: Selectable<PersonRow>): Person {
  return {
    personId: row.person_id, login: row.login, displayName: row.display_name, role: row.role as Role, isActive: row.is_active,
    passwordHash: row.password_hash, oidcSubject: row.oidc_subject, createdAt: row.created_at,
  };
}
function writePersonRow(person: Person): PersonRow {
  return {
    person_id: person.personId, login: person.login, display_name: person.displayName, role: person.role, is_active: person.isActive,
    password_hash: person.passwordHash, oidc_subject: person.oidcSubject, created_at: person.createdAt,
  };
}
function readSessionRow(row: SessionRow & { readonly [K in 'kind' | 'case_id']: PairingRow[K] | null }): StoredSession {
  const session = { tokenSha256: row.token_sha256, personId: row.person_id, csrfToken: row.csrf_token, createdAt: row.created_at, seenAt: row.seen_at, expiresAt: row.expires_at };
  if (row.pairing_id === null) return session;
  return { ...session, scope: { kind: row.kind as 'remote' | 'wall', caseId: row.case_id!, pairingId: row.pairing_id } };
}
function writeSessionRow(s: StoredSession): SessionRow {
  return { token_sha256: s.tokenSha256, person_id: s.personId, csrf_token: s.csrfToken, created_at: s.createdAt, seen_at: s.seenAt, expires_at: s.expiresAt, pairing_id: s.scope?.pairingId ?? null };
}
