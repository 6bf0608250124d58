import { signal } from '@preact/signals';
import { session } from './session.ts';

/** Display names of people by their id, as far as this page knows them. */
const known = signal<Readonly<Record<string, string>>>({});

export function takeNames(people: readonly { readonly personId: string; readonly displayName: string }[]): void {
  known.value = { ...known.value, ...Object.fromEntries(people.map((p) => [p.personId, p.displayName])) };
}
/** The name of whoever did something; the tool and unknown people keep what the event says. */
export function nameOf(personId: string): string {
  const self = session.value?.person;
  if (self?.personId === personId) return self.displayName;
  return known.value[personId] ?? personId;
}
