import { describe, expect, test } from 'vitest';
import { makeCompletedPlan } from '../../../test/support/example-plan.ts';
import type { CaseEvent, NewCaseEvent } from '../../core/case/case-events.ts';
import { foldCase, type CaseState } from '../../core/case/fold-case.ts';
import { CASE_PAGES, listPageStates } from './page-states.ts';

const fold = (...events: readonly NewCaseEvent[]): CaseState =>
  foldCase('case-1', events.map((e, i) => ({ caseId: 'case-1', seq: i + 1, at: '2026-03-02T08:00:00.000Z', by: 'anna', supersedes: null, prevSha256: '', sha256: '', ...e }) as CaseEvent));
const OPEN: NewCaseEvent = { kind: 'case.opened', data: { label: 'A 7', procedureOn: '2026-04-01', training: false } };
const JOIN: NewCaseEvent = { kind: 'scan.joined', data: { scanId: 's', manifestSha256: 'm', files: 1, bytes: 1, identity: { verdict: 'same', fields: [], acceptedBecause: null } } };
const MADE: NewCaseEvent = { kind: 'plan.made', data: { planSha256: 'p', surveySha256: null, basedOnSeq: 9 } };
const WHO = (['identity.name', 'identity.birthDate', 'identity.sex'] as const).map((field): NewCaseEvent => ({ kind: 'referral.entered', data: { field, value: field === 'identity.sex' ? 'F' : '1944-03-02', unit: null } }));
const plan = makeCompletedPlan();

describe('how far each page of a case is answered', () => {
  test('a new case has nothing but its day; every page that needs the CT is open', () => {
    expect(new Set(Object.values(listPageStates(fold(OPEN), null, false)))).toEqual(new Set(['open']));
    expect(listPageStates(fold(OPEN, ...WHO), null, false)).toMatchObject({ referral: 'answered', scan: 'open', huddle: 'open' });
  });
  test('a referral without a day of procedure is answered with doubt', () => {
    const { referral } = listPageStates(fold({ kind: 'case.opened', data: { label: 'A 7', procedureOn: null, training: false } }, ...WHO), null, false);
    expect(referral).toBe('doubt');
  });
  test('while a plan is made its pages are being computed, and the huddle waits', () => {
    const states = listPageStates(fold(OPEN, ...WHO, JOIN), null, true);
    expect(states).toMatchObject({ referral: 'answered', root: 'computing', release: 'computing', huddle: 'computing' });
  });
  test('an older plan is never shown as settled, however sound it was', () => {
    const fresh = fold(OPEN, ...WHO, JOIN, MADE);
    const stale = fold(OPEN, ...WHO, JOIN, MADE, { kind: 'tables.chosen', data: { devicesSha256: null, rulesSha256: null } });
    const settled = CASE_PAGES.filter((p) => listPageStates(fresh, plan, false)[p] === 'answered');
    expect(settled).toContain('referral');
    for (const page of CASE_PAGES.filter((p) => p !== 'referral')) expect(listPageStates(stale, plan, false)[page], page).not.toBe('answered');
  });
  test('"cannot say" and an empty window are answers with doubt; a question nobody asked is open', () => {
    const states = (change: object) => listPageStates(fold(OPEN, ...WHO, JOIN, MADE), { ...plan, ...change }, false);
    expect(states({ release: { ...plan.release, answer: 'cannot say', refusals: [] } }).release).toBe('doubt');
    expect(states({ landing: { ...plan.landing, state: 'empty', reasons: [] } }).landing).toBe('doubt');
    const { release: _gone, ...without } = plan;
    expect(listPageStates(fold(OPEN, ...WHO, JOIN, MADE), without, false).release).toBe('open');
  });
  test('the dry run is open until all three branches are agreed; the huddle is what is frozen, with doubt once it is behind or was overridden', () => {
    const agree = (['moved-up', 'moved-down', 'leaks'] as const).map((branch): NewCaseEvent => ({ kind: 'branch.agreed', data: { branch, plan: { person: 'p', item: 'i', place: 'w' } } }));
    const freeze: NewCaseEvent = { kind: 'plan.frozen', data: { frozenSha256: 'f', planSha256: 'p', basedOnSeq: 1, amends: null, differences: [] } };
    const say = { ...plan, release: { ...plan.release!, answer: 'stays' as const } };
    const of = (...events: readonly NewCaseEvent[]) => listPageStates(fold(OPEN, ...WHO, JOIN, MADE, ...events), say, false);
    expect(of(...agree.slice(0, 2))).toMatchObject({ 'dry-run': 'open', huddle: 'open', room: 'open' });
    expect(of(...agree)['dry-run']).toBe('answered');
    expect(of(...agree, freeze)).toMatchObject({ huddle: 'answered', room: 'open' });
    expect(of(...agree, { kind: 'blocker.overridden', data: { code: 'kit-snare', because: 'on its way' } }, freeze).huddle).toBe('doubt');
    expect(of(...agree, freeze, { kind: 'huddle.entered', data: { field: 'team.echo', value: 'x' } }).huddle).toBe('doubt');
    expect(listPageStates(fold(OPEN, ...WHO, JOIN, MADE, ...agree), plan, false)['dry-run']).toBe('doubt'); // the model cannot say
  });
  test('a scan that was joined over a different patient keeps its doubt', () => {
    const other: NewCaseEvent = { kind: 'scan.joined', data: { scanId: 's', manifestSha256: 'm', files: 1, bytes: 1, identity: { verdict: 'differs', fields: [], acceptedBecause: 'name misspelt' } } };
    expect(listPageStates(fold(OPEN, ...WHO, other, MADE), { ...plan, scan: { ...plan.scan, verdict: 'fit' } }, false).scan).toBe('doubt');
  });

  describe('the result', () => {
    const SHOWN: NewCaseEvent = { kind: 'verdict.shown', data: { what: 'verdict', answerSha256: 'a' } };
    const decide = (answerSha256: string | null): NewCaseEvent => ({ kind: 'result.decided', data: { decision: 'finish', because: 'below the line', answerSha256 } });
    const of = (...events: readonly NewCaseEvent[]) => listPageStates(fold(OPEN, ...events), null, false).result;
    test('is open until a verdict was shown, and in doubt until the team decided over it', () => {
      expect([of(), of({ kind: 'echo.begun', data: { echoId: 'echo-1', takenAt: '2026-03-02T08:00:00Z' } }), of(SHOWN), of(SHOWN, decide('a'))]).toEqual(['open', 'open', 'doubt', 'answered']);
      expect(of({ kind: 'verdict.shown', data: { what: 'grades', answerSha256: 'a' } })).toBe('open');
      expect(of(decide(null))).toBe('doubt'); // nobody had looked at a verdict
    });
    test('a manoeuvre after the decision leaves doubt, and one after a verdict that nobody decided over opens the page again', () => {
      const at = (roundAt: string, ...events: readonly NewCaseEvent[]) => listPageStates(fold(OPEN, ...events), null, false, roundAt).result;
      expect([at('2026-03-02T07:59:59.000Z', SHOWN, decide('a')), at('2026-03-02T08:00:01.000Z', SHOWN, decide('a'))]).toEqual(['answered', 'doubt']);
      expect([at('2026-03-02T07:59:59.000Z', SHOWN), at('2026-03-02T08:00:01.000Z', SHOWN)]).toEqual(['doubt', 'open']);
    });
    test('comes into doubt again by whatever is newer than the decision, but not by the watch of the rhythm', () => {
      expect(of(SHOWN, decide('a'), { kind: 'echo.begun', data: { echoId: 'echo-1', takenAt: '2026-03-02T08:00:00Z' } })).toBe('doubt');
      expect(of(SHOWN, decide('a'), SHOWN)).toBe('doubt');
      expect(of(SHOWN, decide('a'), { kind: 'result.entered', data: { field: 'circulation.isStable', value: false } })).toBe('doubt');
      expect(of(SHOWN, decide('a'), { kind: 'result.entered', data: { field: 'watch.wire', value: 'out' } })).toBe('answered');
      expect(of({ kind: 'echo.begun', data: { echoId: 'echo-1', takenAt: '2026-03-02T08:00:00Z' } }, SHOWN, decide('a'), { kind: 'witness.withdrawn', data: { of: 'echo-1', because: 'other patient' } })).toBe('doubt');
    });
  });
  test('the rhythm needs a baseline and an ECG after the valve; one alone leaves doubt, one taken back counts no more', () => {
    const words = { at: '2026-03-02T08:00:00Z', rhythm: null, prMs: null, qrsMs: 92, ratePerMin: null, hvMs: null, bundleBlock: null, avBlock: null };
    const enter = (moment: 'baseline' | 'post', isBack = false): NewCaseEvent => ({ kind: 'ecg.entered', data: { moment, words: isBack ? null : words } });
    const of = (...events: readonly NewCaseEvent[]) => listPageStates(fold(OPEN, ...events), null, false).rhythm;
    expect([of(), of(enter('baseline')), of(enter('post')), of(enter('baseline'), enter('post')), of(enter('baseline'), enter('baseline', true))]).toEqual(['open', 'doubt', 'doubt', 'answered', 'open']);
  });
});
