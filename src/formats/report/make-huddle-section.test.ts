import { describe, expect, test } from 'vitest';
import { makeCompletedPlan, setVerdict } from '../../../test/support/example-plan.ts';
import { foldEvents, listFrozenCaseEvents, makeStoredPlan } from '../../../test/support/frozen-fixture.ts';
import type { CaseEvent, NewCaseEvent } from '../../core/case/case-events.ts';
import { foldCase } from '../../core/case/fold-case.ts';
import { HUDDLE_EN } from '../../core/text/huddle-en.ts';
import { listOpenPoints } from '../../core/case/list-open-points.ts';
import { makeHuddleSection, readHuddleCase, type HuddleCase } from './make-huddle-section.ts';
import { listWallCards } from './list-wall-cards.ts';

const plan = makeCompletedPlan();
const about: HuddleCase = { planSha256: 'ab12cd34'.repeat(8), label: 'A 7', procedureOn: null, identity: { name: 'Test<Name', birthDate: '1944-02-03', patientId: null }, pins: [], accepted: [] };
const accept = (points: readonly { code: string; section: string }[]): HuddleCase['accepted'] => points.map(({ code, section }) => ({ code, section, because: 'seen on the cuts', by: 'Anna' }));
const words = (html: string): string => html.replace(/<[^>]*>/g, ' ').replace(/\s+/g, ' ');

describe('the huddle sheet', () => {
  test('reads aloud what hangs on the wall, with the code of the plan', () => {
    const s = makeHuddleSection(plan, about);
    for (const card of listWallCards(plan)) expect(words(s.why)).toContain(card.title);
    expect(words(s.why)).toMatch(/START depth 3\.0 mm/);
    expect(words(s.answer)).toContain('plan ab12cd34');
    expect(words(s.answer)).toContain(HUDDLE_EN.preview);
  });
  test('counts what is open; what a person accepted stays on the sheet, with name and reason, and is not counted', () => {
    const points = listOpenPoints(plan);
    expect(points.length).toBeGreaterThan(3);
    expect(words(makeHuddleSection(plan, about).answer)).toContain(`${points.length} open points`);
    const taken = makeHuddleSection(plan, { ...about, accepted: accept(points.slice(0, 2)) });
    expect(words(taken.answer)).toContain(`${points.length - 2} open points`);
    expect(words(taken.doubt).match(/Accepted by Anna: seen on the cuts/g)).toHaveLength(2);
    expect(words(taken.next)).not.toContain(points[0]!.next);
    expect(words(makeHuddleSection(plan, { ...about, accepted: accept(points) }).answer)).toContain(HUDDLE_EN.openNone);
  });
  test('a doubt accepted for one section is not accepted for another', () => {
    const [point] = listOpenPoints(plan);
    expect(words(makeHuddleSection(plan, { ...about, accepted: accept([{ ...point!, section: 'route' }]) }).answer)).toContain(`${listOpenPoints(plan).length} open points`);
  });
  test('says what was not entered and lets no markup through', () => {
    const { why } = makeHuddleSection(plan, about);
    expect(why).toContain('Test&lt;Name');
    expect(words(why)).toContain(`Patient number ${HUDDLE_EN.notEntered}`);
  });
  test('pinned alternatives stand with who pinned them', () => {
    const pins = [{ choice: { device: 'training-flare', size: '30', startMm: 2, paceBpm: 180, isPredilated: true, tension: 'neutral' as const, wireBiasMm: 1 }, note: 'if <wide>', by: 'Anna' }];
    expect(words(makeHuddleSection(plan, { ...about, pins }).next)).toContain('training-flare 30 2.0 mm 180 /min yes neutral if &lt;wide&gt; (Anna)');
  });
  test('no percentage of risk and no advice stands on it', () => {
    const sure = { ...plan, release: setVerdict(plan.release!, 'stays', { gripping: 'stays', middle: 'stays', slippery: 'stays' }) };
    const s = makeHuddleSection(sure, about);
    expect(words(s.answer + s.next)).not.toMatch(/\d+ %|recommend|should/i);
  });
});

describe('readHuddleCase', () => {
  const event = (seq: number, kind: string, data: object): CaseEvent => ({ caseId: 'c', seq, at: '2026-01-01T00:00:00Z', by: 'p-1', kind, data, supersedes: null, prevSha256: '', sha256: '' }) as unknown as CaseEvent;
  test('takes identity, pins and accepted doubts from the state of the case', () => {
    const state = foldCase('c', [
      event(1, 'case.opened', { label: 'A 7', procedureOn: '2026-12-01', training: false }),
      event(2, 'referral.entered', { field: 'identity.name', value: 'Anna Example', unit: null }), event(3, 'referral.entered', { field: 'identity.birthDate', value: '', unit: null }),
      event(4, 'doubt.accepted', { code: 'x', section: 'root', because: 'seen' }),
      event(5, 'alternative.pinned', { pinId: 'pin-1', note: 'n', choice: { device: 'd', size: '1', startMm: 1, paceBpm: 80, isPredilated: false, tension: 'unknown', wireBiasMm: 0 } }),
    ]);
    expect(readHuddleCase(state, 'f'.repeat(64), (id) => `<${id}>`)).toMatchObject({
      label: 'A 7', procedureOn: '2026-12-01', identity: { name: 'Anna Example', birthDate: null, patientId: null },
      accepted: [{ code: 'x', section: 'root', because: 'seen', by: '<p-1>' }], pins: [{ note: 'n', by: '<p-1>' }],
    });
  });
});

describe('the sheet of a huddle that was held', () => {
  const sheetOf = (...more: readonly NewCaseEvent[]) => {
    const { plan: stored, planSha256 } = makeStoredPlan();
    const state = foldEvents(listFrozenCaseEvents(more));
    return makeHuddleSection(stored, readHuddleCase(state, planSha256, () => 'Colleague One', { plan: stored, day: '2026-03-02' }));
  };
  const FREEZE: NewCaseEvent = { kind: 'plan.frozen', data: { frozenSha256: 'ab12cd34'.repeat(8), planSha256: 'f'.repeat(64), basedOnSeq: 3, amends: null, differences: [] } };
  test('says who decides, where each box lies, who does what in each branch, and the code once frozen', () => {
    const s = sheetOf(FREEZE);
    expect(words(s.answer)).toContain('FROZEN, code ab12 cd34, by Colleague One');
    for (const said of ['Who decides Colleague One', 'Side RIGHT', 'the same size again (training-flare 27) yes shelf spare 2030-01-31', 'It leaks Colleague One snare shelf snare', 'SAME (Colleague One']) expect(words(s.why)).toContain(said);
    expect(words(s.next)).toContain(HUDDLE_EN.nextAloud);
  });
  test('what stands in the way is its answer; what was overridden stands with name and reason', () => {
    const s = sheetOf({ kind: 'branch.agreed', data: { branch: 'leaks', plan: null } }, { kind: 'huddle.entered', data: { field: 'kit.snare.ready', value: false } }, { kind: 'blocker.overridden', data: { code: 'kit-snare', because: 'It is on its way.' } });
    expect(words(s.answer)).toContain(HUDDLE_EN.standsOne);
    expect(words(s.why)).toContain(`It leaks ${HUDDLE_EN.notEntered}`);
    expect(words(s.doubt)).toContain('Overridden by Colleague One: It is on its way.');
  });
  test('a box past its day and a frozen plan that is behind are said in words', () => {
    const s = sheetOf(FREEZE, { kind: 'huddle.entered', data: { field: 'kit.spare.expires', value: '2026-03-01' } });
    expect(words(s.why)).toContain('OUT OF DATE 2026-03-01');
    expect(words(s.answer)).toContain('is behind this sheet');
  });
});
