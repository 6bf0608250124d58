import { describe, expect, test } from 'vitest';
import { foldEvents, listFrozenCaseEvents, makeStoredPlan } from '../../../test/support/frozen-fixture.ts';
import type { NewCaseEvent } from '../case/case-events.ts';
import { listOpenPoints } from '../case/list-open-points.ts';
import { listBlockers, listStanding } from './list-blockers.ts';

const DAY = '2026-03-02';
const { plan, planSha256 } = makeStoredPlan();
const enter = (field: string, value: string | number | boolean | null): NewCaseEvent => ({ kind: 'huddle.entered', data: { field, value } });
const override = (code: string): NewCaseEvent => ({ kind: 'blocker.overridden', data: { code, because: 'Spoken through.' } });
const list = (more: readonly NewCaseEvent[], day = DAY) => listBlockers(foldEvents(listFrozenCaseEvents(more)), plan, day);
const standing = (more: readonly NewCaseEvent[], day = DAY): readonly string[] => listStanding(list(more, day)).map((b) => b.code);

describe('what stands between a case and its frozen plan', () => {
  test('nothing, when everything was said and done', () => {
    expect(list([])).toEqual([]);
  });
  test('a new case lacks its identity and its plan, and no one can override either', () => {
    const found = listBlockers(foldEvents([{ kind: 'case.opened', data: { label: 'A 7', procedureOn: null, training: true } }]), null, DAY);
    expect(found.map((b) => [b.code, b.isHard])).toEqual([['identity-unchecked', true], ['plan-missing', true]]);
  });

  test('D32: an identity that differs, or that was compared before the entries changed, cannot be overridden', () => {
    const differs: NewCaseEvent = { kind: 'identity.checked', data: { verdict: 'differs', fields: [] } };
    expect(standing([differs])).toEqual(['identity-differs']);
    expect(standing([differs, override('identity-differs')])).toEqual(['identity-differs']);
    expect(standing([{ kind: 'referral.entered', data: { field: 'identity.name', value: 'Another Person', unit: null } }])).toEqual(['identity-unchecked']);
    expect(standing([{ kind: 'referral.entered', data: { field: 'reason.nyha', value: 'II', unit: null } }])).toEqual([]);
  });
  test('one that could not be compared may be taken on by a person', () => {
    const open: NewCaseEvent = { kind: 'identity.checked', data: { verdict: 'not comparable', fields: [] } };
    expect(standing([open])).toEqual(['identity-not-comparable']);
    expect(standing([open, override('identity-not-comparable')])).toEqual([]);
  });

  test('a stale plan, an unnamed valve and an open doubt cannot be overridden', () => {
    const stale: NewCaseEvent = { kind: 'mark.moved', data: { mark: 'nadir.R', lps: [0, 0, 0], was: null } };
    expect(standing([stale, override('plan-stale')])).toContain('plan-stale');
    expect(standing([enter('choice.pin', 'pin-gone'), override('device-missing')])).toContain('device-missing');
    const again: NewCaseEvent = { kind: 'plan.made', data: { planSha256, surveySha256: null, basedOnSeq: 99 } };
    const doubts = list([again]).filter((b) => b.code.startsWith('doubt-'));
    expect(doubts.length).toBe(listOpenPoints(plan).length); // accepted before the newest plan: to be looked at again
    expect(doubts.every((b) => b.isHard)).toBe(true);
    expect(standing([again, override(doubts[0]!.code)])).toContain(doubts[0]!.code);
  });

  test('D17: each box that a way out needs must be seen and in date; the neighbour that the table has, too', () => {
    for (const slot of ['first', 'spare', 'smaller', 'larger', 'sheath', 'snare', 'drain']) {
      expect(standing([enter(`kit.${slot}.ready`, false)]), slot).toEqual([`kit-${slot}`]);
      expect(standing([enter(`kit.${slot}.ready`, null)]), slot).toEqual([`kit-${slot}`]); // not said is not "there"
      expect(standing([enter(`kit.${slot}.expires`, '2026-03-01')]), slot).toEqual([`kit-expired-${slot}`]);
      expect(standing([enter(`kit.${slot}.expires`, '2026-03-02')]), slot).toEqual([]); // its last day
      expect(standing([enter(`kit.${slot}.expires`, null)]), slot).toEqual([`kit-undated-${slot}`]); // E8: no date is not "in date"
      expect(standing([enter(`kit.${slot}.expires`, null), override(`kit-undated-${slot}`)]), slot).toEqual([]);
      expect(standing([enter(`kit.${slot}.expires`, null), enter(`kit.${slot}.ready`, false)]), slot).toEqual([`kit-${slot}`]); // said once
    }
    expect(standing([enter('kit.stent.ready', false)])).toEqual([]);
    expect(standing([enter('kit.stent.ready', true), enter('kit.stent.expires', '2020-01-01')])).toEqual(['kit-expired-stent']);
    expect(standing([enter('kit.stent.ready', true)])).toEqual(['kit-undated-stent']);
    expect(standing([enter('kit.stent.place', 'shelf 4')])).toEqual([]); // nobody said that it is there
  });
  test('the smallest size of the table has no smaller neighbour to bring', () => {
    const pin: NewCaseEvent = { kind: 'alternative.pinned', data: { pinId: 'pin-small', note: '', choice: { device: 'training-flare', size: '24', startMm: 3, paceBpm: 120, isPredilated: false, tension: 'neutral', wireBiasMm: 1 } } };
    expect(standing([pin, enter('choice.pin', 'pin-small'), enter('kit.smaller.ready', null)])).not.toContain('kit-smaller');
  });

  test('D29: each branch needs a person, an item and a place', () => {
    const gone = (['moved-up', 'moved-down', 'leaks'] as const).map((branch): NewCaseEvent => ({ kind: 'branch.agreed', data: { branch, plan: null } }));
    expect(standing(gone)).toEqual(['branch-moved-up', 'branch-moved-down', 'branch-leaks']);
    expect(standing(gone.slice(0, 1))).toEqual(['branch-moved-up']);
  });

  test('needed entries, refused consent, a surgeon without a name', () => {
    expect(standing([enter('stop.when', null)])).toEqual(['entry-stop.when']);
    expect(standing([enter('consent.given', false)])).toEqual(['consent-not-given']);
    expect(standing([enter('team.surgeon', null)])).toEqual(['surgeon-unnamed']);
    expect(standing([enter('rescue.surgery', 'not-for-surgery'), enter('team.surgeon', null)])).toEqual([]);
  });
  test('an aim outside the window and a stop deeper than the limits are said with the numbers', () => {
    const { aimLowMm, aimHighMm } = plan.landing!;
    expect(standing([enter('depth.aimMm', aimHighMm!)])).toEqual([]);
    expect(standing([enter('depth.aimMm', aimLowMm! - 0.5)])).toEqual(['aim-outside']);
    expect(standing([enter('depth.stopMm', 12)])).toEqual(['stop-outside']);
  });
  test('an empty window needs a person who says which limit yields', () => {
    const empty = { ...plan, landing: { ...plan.landing!, empty: true, state: 'empty' as const, startMm: null, aimLowMm: null, aimHighMm: null, stopMm: null } };
    const of = (more: readonly NewCaseEvent[]) => listStanding(listBlockers(foldEvents(listFrozenCaseEvents(more)), empty, DAY)).map((b) => b.code);
    expect(of([])).toEqual(['landing-empty']);
    expect(of([override('landing-empty')])).toEqual([]);
  });
  test('invented sizes on a case that is not for training, and a CT of another patient, are taken on by name or not at all', () => {
    const real = listFrozenCaseEvents().map((e): NewCaseEvent => (e.kind === 'case.opened' ? { kind: 'case.opened', data: { ...e.data, training: false } } : e));
    expect(listStanding(listBlockers(foldEvents(real), plan, DAY)).map((b) => b.code)).toEqual(['training-sizes']);
  });

  test('an override counts for the case as its giver saw it; any change voids it, a log entry or a doubt does not', () => {
    const lacking = enter('kit.snare.ready', false);
    expect(standing([lacking, override('kit-snare')])).toEqual([]);
    expect(list([lacking, override('kit-snare')])[0]!.override).toMatchObject({ because: 'Spoken through.', by: 'person-one' });
    expect(standing([override('kit-snare'), lacking])).toEqual(['kit-snare']);
    expect(standing([lacking, override('kit-snare'), enter('team.echo', 'Colleague Nine')])).toEqual(['kit-snare']);
    expect(standing([lacking, override('kit-snare'), { kind: 'identity.checked', data: { verdict: 'same', fields: [] } }])).toEqual(['kit-snare']);
    expect(standing([lacking, override('kit-snare'), { kind: 'doubt.accepted', data: { code: 'x', section: 'root', because: 'seen' } }, override('kit-drain')])).toEqual([]);
  });
});
