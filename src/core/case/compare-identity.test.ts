import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { seed } from '../../../test/support/seed.ts';
import { compareIdentity, type PatientIdentity } from './compare-identity.ts';

const ENTERED: PatientIdentity = { name: 'Ada Beispiel', birthDate: '1941-02-03', sex: 'F', patientId: '4711' };
const NOBODY: PatientIdentity = { name: null, birthDate: null, sex: null, patientId: null };
const verdict = (a: Partial<PatientIdentity>, b: Partial<PatientIdentity>): string => compareIdentity({ ...NOBODY, ...a }, { ...NOBODY, ...b }).verdict;

describe('compareIdentity', () => {
  test('the same person, as two systems write her', () => {
    const { verdict: said, fields } = compareIdentity(ENTERED, { name: 'BEISPIEL^ADA^^DR', birthDate: '1941-02-03', sex: 'F', patientId: '0004711' });
    expect(said).toBe('same');
    expect(fields.map(({ result }) => result)).toEqual(['same', 'same', 'same', 'same']);
  });

  test('a field that differs is named, whatever else agrees', () => {
    for (const [field, value] of [['name', 'BEISPIEL^EVA'], ['birthDate', '1941-03-02'], ['sex', 'M'], ['patientId', '4712']] as const) {
      const check = compareIdentity(ENTERED, { ...ENTERED, [field]: value });
      expect(check.verdict).toBe('differs');
      expect(check.fields.filter(({ result }) => result === 'differs').map((f) => f.field)).toEqual([field]);
    }
  });

  test('what one side does not give is missing; one agreeing field alone settles nothing', () => {
    expect(verdict({}, ENTERED)).toBe('not comparable');
    expect(verdict({ name: 'Ada Beispiel' }, ENTERED)).toBe('not comparable');
    expect(verdict({ name: 'Ada Beispiel', sex: 'F' }, ENTERED)).toBe('not comparable');
    expect(verdict({ name: 'Ada Beispiel', birthDate: '1941-02-03' }, ENTERED)).toBe('same');
    expect(verdict(ENTERED, { ...ENTERED, sex: 'O' })).toBe('same');
    expect(verdict({ name: '  ', birthDate: '1941-02-03' }, ENTERED)).toBe('not comparable');
  });

  test('names: order, case, accents, hyphens, middle names and initials do not part a person; another word does', () => {
    const birthDate = '1941-02-03';
    const name = (a: string, b: string): string => verdict({ name: a, birthDate }, { name: b, birthDate });
    const same = [['Müller, Jürgen', 'MUELLER^JUERGEN'], ['Müller, Jürgen', 'MULLER^JURGEN'], ['José García-López', 'GARCIA LOPEZ^JOSE'], ['A. Beispiel', 'BEISPIEL^ADA'],
      ['Ada Maria Beispiel', 'BEISPIEL^ADA'], ['Strauß, Ada', 'STRAUSS^ADA'], ['山田太郎', 'YAMADA^TARO=山田太郎'.split('=')[1]!]];
    for (const [a, b] of same) expect(name(a!, b!), `${a} / ${b}`).toBe('same');
    const other = [['Ada Beispiel', 'BEISPIEL'], ['Ada Beispiel', 'ANONYMOUS'], ['Ada Beispiel', 'BEISPIEL^ADELE'], ['Ada Beispiel', 'BEISPIELER^ADA'], ['Ada Beispiel', 'BEISPIEL^BEISPIEL']];
    for (const [a, b] of other) expect(name(a!, b!), `${a} / ${b}`).toBe('differs');
  });

  test(`does not depend on which side is which (seed ${seed})`, () => {
    const text = fc.option(fc.constantFrom('Ada Beispiel', 'BEISPIEL^ADA', 'A B', 'b a', 'Ada', 'Beispiel Ada Maria', '^^', ''), { nil: null });
    const identity = fc.record({ name: text, birthDate: fc.option(fc.constantFrom('1941-02-03', '1941-03-02'), { nil: null }), sex: fc.constantFrom('F', 'M', null), patientId: fc.option(fc.constantFrom('1', '01', '2'), { nil: null }) });
    fc.assert(fc.property(identity, identity, (a, b) => {
      expect(compareIdentity(a, b)).toEqual(compareIdentity(b, a));
    }), { seed, numRuns: 300 });
  });
});
