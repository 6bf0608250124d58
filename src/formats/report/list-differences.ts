import { HUDDLE_FIELDS } from '../../core/room/huddle-fields.ts';
import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import { nameField } from '../../core/room/list-blockers.ts';
import { FREEZE_EN } from '../../core/text/freeze-en.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { WHAT_IF_EN } from '../../core/text/what-if-en.ts';
import { REFERRAL_EN } from '../../core/text/referral-en.ts';
import type { Fact } from '../../core/units/fact.ts';
import { formatFact, formatNumber } from './format-number.ts';
import { listPlanFacts, nameFact } from './list-plan-facts.ts';

/** One difference of two frozen plans, for the reader. */
export interface Difference {
  readonly path: string;
  readonly name: string;
  /** null: it cannot be said in a few words (a contour, a list), only that it differs. */
  readonly was: string | null;
  readonly is: string | null;
}

/** What the team decided is told before the plan behind it. */
const FIRST = ['choice.', 'huddle.', 'branches.', 'overrides', 'acceptedDoubts', 'plan.landing.', 'plan.root.', 'plan.'];

/** Differences of two frozen documents in words: what the team decided first, then the plan behind it. */
export function listDifferences(before: FrozenDocument, after: FrozenDocument, paths: readonly string[]): readonly Difference[] {
  const facts = new Map([...listPlanFacts(before.plan), ...listPlanFacts(after.plan)].map((f) => [`plan.${f.path}`, nameFact(f)]));
  const rank = (path: string): number => {
    const at = FIRST.findIndex((start) => path.startsWith(start));
    return at < 0 ? FIRST.length : at;
  };
  return paths
    .filter((path) => path !== 'planSha256')
    .map((path): Difference => ({ path, name: facts.get(path) ?? nameDifference(path), was: sayValue(readPath(before, path)), is: sayValue(readPath(after, path)) }))
    .map((d, at) => ({ d, at })).sort((a, b) => rank(a.d.path) - rank(b.d.path) || a.at - b.at).map(({ d }) => d);
}

/** Ids of the huddle hold dots themselves. */
function readPath(document: FrozenDocument, path: string): unknown {
  const huddle = /^huddle\.(.+)$/.exec(path);
  if (huddle) return document.huddle[huddle[1]!];
  return path.split('.').reduce<unknown>((value, key) => (typeof value === 'object' && value !== null ? (value as Readonly<Record<string, unknown>>)[key] : undefined), document);
}

const WORDS: Readonly<Record<string, string>> = {
  label: FREEZE_EN.diffLabel, training: FREEZE_EN.diffTraining, device: FREEZE_EN.diffTable, acceptedDoubts: FREEZE_EN.diffDoubts, overrides: FREEZE_EN.diffOverrides, rescue: FREEZE_EN.diffRescue, limits: FREEZE_EN.diffLimits,
};
function nameDifference(path: string): string {
  const [first = '', second = '', ...more] = path.split('.');
  if (first === 'choice') return WHAT_IF_EN[`part-${second}` as keyof typeof WHAT_IF_EN] ?? path;
  if (first === 'huddle') return nameHuddle(path.slice('huddle.'.length));
  if (first === 'branches') return [FREEZE_EN[`branch-${second}` as keyof typeof FREEZE_EN] ?? second, ...more].join(', ');
  if (first === 'plan') {
    const page = DESK_EN[`page-${second}` as keyof typeof DESK_EN] ?? second;
    const last = more.at(-1) ?? '';
    const name: string = FREEZE_EN[`diff-${last}` as keyof typeof FREEZE_EN] ?? more.join(' ');
    return name === '' ? page : `${page}: ${name}`;
  }
  return WORDS[first] ?? path;
}
function nameHuddle(id: string): string {
  const slot = /^kit\.(\w+)\.(ready|place|expires)$/.exec(id);
  if (slot) return `${FREEZE_EN[`slot-${slot[1]}` as keyof typeof FREEZE_EN] ?? slot[1]}, ${FREEZE_EN[`kit-${slot[2]}` as keyof typeof FREEZE_EN]}`;
  return HUDDLE_FIELDS.some((f) => f.id === id) ? nameField(id) : id;
}

const MOST_CHARS = 80;
const MOST_CODES = 6;
function sayValue(value: unknown): string | null {
  if (value === undefined || value === null) return FREEZE_EN.diffNone;
  if (typeof value === 'boolean') return value ? REFERRAL_EN.yes : REFERRAL_EN.no;
  if (typeof value === 'number') return formatNumber(value, Number.isInteger(value) ? 0 : 1);
  if (typeof value === 'string') {
    const word = FREEZE_EN[`choice-${value}` as keyof typeof FREEZE_EN] ?? value;
    return word.length > MOST_CHARS ? `${word.slice(0, MOST_CHARS)}…` : word;
  }
  if (Array.isArray(value)) {
    const codes = value.flatMap((each: unknown) => (typeof each === 'object' && each !== null && 'code' in each ? [String(each.code)] : []));
    return value.length === 0 ? FREEZE_EN.diffNone : codes.length === value.length && codes.length <= MOST_CODES ? codes.join(', ') : null;
  }
  if (typeof value === 'object' && 'status' in value && 'unit' in value) {
    const fact = value as Fact;
    const words = formatFact(fact);
    return words ? `${words.value} ${words.interval}` : FREEZE_EN.diffNone;
  }
  return null;
}
