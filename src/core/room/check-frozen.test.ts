import { describe, expect, test } from 'vitest';
import { makeFrozenFixture, makeStoredPlan } from '../../../test/support/frozen-fixture.ts';
import { formatCanonical } from '../audit/format-canonical.ts';
import { checkFrozen } from './check-frozen.ts';

const { document, text } = makeFrozenFixture();
const { planText, planSha256 } = makeStoredPlan();
const wanted = { caseId: document.caseId, planSha256, amends: null, differences: [] };

describe('checkFrozen', () => {
  test('the document as it was frozen is sound', () => {
    expect(checkFrozen(text, wanted, planText)).toBeNull();
  });
  test('another window or forecast is what a team may choose; any other digit of the plan is found', () => {
    const { landing, root } = document.plan;
    const stop = { ...document, plan: { ...document.plan, landing: { ...landing!, stopMm: 4 } } };
    expect(checkFrozen(formatCanonical(stop), wanted, planText)).toBeNull();
    const area = { ...root!.basalRing.areaMm2, value: root!.basalRing.areaMm2.value! + 0.1 };
    const ring = { ...document, plan: { ...document.plan, root: { ...root!, basalRing: { ...root!.basalRing, areaMm2: area } } } };
    expect(checkFrozen(formatCanonical(ring), wanted, planText)).toBe('holds another plan than it names');
  });
  test('other spacing, another order of keys, another case, plan, forerunner or list of differences is named', () => {
    expect(checkFrozen(text.replace('{', '{ '), wanted, planText)).toBe('is not in its one form');
    expect(checkFrozen(JSON.stringify({ zero: 0, ...document }), wanted, planText)).toBe('is not in its one form');
    expect(checkFrozen(text, { ...wanted, caseId: 'another-case' }, planText)).toBe('is of another case');
    expect(checkFrozen(text, { ...wanted, planSha256: 'a'.repeat(64) }, planText)).toBe('is not the one that its event says');
    expect(checkFrozen(text, { ...wanted, amends: 'a'.repeat(64) }, planText)).toBe('is not the one that its event says');
    expect(checkFrozen(text, { ...wanted, differences: ['choice.startMm'] }, planText)).toBe('names other differences than its event');
  });
  test('junk, a lost plan and a document nested without end are findings, not crashes', () => {
    expect(checkFrozen('', wanted, planText)).toBe('does not read');
    expect(checkFrozen('[]', wanted, planText)).toBe('does not read');
    expect(checkFrozen(text, wanted, null)).toBe('has lost its plan');
    expect(checkFrozen(`{"format":"trinadir.frozen/1","x":${'['.repeat(200_000)}${']'.repeat(200_000)}}`, wanted, planText)).toMatch(/does not read|one form/);
  });
});
