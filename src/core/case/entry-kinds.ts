/** What an entry of a person may be, for referral and huddle alike. Bounds refuse what cannot be; they are no clinical limits. */
export type EntryKind =
  | { readonly kind: 'text'; readonly most: number }
  | { readonly kind: 'date' }
  /** `step` is the usual fineness of an entry; half of it is how far the entry may be off by rounding. */
  | { readonly kind: 'number'; readonly unit: string; readonly low: number; readonly high: number; readonly step: number }
  | { readonly kind: 'choice'; readonly choices: readonly string[] }
  | { readonly kind: 'yes-no' };
/** An entry of `null` takes a value back. */
export type EntryValue = string | number | boolean | null;
export type EntryProblem = 'not-a-number' | 'out-of-bounds' | 'too-long' | 'not-a-date' | 'not-a-choice' | 'field-unknown';

const DATE = /^(19|20)\d{2}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])$/;

/** Why a value cannot be taken as an entry of this kind; null: it can. `null` always can, and no kind (an unknown field) takes nothing. */
export function checkEntryKind(field: EntryKind | null, value: EntryValue): EntryProblem | null {
  if (!field) return 'field-unknown';
  if (value === null) return null;
  if (field.kind === 'number') {
    if (typeof value !== 'number' || !Number.isFinite(value)) return 'not-a-number';
    return value >= field.low && value <= field.high ? null : 'out-of-bounds';
  }
  if (field.kind === 'yes-no') return typeof value === 'boolean' ? null : 'not-a-choice';
  if (field.kind === 'choice') return typeof value === 'string' && field.choices.includes(value) ? null : 'not-a-choice';
  if (field.kind === 'date') return typeof value === 'string' && DATE.test(value) ? null : 'not-a-date';
  return typeof value === 'string' && value.length <= field.most ? null : 'too-long';
}
