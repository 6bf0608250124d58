import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { HUDDLE_ENTRIES } from '../../../test/support/frozen-fixture.ts';
import { FREEZE_EN } from '../text/freeze-en.ts';
import { checkHuddleEntry, findHuddleField, HUDDLE_FIELDS, type HuddleField } from './huddle-fields.ts';

const FIELDS: readonly HuddleField[] = HUDDLE_FIELDS;

describe(`items of the huddle (seed ${seed})`, () => {
  test('each has one id, a name where it is shown, and passes the shape of an event', () => {
    expect(new Set(FIELDS.map((f) => f.id)).size).toBe(FIELDS.length);
    for (const f of FIELDS) {
      if (f.group !== 'kit') expect(FREEZE_EN, f.id).toHaveProperty([f.id]);
      if (f.kind === 'choice') for (const c of f.choices) expect(FREEZE_EN, c).toHaveProperty([`choice-${c}`]);
      expect(f.id, 'shape of an event').toMatch(/^[a-zA-Z][a-zA-Z0-9.-]{1,60}$/);
    }
  });
  test('bounds, lengths, choices and days are kept; nothing is taken for an unknown item', () => {
    expect(checkHuddleEntry('depth.startMm', -10)).toBeNull();
    expect(checkHuddleEntry('depth.startMm', -10.1)).toBe('out-of-bounds');
    expect(checkHuddleEntry('depth.startMm', '3')).toBe('not-a-number');
    expect(checkHuddleEntry('access.side', 'left')).toBeNull();
    expect(checkHuddleEntry('access.side', 'L')).toBe('not-a-choice');
    expect(checkHuddleEntry('consent.given', 'yes')).toBe('not-a-choice');
    expect(checkHuddleEntry('kit.snare.expires', '2030-13-01')).toBe('not-a-date');
    expect(checkHuddleEntry('team.nurse', ' ')).toBe('too-long');
    expect(checkHuddleEntry('team.nurse', 'x'.repeat(81))).toBe('too-long');
    expect(checkHuddleEntry('identity.name', 'Anyone')).toBe('field-unknown');
    expect(checkHuddleEntry('identity.name', null)).toBe('field-unknown');
    for (const [id, value] of Object.entries(HUDDLE_ENTRIES)) expect(checkHuddleEntry(id, value), id).toBeNull();
  });
  test('no value of any kind is taken for a field of another kind', () => {
    fc.assert(fc.property(fc.constantFrom(...FIELDS), fc.oneof(fc.string(), fc.double(), fc.boolean()), (field, value) => {
      if (checkHuddleEntry(field.id, value) !== null) return;
      const kind = findHuddleField(field.id)!.kind;
      expect(typeof value).toBe(kind === 'number' ? 'number' : kind === 'yes-no' ? 'boolean' : 'string');
    }), replay);
  });
});
