import { randomUUID } from 'node:crypto';
import type { z } from 'zod';
import { fail, succeed } from '../../../core/result.ts';
import { SERVER_EN } from '../../../core/text/server-en.ts';
import type { ROUTES } from '../../../formats/api/api-routes.ts';
import type { Person } from '../../storage/store-types.ts';
import { noteAudit, type Door } from '../door.ts';
import type { Handlers } from '../handler-types.ts';

/** An account as pages see it: no hash, no subject. */
export function showPerson({ personId, login, displayName, role, isActive, passwordHash, oidcSubject }: Person): z.input<Extract<typeof ROUTES.addPerson.answer, z.ZodType>> {
  return { personId, login, displayName, role, isActive, hasPassword: passwordHash !== null, hasOidc: oidcSubject !== null };
}
const busy = () => fail('server-busy', SERVER_EN.serverBusy, SERVER_EN.serverBusyNext, { retryAfterS: 3 });

export type PeopleRoute = 'listPeople' | 'listNames' | 'addPerson' | 'changePerson';

/** Accounts. An account without a password logs in through the hospital's issuer only. */
export function makePeopleHandlers(door: Door): Pick<Handlers, PeopleRoute> {
  return {
    async listPeople(_call, { store }) {
      const people = await store.listPeople();
      return people.ok ? succeed(people.value.map(showPerson)) : people;
    },

    async listNames(_call, { store }) {
      const people = await store.listPeople();
      return people.ok ? succeed(people.value.map(({ personId, displayName }) => ({ personId, displayName }))) : people;
    },

    async addPerson({ body, caller }, { store }) {
      const passwordHash = body.password === null ? null : await door.hasher.hash(body.password);
      if (body.password !== null && passwordHash === null) return busy();
      const personId = randomUUID();
      const noted = await noteAudit(store, caller!.personId, 'person.added', { personId, role: body.role });
      if (!noted.ok) return noted;
      const added = await store.addPerson({ personId, login: body.login, displayName: body.displayName, role: body.role, isActive: true, passwordHash, oidcSubject: null });
      return added.ok ? succeed(showPerson(added.value)) : added;
    },

    async changePerson({ params: { personId }, body, caller }, { store }) {
      return door.inTurn(async () => {
        const people = await store.listPeople();
        if (!people.ok) return people;
        const before = people.value.find((each) => each.personId === personId);
        if (!before) return fail('person-unknown', SERVER_EN.personUnknown, SERVER_EN.personUnknownNext);
        const isAdmin = (each: Person): boolean => each.role === 'admin' && each.isActive;
        const stays = isAdmin({ ...before, role: body.role ?? before.role, isActive: body.isActive ?? before.isActive });
        if (isAdmin(before) && !stays && people.value.filter(isAdmin).length === 1) return fail('last-admin', SERVER_EN.lastAdmin, SERVER_EN.lastAdminNext);
        const passwordHash = body.password === undefined ? undefined : await door.hasher.hash(body.password);
        if (passwordHash === null) return busy();
        const noted = await noteAudit(store, caller!.personId, 'person.changed', { personId, what: Object.keys(body).sort().join(' '), role: body.role ?? before.role, isActive: body.isActive ?? before.isActive });
        if (!noted.ok) return noted;
        const { displayName, role, isActive } = body;
        const changed = await store.changePerson(personId, {
          ...(displayName === undefined ? {} : { displayName }), ...(role === undefined ? {} : { role }), ...(isActive === undefined ? {} : { isActive }),
          ...(passwordHash === undefined ? {} : { passwordHash }),
        });
        if (!changed.ok) return changed;
        // A session opened under the old role or password is over at once.
        const isOver = passwordHash !== undefined || changed.value.role !== before.role || changed.value.isActive !== before.isActive;
        const ended = isOver ? await store.endSessionsOf(personId) : succeed(null);
        return ended.ok ? succeed(showPerson(changed.value)) : ended;
      });
    },
  };
}
