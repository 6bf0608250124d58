import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { foldEvents, listFrozenCaseEvents, makeFreezeAsk, makeFrozenFixture, makeStoredPlan } from '../../../test/support/frozen-fixture.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import { formatCanonical } from '../audit/format-canonical.ts';
import type { NewCaseEvent } from '../case/case-events.ts';
import type { CaseState } from '../case/fold-case.ts';
import { compareFrozen } from './compare-frozen.ts';
import type { FrozenDocument } from './frozen-types.ts';
import { makeFrozen, type FreezeAsk } from './make-frozen.ts';
import { readChosen } from './read-chosen.ts';

const enter = (field: string, value: string | number | boolean | null): NewCaseEvent => ({ kind: 'huddle.entered', data: { field, value } });
const stateWith = (...more: readonly NewCaseEvent[]): CaseState => foldEvents(listFrozenCaseEvents(more));
function freeze(state: CaseState, change: Partial<FreezeAsk> = {}): FrozenDocument {
  const made = makeFrozen(makeFreezeAsk(state, change));
  if (!made.ok) throw new Error(`${made.failure.code} ${made.failure.evidence['codes']}`);
  return made.value;
}
const codesOf = (state: CaseState, change: Partial<FreezeAsk> = {}): string => {
  const made = makeFrozen(makeFreezeAsk(state, change));
  return made.ok ? 'frozen' : `${made.failure.code} ${made.failure.evidence['codes'] ?? ''}`.trim();
};
const override = (code: string): NewCaseEvent => ({ kind: 'blocker.overridden', data: { code, because: 'Spoken through.' } });

describe(`makeFrozen (seed ${seed})`, () => {
  test('holds the plan that was made, the choice, the huddle, the branches and the accepted doubts, and no patient', () => {
    const { document, text } = makeFrozenFixture();
    const { plan, planSha256 } = makeStoredPlan();
    expect(document).toMatchObject({
      format: 'trinadir.frozen/1', amends: null, differences: [], planSha256, choice: { device: plan.landing!.device, size: plan.landing!.size, startMm: plan.release!.startMm },
      device: { id: plan.landing!.device }, branches: { leaks: { person: 'Colleague One' } }, identityCheckedAt: expect.stringContaining('2026-03-02'),
    });
    expect(document.plan).toEqual(plan);
    expect(document.acceptedDoubts.length).toBeGreaterThan(3);
    expect(text).not.toMatch(/identity\.(name|birthDate|patientId)/);
  });
  test('D30: another order of keys is the same document, one digit is another one', () => {
    const { document, text } = makeFrozenFixture();
    fc.assert(fc.property(fc.infiniteStream(fc.nat()), (order) => {
      const shuffle = (value: unknown): unknown => {
        if (typeof value !== 'object' || value === null) return value;
        if (Array.isArray(value)) return value.map(shuffle);
        return Object.fromEntries(Object.entries(value).map((each) => ({ each, at: order.next().value as number })).sort((a, b) => a.at - b.at).map(({ each: [k, v] }) => [k, shuffle(v)]));
      };
      const other = shuffle({ ...document, plan: null }) as object; // the plan holds thousands of keys
      expect(formatCanonical({ ...other, plan: document.plan })).toBe(text);
    }), { ...replay, numRuns: 20 });
    expect(formatCanonical({ ...document, choice: { ...document.choice, startMm: document.choice.startMm + 0.1 } })).not.toBe(text);
  });
  test('the same case gives the same document; who asks and when is all that differs', () => {
    const [a, b] = [freeze(stateWith()), freeze(stateWith(), { by: 'Colleague Two', at: '2026-03-02T11:00:00.000Z' })];
    expect(compareFrozen(a, b)).toEqual([]);
    expect(b).toMatchObject({ frozenBy: 'Colleague Two', frozenAt: '2026-03-02T11:00:00.000Z' });
  });

  test('another start and pacing of the huddle become the choice; the plan’s forecast is not shown for it', () => {
    const state = stateWith(enter('depth.startMm', 4), enter('pacing.ratePerMin', 180), override('choice-not-forecast'));
    const document = freeze(state);
    expect(document.choice).toMatchObject({ startMm: 4, paceBpm: 180 });
    expect(document.plan.landing).toMatchObject({ startMm: 4, aimLowMm: makeStoredPlan().plan.landing!.aimLowMm });
    expect(document.plan.release).toBeUndefined();
    const asked = { ...makeStoredPlan().plan.release!, startMm: 4 };
    expect(freeze(state, { forecast: asked }).plan.release).toEqual(asked);
  });
  test('a pinned size brings its own window and device row, never the plan’s', () => {
    const pin: NewCaseEvent = { kind: 'alternative.pinned', data: { pinId: 'pin-wide', note: '', choice: { device: 'training-flare', size: '30', startMm: 3, paceBpm: 120, isPredilated: false, tension: 'neutral', wireBiasMm: 1.5 } } };
    const state = stateWith(pin, enter('choice.pin', 'pin-wide'));
    const chosen = readChosen(state, makeStoredPlan().plan)!;
    expect([chosen.size.label, chosen.landing?.size, chosen.isForecast]).toEqual(['30', '30', false]);
    const document = freeze(stateWith(pin, enter('choice.pin', 'pin-wide'), override('choice-not-forecast')));
    expect([document.choice.size, document.plan.landing?.size, document.plan.release]).toEqual(['30', '30', undefined]);
    expect(codesOf(stateWith(pin, enter('choice.pin', 'pin-wide'), { kind: 'alternative.unpinned', data: { pinId: 'pin-wide' } }))).toContain('device-missing');
  });

  test('an amendment names what is not as before, and nothing else', () => {
    const first = freeze(stateWith());
    const before = { sha256: 'b'.repeat(64), document: first };
    expect(codesOf(stateWith(), { before })).toBe('freeze-unchanged');
    const later = freeze(stateWith(enter('depth.stopMm', 4), enter('team.nurse', 'Colleague Six')), { before });
    expect(later.amends).toBe('b'.repeat(64));
    expect(later.differences).toEqual(['huddle.depth.stopMm', 'huddle.team.nurse', 'plan.landing.stopMm']);
  });
  test('what was changed and changed back is frozen again without a difference, so that nothing stays behind for ever', () => {
    const frozen: NewCaseEvent = { kind: 'plan.frozen', data: { frozenSha256: 'b'.repeat(64), planSha256: makeStoredPlan().planSha256, basedOnSeq: 1, amends: null, differences: [] } };
    const before = { sha256: 'b'.repeat(64), document: freeze(stateWith()) };
    expect(codesOf(stateWith(frozen), { before })).toBe('freeze-unchanged');
    expect(freeze(stateWith(frozen, enter('team.nurse', 'Colleague Six'), enter('team.nurse', before.document.huddle['team.nurse']!)), { before })).toMatchObject({ amends: before.sha256, differences: [] });
  });
  test('comparing is symmetric, empty on itself, and finds every single change of an entry', () => {
    const base = freeze(stateWith());
    expect(compareFrozen(base, base)).toEqual([]);
    fc.assert(fc.property(fc.constantFrom(...Object.keys(base.huddle)), fc.string({ minLength: 1 }), (field, value) => {
      const other: FrozenDocument = { ...base, huddle: { ...base.huddle, [field]: `${value}!` } };
      expect(compareFrozen(base, other)).toEqual([`huddle.${field}`]);
      expect(compareFrozen(other, base)).toEqual(compareFrozen(base, other));
    }), replay);
  });
  test('a Fact that was only computed at another time does not differ; one with another value does, as one field', () => {
    const base = freeze(stateWith());
    const { root } = base.plan;
    const withArea = (change: object): FrozenDocument => ({ ...base, plan: { ...base.plan, root: { ...root!, basalRing: { ...root!.basalRing, areaMm2: { ...root!.basalRing.areaMm2, ...change } } } } });
    expect(compareFrozen(base, withArea({ source: { ...root!.basalRing.areaMm2.source, at: '2030-01-01T00:00:00Z' } }))).toEqual([]);
    expect(compareFrozen(base, withArea({ value: 1, low: 0 }))).toEqual(['plan.root.basalRing.areaMm2']);
  });
});
