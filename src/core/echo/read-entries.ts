import { checkEntryKind, type EntryValue } from '../case/entry-kinds.ts';
import { formatText } from '../text/catalogue.ts';
import { ECHO_EN } from '../text/echo-en.ts';
import { showNumber } from '../verdict/make-reason.ts';
import { READING_ERRORS } from './echo-errors.ts';
import { ECHO_FIELDS, findMistakenUnit, isEchoField, type EchoEntries, type EchoFieldCode, type EchoNumberCode } from './echo-fields.ts';
import type { EchoCheck, EchoCheckCode } from './echo-types.ts';
import type { Reading } from './propagate-error.ts';

/** Entries that can be, each number with the band of its reading error; and what was left out, by name. */
export interface ReadEntries {
  readonly entries: EchoEntries;
  readonly numbers: { readonly [C in EchoNumberCode]?: Reading };
  readonly checks: readonly EchoCheck[];
}

const isNumberCode = (code: EchoFieldCode): code is EchoNumberCode => ECHO_FIELDS[code].kind === 'number';
/** What cannot be negative whatever the error of the reading. */
const LEAST = 0;

export const makeCheck = (code: EchoCheckCode, weight: EchoCheck['weight'], fields: readonly EchoFieldCode[], text: string, next: string): EchoCheck => ({ code, weight, fields, text, next });
export const nameField = (code: EchoFieldCode): string => ECHO_EN[`field-${code}`];

/**
 * Entries checked one by one against their fields. What cannot be is left out and named; a unit mistaken for another is told, and
 * nothing is converted.
 * Fails    never
 */
export function readEntries(entries: EchoEntries, halfWidths: Readonly<Partial<Record<EchoNumberCode, number>>> = {}): ReadEntries {
  const kept: Record<string, EntryValue> = {};
  const numbers: { [C in EchoNumberCode]?: Reading } = {};
  const checks: EchoCheck[] = [];
  const unknown: string[] = [];
  for (const [code, value] of Object.entries(entries) as readonly (readonly [string, EntryValue | undefined])[]) {
    if (value === null || value === undefined) continue;
    if (!isEchoField(code)) {
      unknown.push(/^[a-z0-9-]{1,40}$/.test(code) ? code : '?');
      continue;
    }
    if (checkEntryKind(ECHO_FIELDS[code], value) !== null) {
      checks.push(describeImpossible(code, value));
      continue;
    }
    kept[code] = value;
    if (isNumberCode(code) && typeof value === 'number') numbers[code] = readNumber(code, value, halfWidths[code]);
  }
  if (unknown.length > 0) checks.push(makeCheck('field-unknown', 'doubt', [], formatText(ECHO_EN, 'field-unknown', { count: unknown.length, codes: unknown.slice(0, 5).join(', ') }), ECHO_EN['field-unknown-next']));
  return { entries: kept as EchoEntries, numbers, checks };
}

/** Value with its band: the assumed reading error, or the one that came with a trace, and half a step of rounding. */
function readNumber(code: EchoNumberCode, value: number, halfWidth: number | undefined): Reading {
  const { share, amount } = READING_ERRORS[code];
  const half = halfWidth !== undefined && halfWidth >= 0 ? halfWidth : Math.max(share * Math.abs(value), amount);
  const all = Math.hypot(half, ECHO_FIELDS[code].step / 2);
  const most = ECHO_FIELDS[code].unit === '%' ? 100 : Infinity;
  return { value, low: Math.max(LEAST, value - all), high: Math.min(most, value + all), from: [code] };
}

function describeImpossible(code: EchoFieldCode, value: EntryValue): EchoCheck {
  const field = ECHO_FIELDS[code];
  if (field.kind !== 'number' || typeof value !== 'number' || !Number.isFinite(value)) {
    return makeCheck('entry-impossible', 'refuse', [code], formatText(ECHO_EN, 'entryNoValue', { field: nameField(code) }), ECHO_EN['entry-impossible-next']);
  }
  const shown = { field: nameField(code), value: showNumber(value), unit: field.unit };
  const other = findMistakenUnit(code as EchoNumberCode, value);
  return other === null
    ? makeCheck('entry-impossible', 'refuse', [code], formatText(ECHO_EN, 'entry-impossible', { ...shown, low: String(field.low), high: String(field.high) }), ECHO_EN['entry-impossible-next'])
    : makeCheck('unit-looks-wrong', 'refuse', [code], formatText(ECHO_EN, 'unit-looks-wrong', { ...shown, other }), formatText(ECHO_EN, 'unit-looks-wrong-next', { unit: field.unit }));
}
