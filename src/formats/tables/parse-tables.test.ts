import { describe, expect, it } from 'vitest';
import { DEFAULT_RESCUE_CARDS } from '../../core/room/rescue-cards.ts';
import { TRAINING_RULES, TRAINING_TABLE } from '../../core/device/training-table.ts';
import { parseDeviceTable } from './parse-device-table.ts';
import { parsePatient } from './parse-patient.ts';
import { MOST_LINE_LETTERS, parseRescueCards } from './parse-rescue.ts';
import { parseRules } from './parse-rules.ts';

/** As it stands in a file. */
const onDisk = <T>(value: T): T => JSON.parse(JSON.stringify(value)) as T;
const codeOf = (r: { ok: boolean; failure?: { code: string } }): string => (r.ok ? 'good' : r.failure!.code);
type Loose = { [k: string]: never } & Record<string, unknown>;

describe('tables from files', () => {
  it('the bundled ones survive being written and read', () => {
    const table = parseDeviceTable(onDisk(TRAINING_TABLE));
    expect(table).toEqual({ ok: true, value: TRAINING_TABLE });
    expect(parseRules(onDisk(TRAINING_RULES))).toEqual({ ok: true, value: TRAINING_RULES });
  });

  it('a limit left out or null is named as missing, not filled in', () => {
    for (const change of [(s: Loose) => delete s['sinusWidthMinMm'], (s: Loose) => { s['ascendingMaxMm'] = null as never; }]) {
      const table = onDisk(TRAINING_TABLE);
      change(table.devices[0]!.sizes[0]! as unknown as Loose);
      const read = parseDeviceTable(table);
      expect(codeOf(read)).toBe('devices-limit-missing');
      expect(read.ok ? '' : read.failure.message).toMatch(/devices\.0\.sizes\.0\.(sinusWidthMinMm|ascendingMaxMm)/);
    }
  });

  it('a table without signature, of another format, or no table at all is refused', () => {
    const { signedBy: _by, ...unsigned } = onDisk(TRAINING_TABLE);
    expect(codeOf(parseDeviceTable(unsigned))).toBe('devices-unsigned');
    expect(codeOf(parseDeviceTable({ ...TRAINING_TABLE, format: 'other/1' }))).toBe('devices-invalid');
    for (const junk of [null, 7, 'x', [], {}]) expect(codeOf(parseDeviceTable(junk))).toBe('devices-invalid');
  });

  it('rules: unsigned, twice, in another unit, of unknown status', () => {
    expect(codeOf(parseRules({ ...TRAINING_RULES, signedAt: '' }))).toBe('rules-unsigned');
    expect(codeOf(parseRules({ ...TRAINING_RULES, rules: [TRAINING_RULES.rules[0], TRAINING_RULES.rules[0]] }))).toBe('rules-duplicate');
    expect(codeOf(parseRules({ ...TRAINING_RULES, rules: [{ ...TRAINING_RULES.rules[4], unit: 'cm' }] }))).toBe('rules-units');
    expect(codeOf(parseRules({ ...TRAINING_RULES, rules: [{ ...TRAINING_RULES.rules[4], status: 'X' }] }))).toBe('rules-invalid');
  });

  it('rules of the room keep their units: seconds, attempts, millilitres', () => {
    const change = (code: string, unit: string) => ({ ...TRAINING_RULES, rules: TRAINING_RULES.rules.map((r) => (r.code === code ? { ...r, unit } : r)) });
    for (const [code, unit] of [['depth-old', 'min'], ['contrast-most', 'l'], ['recapture-attempts', '%']] as const) expect(codeOf(parseRules(change(code, unit)))).toBe('rules-units');
  });

  it('rescue cards: the defaults signed by a person are theirs and no default any more', () => {
    const signed = { ...onDisk(DEFAULT_RESCUE_CARDS), signedBy: 'A. Person', signedAt: '2026-03-02T08:00:00Z' };
    expect(parseRescueCards(signed)).toEqual({ ok: true, value: { ...signed, isDefault: false } });
    expect(codeOf(parseRescueCards(onDisk(DEFAULT_RESCUE_CARDS)))).toBe('rescue-unsigned');
    const [card] = signed.cards as [(typeof signed.cards)[number]];
    const withCards = (...cards: unknown[]) => codeOf(parseRescueCards({ ...signed, cards }));
    expect(withCards(card, card)).toBe('rescue-duplicate');
    expect(withCards()).toBe('rescue-invalid');
    expect(withCards({ ...card, lines: [] })).toBe('rescue-invalid');
    expect(withCards({ ...card, lines: ['x'.repeat(MOST_LINE_LETTERS + 1)] })).toBe('rescue-invalid');
    expect(withCards({ ...card, lines: ['one action\nand another'] })).toBe('rescue-invalid');
    expect(withCards({ ...card, id: 'Two Words' })).toBe('rescue-invalid');
    expect(withCards({ ...card, note: 'x' })).toBe('rescue-invalid');
    for (const junk of [null, 7, 'x', [], {}]) expect(codeOf(parseRescueCards(junk))).toBe('rescue-invalid');
  });

  it('patient facts: unknown keys and lengths without their half-width are refused, so nothing is dropped unseen', () => {
    const good = { format: 'trinadir.patient/1', by: 'reader 1', sex: 'F', membranousSeptumMm: { value: 4, halfWidth95: 1 } };
    expect(codeOf(parsePatient(good))).toBe('good');
    expect(codeOf(parsePatient({ ...good, name: 'x' }))).toBe('patient-invalid');
    expect(codeOf(parsePatient({ ...good, membranousSeptumMm: { value: 4 } }))).toBe('patient-invalid');
    expect(codeOf(parsePatient({ ...good, membranousSeptumMm: { value: -4, halfWidth95: 1 } }))).toBe('patient-invalid');
  });
});
