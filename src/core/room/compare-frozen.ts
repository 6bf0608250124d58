import type { FrozenDocument } from './frozen-types.ts';

/** When, by whom and on top of what: no difference of the plan itself. */
const ASIDE: ReadonlySet<string> = new Set(['frozenBy', 'frozenAt', 'amends', 'differences', 'identityCheckedAt', 'plan.madeAt', 'plan.madeBy']);
const SELF = /(^|\.)source$/;

/**
 * Field paths in which two frozen documents are not the same, in the order of their names. A Fact is one field, and so is
 * a list: a contour that moved is one difference, not 120.
 * Fails     never
 */
export function compareFrozen(before: FrozenDocument, after: FrozenDocument): readonly string[] {
  const found: string[] = [];
  compare(before, after, '', found);
  return found;
}

type Json = Readonly<Record<string, unknown>>;
const isRecord = (value: unknown): value is Json => typeof value === 'object' && value !== null && !Array.isArray(value);
const isFact = (value: Json): boolean => 'status' in value && 'unit' in value;

function compare(a: unknown, b: unknown, path: string, found: string[]): void {
  if (ASIDE.has(path) || SELF.test(path)) return;
  if (isRecord(a) && isRecord(b) && !(isFact(a) && isFact(b))) {
    for (const key of [...new Set([...Object.keys(a), ...Object.keys(b)])].sort()) compare(a[key], b[key], path === '' ? key : `${path}.${key}`, found);
    return;
  }
  if (!isSame(a, b)) found.push(path);
}

/** Equal in everything but who computed it when. */
function isSame(a: unknown, b: unknown): boolean {
  if (Object.is(a, b)) return true;
  if (Array.isArray(a) && Array.isArray(b)) return a.length === b.length && a.every((each, i) => isSame(each, b[i]));
  if (!isRecord(a) || !isRecord(b)) return false;
  const keys = [...new Set([...Object.keys(a), ...Object.keys(b)])].filter((k) => k !== 'source');
  return keys.every((k) => isSame(a[k], b[k]));
}
