import { signal } from '@preact/signals';
import { callApi, setCsrfToken, whenSessionLost, type ApiAnswer, type ApiFailure } from '../api/call-api.ts';

export type Session = ApiAnswer<'readSession'>;
export type PersonLine = NonNullable<Session['person']>;
export type Role = PersonLine['role'];

/** Who is logged in; null until the server has said so. */
export const session = signal<Session | null>(null);
export const sessionFailure = signal<ApiFailure | null>(null);

export function takeSession(next: Session): void {
  setCsrfToken(next.csrfToken);
  session.value = next;
  sessionFailure.value = null;
}

export async function readSession(): Promise<void> {
  const answer = await callApi('readSession');
  if (answer.ok) takeSession(answer.value);
  else sessionFailure.value = answer.failure;
}

export async function logOut(): Promise<void> {
  await callApi('endSession');
  await readSession();
}

whenSessionLost(() => void readSession());

const EDITS: readonly Role[] = ['planner', 'operator', 'programme', 'admin'];
const SIGNS: readonly Role[] = ['programme', 'admin'];
/** What the page offers; the server decides by itself. */
export function may(what: 'edit' | 'sign' | 'audit' | 'people'): boolean {
  const role = session.value?.person?.role;
  if (!role) return false;
  if (what === 'people') return role === 'admin';
  return (what === 'edit' ? EDITS : SIGNS).includes(role);
}
