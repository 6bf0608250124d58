import { afterEach, expect, test, vi } from 'vitest';

const kept = vi.hoisted(() => ({ cleared: 0 }));
vi.mock('./room-queue.ts', () => ({
  clearKept: async () => ++kept.cleared, countTaps: async () => 0, putNote: async () => undefined, readNote: async () => undefined,
}));
const PERSON = { personId: 'person-one', login: 'one', displayName: 'One', role: 'operator', isActive: true, hasPassword: true, hasOidc: false };
const answer = (person: typeof PERSON | null) => Response.json({ person, csrfToken: person && 'mark', needsFirstPerson: false, oidcLabel: null, version: '0', scope: null });

afterEach(() => vi.unstubAllGlobals());

test('an answer from before a log-out does not bring back whoever has left', async () => {
  vi.stubGlobal('location', { pathname: '/case/some-case/room' });
  let isOver = false;
  const held: (() => void)[] = [];
  vi.stubGlobal('fetch', async (_path: string, { method }: { readonly method: string }) => {
    if (method !== 'GET') {
      isOver = true;
      return Response.json(null);
    }
    const said = answer(isOver ? null : PERSON);
    if (held.length === 0) await new Promise<void>((resolve) => held.push(resolve)); // the first one is slow
    return said;
  });
  const { actingSession, logOut, readSession, session, sessionFailure, takeSession } = await import('./session.ts');
  takeSession({ person: PERSON, csrfToken: 'mark' } as never);
  const slow = readSession();
  await vi.waitFor(() => expect(held).toHaveLength(1));
  await logOut();
  held[0]!();
  await slow;
  expect(sessionFailure.value).toBeNull();
  expect(session.value?.person).toBeNull();
  expect(actingSession.value?.person ?? null).toBeNull();
  expect(kept.cleared).toBe(1);
});

test('who asked to log in again asked for that one time: when the next session ends, the page goes on again', async () => {
  const { isSessionOver, takeSession, wantsLogIn } = await import('./session.ts');
  const over = { person: null, csrfToken: null } as never;
  takeSession({ person: PERSON, csrfToken: 'mark' } as never);
  takeSession(over);
  expect(isSessionOver.value).toBe(true);
  wantsLogIn.value = true;
  takeSession({ person: PERSON, csrfToken: 'mark' } as never);
  takeSession(over);
  expect([isSessionOver.value, wantsLogIn.value]).toEqual([true, false]);
});
