import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { CaseEvent, NewCaseEvent } from './case-events.ts';
import { applyEvent, emptyCase, foldCase, isPlanField, listLandmarks } from './fold-case.ts';

const line = (events: readonly NewCaseEvent[], by = 'anna'): CaseEvent[] =>
  events.map((e, i) => ({ caseId: 'case-1', seq: i + 1, at: `2026-03-02T08:00:${String(i).padStart(2, '0')}.000Z`, by, supersedes: null, prevSha256: '', sha256: `h${i + 1}`, ...e }) as CaseEvent);
const OPEN: NewCaseEvent = { kind: 'case.opened', data: { label: 'A 7', procedureOn: null, training: false } };
const JOIN: NewCaseEvent = { kind: 'scan.joined', data: { scanId: 'scan-1', manifestSha256: 'm', files: 3, bytes: 9, identity: { verdict: 'same', fields: [], acceptedBecause: null } } };
const move = (z: number | null): NewCaseEvent => ({ kind: 'mark.moved', data: { mark: 'nadir.R', lps: z === null ? null : [0, 0, z], was: null } });
const made = (basedOnSeq: number): NewCaseEvent => ({ kind: 'plan.made', data: { planSha256: 'p', surveySha256: 's', basedOnSeq } });
const fold = (...events: NewCaseEvent[]) => foldCase('case-1', line(events));

describe('the state of a case', () => {
  it('is what its events say, with who and when', () => {
    const s = fold(OPEN, { kind: 'referral.entered', data: { field: 'heightCm', value: 170, unit: 'cm' } }, { kind: 'case.dated', data: { procedureOn: '2026-04-01' } });
    expect(s).toMatchObject({ label: 'A 7', procedureOn: '2026-04-01', seq: 3, sha256: 'h3', openedAt: '2026-03-02T08:00:00.000Z', changedAt: '2026-03-02T08:00:02.000Z' });
    expect(s.referral['heightCm']).toMatchObject({ value: 170, unit: 'cm', by: 'anna', seq: 2 });
  });

  it('an item taken back is gone from the state, not set to nothing', () => {
    const s = fold(OPEN, { kind: 'referral.entered', data: { field: 'sex', value: 'F', unit: null } }, { kind: 'referral.entered', data: { field: 'sex', value: null, unit: null } });
    expect(Object.keys(s.referral)).toEqual([]);
  });

  it('a plan goes stale by what it depends on and by nothing else', () => {
    expect(fold(OPEN, JOIN, made(2)).plan!.isStale).toBe(false);
    for (const change of [move(1), { kind: 'ring.drawn', data: { contourLps: null } }, { kind: 'tables.chosen', data: { devicesSha256: null, rulesSha256: null } }, { kind: 'referral.entered', data: { field: 'plan.paceBpm', value: 120, unit: '/min' } }] as NewCaseEvent[]) {
      expect(fold(OPEN, JOIN, made(2), change).plan!.isStale, change.kind).toBe(true);
    }
    expect(fold(OPEN, JOIN, made(2), { kind: 'referral.entered', data: { field: 'heightCm', value: 170, unit: 'cm' } }).plan!.isStale).toBe(false);
    expect(fold(OPEN, JOIN, made(2), { kind: 'tables.chosen', data: { devicesSha256: null, rulesSha256: null, rescueSha256: 'c'.repeat(64) } }).plan!.isStale).toBe(false);
  });

  it('a plan that was computed while a mark moved is stale from the start, also when the mark was given back', () => {
    expect(fold(OPEN, JOIN, move(1), made(2)).plan!.isStale).toBe(true);
    expect(fold(OPEN, JOIN, move(1), made(3)).plan!.isStale).toBe(false);
    expect(fold(OPEN, JOIN, move(1), move(null), made(3)).plan!.isStale).toBe(true);
  });

  it('another scan drops marks, ring, readings and plan: they belong to the old frame of reference', () => {
    const s = fold(OPEN, JOIN, move(1), made(3), JOIN);
    expect(s).toMatchObject({ marks: {}, ring: null, plan: null, readings: [] });
  });

  it('a refusal stands beside the last plan and goes when a plan is made', () => {
    const refused: NewCaseEvent = { kind: 'plan.refused', data: { code: 'root-not-found', text: 't', next: 'n', basedOnSeq: 2 } };
    expect(fold(OPEN, JOIN, made(2), refused)).toMatchObject({ plan: { planSha256: 'p' }, refusal: { code: 'root-not-found' } });
    expect(fold(OPEN, JOIN, refused, made(3)).refusal).toBeNull();
  });

  it('folding in parts gives the same as folding at once (property)', () => {
    const event = fc.constantFrom<NewCaseEvent>(JOIN, move(1), move(2), move(null), made(2), { kind: 'alternative.unpinned', data: { pinId: 'pin-1' } });
    fc.assert(fc.property(fc.array(event, { maxLength: 12 }), fc.nat(12), (list, cut) => {
      const events = line([OPEN, ...list]);
      const early = events.slice(0, cut).reduce(applyEvent, emptyCase('case-1'));
      expect(events.slice(cut).reduce(applyEvent, early)).toEqual(foldCase('case-1', events));
    }));
  });
});

describe('huddle and freeze in the state of a case', () => {
  const same: NewCaseEvent = { kind: 'identity.checked', data: { verdict: 'same', fields: [] } };
  const enter = (field: string, value: string | null): NewCaseEvent => ({ kind: 'huddle.entered', data: { field, value } });
  const freeze: NewCaseEvent = { kind: 'plan.frozen', data: { frozenSha256: 'f', planSha256: 'p', basedOnSeq: 1, amends: null, differences: [] } };
  const refer = (field: string): NewCaseEvent => ({ kind: 'referral.entered', data: { field, value: 'x', unit: null } });
  it('a comparison with the patient does not outlive the entries or the scan it was made with', () => {
    expect(fold(OPEN, same).identityCheck).toMatchObject({ verdict: 'same', seq: 2 });
    for (const event of [refer('identity.name'), refer('identity.patientId'), JOIN]) expect(fold(OPEN, same, event).identityCheck, event.kind).toBeNull();
    expect(fold(OPEN, same, refer('reason.question')).identityCheck).not.toBeNull();
  });
  it('what an override saw ends with the next entry, comparison, pin, plan or scan; a doubt or a log entry leaves it', () => {
    const pinned: NewCaseEvent = { kind: 'alternative.unpinned', data: { pinId: 'pin-1' } };
    for (const event of [enter('team.nurse', 'x'), same, pinned, JOIN, made(1), refer('identity.name'), refer('plan.pacingPerMin')]) expect(fold(OPEN, event).freezeInputSeq, event.kind).toBe(2);
    for (const event of [{ kind: 'doubt.accepted', data: { code: 'x', section: 'root', because: 'seen' } }, { kind: 'blocker.overridden', data: { code: 'x', because: 'seen' } }, freeze] as const) expect(fold(OPEN, event).freezeInputSeq, event.kind).toBe(0);
  });
  it('a frozen plan is behind the case after any change of what was decided, never before', () => {
    expect(fold(OPEN, enter('team.nurse', 'x'), freeze).frozen).toMatchObject({ frozenSha256: 'f', isBehind: false, seq: 3 });
    for (const event of [enter('team.nurse', null), made(1), JOIN]) expect(fold(OPEN, freeze, event).frozen?.isBehind, event.kind).toBe(true);
    const differs: NewCaseEvent = { kind: 'identity.checked', data: { verdict: 'differs', fields: [] } };
    for (const event of [differs, refer('identity.birthDate')]) expect(fold(OPEN, freeze, event).frozen?.isBehind, 'another patient may be meant').toBe(true);
    for (const event of [same, refer('reason.question')]) expect(fold(OPEN, freeze, event).frozen?.isBehind).toBe(false);
    expect(fold(OPEN, freeze, enter('team.nurse', 'x'), freeze).frozen?.isBehind).toBe(false);
    // D32: identifiers that differ take the plan off the wall, until they agree or it is frozen again.
    expect(fold(OPEN, freeze, differs).frozen?.isOfAnother).toBe(true);
    expect(fold(OPEN, freeze, differs, same).frozen).toMatchObject({ isOfAnother: false, isBehind: true });
    expect(fold(OPEN, freeze, differs, refer('reason.question')).frozen?.isOfAnother).toBe(true);
    expect(fold(OPEN, freeze, same).frozen?.isOfAnother).toBe(false);
  });
  it('an entry taken back is gone, like a branch', () => {
    expect(fold(OPEN, enter('team.nurse', 'x'), enter('team.nurse', null)).huddle).toEqual({});
    const branch = (plan: { person: string; item: string; place: string } | null): NewCaseEvent => ({ kind: 'branch.agreed', data: { branch: 'leaks', plan } });
    expect(fold(OPEN, branch({ person: 'a', item: 'b', place: 'c' })).branches).toMatchObject({ leaks: { person: 'a' } });
    expect(fold(OPEN, branch({ person: 'a', item: 'b', place: 'c' }), branch(null)).branches).toEqual({});
  });
});

describe('the marks of a case as landmarks', () => {
  const plan = { R: [1, 0, 0], L: [0, 1, 0], N: [0, 0, 1] } as const;
  it('no mark: none, so that the survey is free', () => expect(listLandmarks(fold(OPEN, JOIN), plan, '1.2', 'x')).toBeNull());
  it('one moved nadir brings the other two of the plan that was looked at', () => {
    expect(listLandmarks(fold(OPEN, JOIN, move(5)), plan, '1.2', 'x')).toMatchObject({ frameOfReferenceUid: '1.2', nadirsLps: { R: [0, 0, 5], L: plan.L, N: plan.N } });
  });
  it('without a plan one nadir alone is no plane and is not handed on', () => {
    expect(listLandmarks(fold(OPEN, JOIN, move(5)), null, '1.2', 'x')).not.toHaveProperty('nadirsLps');
  });
  it('a marked ostium leaves the nadirs to the survey; a drawn ring holds them', () => {
    const left: NewCaseEvent = { kind: 'mark.moved', data: { mark: 'ostium.left', lps: [9, 9, 9], was: null } };
    expect(listLandmarks(fold(OPEN, JOIN, left), plan, '1.2', 'x')).toEqual({ format: 'trinadir.landmarks/1', by: 'x', frameOfReferenceUid: '1.2', ostiaLps: { left: [9, 9, 9] } });
    const ring: NewCaseEvent = { kind: 'ring.drawn', data: { contourLps: [[0, 0, 0], [1, 0, 0], [0, 1, 0]] } };
    expect(listLandmarks(fold(OPEN, JOIN, ring), plan, '1.2', 'x')).toMatchObject({ nadirsLps: plan, contourLps: [[0, 0, 0], [1, 0, 0], [0, 1, 0]] });
  });
});

describe('fields that a plan reads', () => {
  it('are sex and those named plan.*', () => expect(['identity.sex', 'plan.paceBpm', 'identity.name', 'heightCm'].map(isPlanField)).toEqual([true, true, false, false]));
});
