import { computed, signal } from '@preact/signals';
import { callApi } from '../api/call-api.ts';
import { session } from './session.ts';

/** Display names of people by their id, as far as this page knows them. */
const known = signal<Readonly<Record<string, string>>>({});

/** Colleagues by name, for a choice among them. */
export const knownNames = computed(() => Object.entries(known.value).map(([personId, displayName]) => ({ personId, displayName })).sort((a, b) => a.displayName.localeCompare(b.displayName)));

let isRead = false;
/** Once per visit; a colleague who is new since then is shown by id until the page is loaded again. */
export async function readNames(): Promise<void> {
  if (isRead) return;
  isRead = true;
  const answer = await callApi('listNames');
  if (answer.ok) known.value = Object.fromEntries(answer.value.map((p) => [p.personId, p.displayName]));
  else isRead = false;
}
/** The name of whoever did something; the tool and unknown people keep what the event says. */
export function nameOf(personId: string): string {
  const self = session.value?.person;
  if (self?.personId === personId) return self.displayName;
  return known.value[personId] ?? personId;
}
