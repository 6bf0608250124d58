import { describe, expect, it } from 'vitest';
import { TRAINING_RULES, TRAINING_TABLE } from '../../core/device/training-table.ts';
import { parseDeviceTable } from './parse-device-table.ts';
import { parsePatient } from './parse-patient.ts';
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

  it('patient facts: unknown keys and lengths without their half-width are refused, so nothing is dropped unseen', () => {
    const good = { format: 'trinadir.patient/1', by: 'reader 1', sex: 'F', membranousSeptumMm: { value: 4, halfWidth95: 1 } };
    expect(codeOf(parsePatient(good))).toBe('good');
    expect(codeOf(parsePatient({ ...good, name: 'x' }))).toBe('patient-invalid');
    expect(codeOf(parsePatient({ ...good, membranousSeptumMm: { value: 4 } }))).toBe('patient-invalid');
    expect(codeOf(parsePatient({ ...good, membranousSeptumMm: { value: -4, halfWidth95: 1 } }))).toBe('patient-invalid');
  });
});
