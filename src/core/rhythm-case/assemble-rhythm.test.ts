import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { drawEcg } from '../../../test/support/draw-ecg.ts';
import { foldEvents, makeStoredPlan } from '../../../test/support/frozen-fixture.ts';
import { depthEntry, logTime, makeRoom } from '../../../test/support/room-log.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import type { NewCaseEvent } from '../case/case-events.ts';
import type { EcgWords } from '../case/result-events.ts';
import { TRAINING_PATIENT, TRAINING_TABLE } from '../device/training-table.ts';
import { assembleRhythm, type RhythmCase, type RhythmSources } from './assemble-rhythm.ts';
import type { EcgReading } from '../rhythm/ecg-types.ts';
import { measureEcg } from '../rhythm/measure-ecg.ts';
import type { EcgMoment, RhythmRules } from '../rhythm/rhythm-types.ts';
import { PROPOSED_RHYTHM_RULES, TRAINING_RHYTHM_RULES } from '../rhythm/training-rhythm-rules.ts';

const STAMP = { by: 'tool', at: '2026-03-02T12:00:00Z' };
/** The room of room-log.ts releases at 10:05. */
const ROOM = makeRoom([60, depthEntry(3)], [200, { is: 'fraction', ratio: 0.8 }], [300, { is: 'phase', phase: 'released' }], [400, depthEntry(4, 0.5)]);
const TIMES = { baseline: '2026-03-01T08:00:00.000Z', post: '2026-03-02T10:30:00.000Z', h24: '2026-03-03T10:00:00.000Z', h48: '2026-03-04T10:00:00.000Z' };
const OPEN = { rhythm: null, prMs: null, qrsMs: null, ratePerMin: null, hvMs: null, bundleBlock: null, avBlock: null } as const;
const PLAIN = { ...OPEN, rhythm: 'sinus', bundleBlock: 'none', avBlock: 'none', prMs: 180, qrsMs: 90, ratePerMin: 75 } as const;
const words = (moment: EcgMoment, change: Partial<EcgWords> = {}): NewCaseEvent => ({ kind: 'ecg.entered', data: { moment, words: { at: TIMES[moment], ...PLAIN, ...change } } });
const record = (moment: EcgMoment, of: string = moment, takenAt = TIMES[moment]): NewCaseEvent => ({
  kind: 'ecg.joined', data: { moment, blobSha256: of.padEnd(64, '0'), readingSha256: `d${of}`.padEnd(64, '0'), takenAt, identity: { verdict: 'same', fields: [], acceptedBecause: null } },
});
const said = (field: string, value: string | boolean): NewCaseEvent => ({ kind: 'result.entered', data: { field, value } });

/** Fourteen drawn beats, 75 a minute; `shiftS` makes another ECG of the same intervals. */
function draw(prMs: number, qrsMs: number, shiftS = 0): EcgReading {
  return measureEcg(drawEcg({ beats: Array.from({ length: 14 }, (_, k) => ({ qrsOnS: 0.6 + shiftS + k * 0.8, prMs, qrsMs })), durationS: 13, samplesPerS: 500, seed: 3 + Math.round(100 * shiftS), noiseMv: 0.004 }), STAMP);
}
function assemble(events: readonly NewCaseEvent[], change: Partial<RhythmSources> & { readonly isTraining?: boolean } = {}): RhythmCase {
  const state = foldEvents([{ kind: 'case.opened', data: { label: 'R 1', procedureOn: null, training: change.isTraining ?? true } }, ...events]);
  return assembleRhythm({ state, readings: {}, plan: null, chosen: null, room: ROOM, rules: TRAINING_RHYTHM_RULES, now: '2026-03-02T12:00:00Z', ...change });
}
const codes = (reasons: readonly { readonly code: string }[]): readonly string[] => reasons.map((r) => r.code);
const ofMoment = (rhythm: RhythmCase, moment: EcgMoment) => rhythm.ecgs.find((e) => e.moment === moment)!;
const LOCAL: RhythmRules = {
  ...TRAINING_RHYTHM_RULES, training: false, hospital: 'Test', edition: '7',
  rules: [
    ...(['pr', 'qrs'] as const).map((of) => ({ code: `${of}-rise`, kind: 'change', when: { of: `${of}-rise`, op: '>=', value: 40, unit: 'ms' }, says: 'longer', edition: '7', source: 'local', status: 'C' } as const)),
    { code: 'local-wire', kind: 'step', when: { of: 'word', in: ['new conduction change'] }, says: 'Keep the wire', wire: 'keep', edition: '7', source: 'local', status: 'C' },
    { code: 'local-late', kind: 'watch', when: { of: 'new-bundle-block', in: ['left'] }, says: 'Call', days: { count: 7, from: 'discharge' }, edition: '7', source: 'local', status: 'C' },
  ],
};

describe(`assembleRhythm (seed ${seed})`, () => {
  test('D47 from the log of a case: 180 to 200 and 90 to 92 are unchanged, QRS 150 is a change with its step and edition', () => {
    const calm = assemble([words('baseline'), words('post', { prMs: 200, qrsMs: 92 })], { rules: LOCAL, isTraining: false });
    expect(calm.answer.word).toBe('unchanged');
    expect(ofMoment(calm, 'post').rise!.prMs).toMatchObject({ value: 20, low: 20, high: 20 });
    const changed = assemble([words('baseline'), words('post', { prMs: 200, qrsMs: 150 })], { rules: LOCAL, isTraining: false });
    expect(changed.answer).toMatchObject({ word: 'new conduction change', ruleSet: { edition: '7' } });
    expect(changed.watch).toMatchObject({ wireRule: 'keep', wireOutcomes: [{ rule: { says: 'Keep the wire' } }] });
  });

  test('hazard 21: without the baseline or the ECG after release nothing is said, and the wire is not let out', () => {
    for (const events of [[words('post')], [words('baseline')], []]) {
      const rhythm = assemble(events);
      expect(rhythm.answer.word).toBe('CANNOT SAY');
      expect(rhythm.watch.wireRule).not.toBe('out');
    }
    expect(assemble([words('baseline'), words('post')]).watch.wireRule).toBe('out');
    expect(codes(assemble([words('post'), said('watch.wire', 'out')]).watch.reasons)).toContain('watch-wire-unanswered');
  });

  test('a person’s number counts before a measured one; both stay, and a difference beyond the band is named', () => {
    const reading = draw(200, 100);
    const rhythm = assemble([words('baseline'), words('post', { prMs: 180, qrsMs: null }), record('post')], { readings: { post: reading } });
    const post = ofMoment(rhythm, 'post');
    expect(post.pr).toMatchObject({ from: 'person', used: { value: 180 }, entered: { value: 180 } });
    expect(post.pr.measured!.value).toBe(reading.prMs.value);
    expect(post.qrs).toMatchObject({ from: 'record', entered: null });
    expect(post.entry!.qrsMs!.value).toBe(reading.qrsMs.value);
    // Measured within 4 ms of 200 (docs/methods/rhythm.md) with a half-width of about 15: 180 lies outside, 192 inside.
    expect(codes(rhythm.reasons)).toContain('ecg-entered-differs');
    expect(codes(assemble([words('baseline'), words('post', { prMs: 192, qrsMs: 100 }), record('post')], { readings: { post: reading } }).reasons)).not.toContain('ecg-entered-differs');
  });

  test('a record alone says neither rhythm nor block: its PR and QRS do not count until a person says the rhythm', () => {
    const readings = { post: draw(180, 90) };
    const bare = assemble([words('baseline'), record('post')], { readings });
    expect(ofMoment(bare, 'post').entry).toMatchObject({ at: TIMES.post, rhythm: null, prMs: null, qrsMs: null, bundleBlock: null, avBlock: null });
    expect(ofMoment(bare, 'post').entry!.ratePerMin!.value).toBeCloseTo(75, 0);
    expect(bare.answer.word).toBe('CANNOT SAY');
    expect(codes(bare.reasons)).toEqual(expect.arrayContaining(['ecg-rhythm-missing', 'ecg-bundle-open', 'ecg-av-open']));
    const told = assemble([words('baseline'), words('post', { ...OPEN, rhythm: 'sinus', bundleBlock: 'none' }), record('post')], { readings });
    expect(ofMoment(told, 'post').entry!.prMs!.value).toBe(readings.post.prMs.value);
    expect(codes(told.reasons)).toContain('ecg-av-open');
    expect(codes(told.reasons)).not.toContain('ecg-bundle-open');
    const paced = assemble([words('baseline'), words('post', { ...OPEN, rhythm: 'paced-ventricle' }), record('post')], { readings });
    expect(ofMoment(paced, 'post').pr.used).toMatchObject({ status: 'refused' });
    expect(ofMoment(paced, 'post').rise!.prMs).toBeNull();
  });

  test('words that contradict themselves or their record are named and never mended', () => {
    const fibrillating = assemble([words('baseline'), words('post', { rhythm: 'atrial-fibrillation' })]);
    expect(codes(fibrillating.reasons)).toContain('ecg-pr-in-fibrillation');
    expect(ofMoment(fibrillating, 'post').entry).toMatchObject({ prMs: null, rhythm: null });
    const reading = draw(180, 90);
    const withP = assemble([words('baseline'), words('post', { ...OPEN, rhythm: 'atrial-fibrillation' }), record('post')], { readings: { post: reading } });
    expect(codes(withP.reasons)).toContain('ecg-said-differs');
    const suspected: EcgReading = { ...reading, suspicions: [{ kind: 'two-to-one', count: 3, firstAtS: 1, code: 'suspected-two-to-one', text: '2:1 AV block suspected', next: '' }] };
    expect(codes(assemble([words('baseline'), words('post'), record('post')], { readings: { post: suspected } }).reasons)).toContain('ecg-said-differs');
    const early = assemble([words('baseline'), words('post'), record('post', 'post', '2026-03-02T10:45:00.000Z')], { readings: { post: reading } });
    expect(codes(early.reasons)).toContain('ecg-times-differ');
  });

  test('an ECG after release that is from before it, and moments out of order, are named with both times', () => {
    const early = assemble([words('baseline'), words('post', { at: '2026-03-02T10:04:59.000Z' })]);
    expect(early.releasedAt).toBe(logTime(300));
    expect(early.answer).toMatchObject({ word: 'CANNOT SAY' });
    expect(early.answer.reasons.find((r) => r.code === 'ecg-order')!.text).toContain('2026-03-02 10:05 UTC');
    expect(assemble([words('baseline'), words('post', { at: '2026-03-02T10:05:00.000Z' })]).answer.word).toBe('unchanged');
    expect(codes(assemble([words('baseline', { at: '2026-03-02T10:20:00.000Z' }), words('post')]).answer.reasons)).toContain('ecg-order');
    expect(codes(assemble([words('baseline'), words('post'), words('h24', { at: TIMES.post })]).answer.reasons)).toContain('ecg-order');
  });

  test('an ECG outside the hours of its moment, or ahead of now, is named and counts all the same', () => {
    // Released 10:05; 24 h: 18 to 30.
    const at = (h24: string, now = '2026-03-05T12:00:00Z') => assemble([words('baseline'), words('post'), words('h24', { at: h24 })], { now });
    for (const [time, wanted] of [['2026-03-03T04:04:00.000Z', true], ['2026-03-03T04:05:00.000Z', false], ['2026-03-03T16:05:00.000Z', false], ['2026-03-03T16:06:00.000Z', true]] as const) {
      expect(codes(at(time).reasons).includes('ecg-off-schedule'), time).toBe(wanted);
      expect(at(time).answer).toMatchObject({ word: 'unchanged', moment: 'h24' });
    }
    expect(codes(at('2026-03-03T10:00:00.000Z', '2026-03-03T09:59:00Z').reasons)).toContain('ecg-ahead');
  });

  test('one record at two moments counts at none, be it the same file or the same beats in another one', () => {
    const reading = draw(180, 90);
    const open = { ...OPEN, rhythm: 'sinus', bundleBlock: 'none', avBlock: 'none' } as const;
    const pair = (of: string, post: EcgReading): RhythmCase => assemble([words('baseline', open), words('post', open), record('baseline', 'a'), record('post', of)], { readings: { baseline: reading, post } });
    for (const twice of [pair('a', reading), pair('b', reading)]) {
      expect(twice.answer.word).toBe('CANNOT SAY');
      expect(codes(twice.reasons)).toContain('ecg-same-record');
      expect(ofMoment(twice, 'post').pr).toMatchObject({ used: null, measured: { value: reading.prMs.value } });
    }
    expect(codes(pair('b', draw(180, 90, 0.31)).reasons)).not.toContain('ecg-same-record');
  });

  test('facts of plan and room come along: depth after release, septum, calcium, device; a depth from before the release does not', () => {
    const { plan } = makeStoredPlan();
    const device = TRAINING_TABLE.devices.find((d) => d.kind === 'self-expanding')!;
    const room = makeRoom([60, depthEntry(3)], [200, { is: 'fraction', ratio: 0.8 }], [250, { is: 'dilated', balloonMm: 22, when: 'before' }], [300, { is: 'phase', phase: 'released' }], [400, depthEntry(4, 0.5)]);
    const { context } = assemble([said('rhythm.hasShortSeptum', false)], { plan: { ...plan, patient: TRAINING_PATIENT }, chosen: { device, size: device.sizes[0]! }, room });
    expect(context).toMatchObject({ deviceKind: 'self-expanding', dilated: 'yes', shortSeptum: 'no', lowImplant: null, implantDepthMm: { value: 4, low: 3.5, high: 4.5 }, septumLengthMm: { value: TRAINING_PATIENT.membranousSeptumMm!.value } });
    // Free inflow diameter over perimeter / pi of the outflow tract.
    const perimeterMm = plan.root!.outflowTract.perimeterMm.value!;
    expect(context.prosthesisOverOutflow!.value).toBeCloseTo((device.sizes[0]!.frame.inflowMm * Math.PI) / perimeterMm, 12);
    const early = makeRoom([60, depthEntry(3)], [200, { is: 'fraction', ratio: 0.8 }], [300, { is: 'phase', phase: 'released' }]);
    expect(assemble([], { room: early }).context).toMatchObject({ implantDepthMm: { value: null, reasons: [{ code: 'depth-before-release' }] }, dilated: null });
  });

  test('depth below the septum can be asked by a rule', () => {
    const rules: RhythmRules = { ...TRAINING_RHYTHM_RULES, rules: [{ code: 'deep', kind: 'predictor', when: { of: 'depth-below-septum', op: '>', value: 0, unit: 'mm' }, says: 'Below the septum', edition: '1', source: 'test', status: 'C' }] };
    const truth = (septumMm: number): string => assemble([], { rules, plan: { patient: { format: 'trinadir.patient/1', by: 'p', membranousSeptumMm: { value: septumMm, halfWidth95: 1 } } } }).answer.predictors[0]!.truth;
    // Depth 4 +- 0.5, septum +- 1: the difference has a half-width of sqrt(1.25) = 1.12 mm.
    expect([truth(2.8), truth(3), truth(5), truth(5.2)]).toEqual(['yes', 'unknown', 'unknown', 'no']);
  });

  test('the referral’s intervals are shown and never taken for a baseline', () => {
    const referral: NewCaseEvent = { kind: 'referral.entered', data: { field: 'heart.prMs', value: 178, unit: 'ms' } };
    const without = assemble([referral, words('post')]);
    expect(without.answer.word).toBe('CANNOT SAY');
    expect(without.reasons.find((r) => r.code === 'ecg-referral-holds')!.text).toContain('PR 178 ms');
    expect(codes(assemble([referral, words('baseline', { prMs: 220 }), words('post')]).reasons)).toContain('ecg-referral-differs');
    expect(codes(assemble([referral, words('baseline', { prMs: 190 }), words('post')]).reasons)).not.toContain('ecg-referral-differs');
  });

  test('no rules, a proposal, and training rules outside a training case say nothing', () => {
    const pair = [words('baseline'), words('post', { qrsMs: 150 })];
    expect(codes(assemble(pair, { rules: null }).answer.reasons)).toContain('rhythm-rules-missing');
    expect(codes(assemble(pair, { rules: PROPOSED_RHYTHM_RULES }).answer.reasons)).toContain('rhythm-rules-unsigned');
    const real = assemble(pair, { isTraining: false });
    expect(real.answer.word).toBe('CANNOT SAY');
    expect(codes(real.reasons)).toContain('rhythm-rules-training');
  });

  test('taking an entered item away never turns one word into the other', () => {
    const whole = { ...PLAIN, qrsMs: 150, bundleBlock: 'left' } as const;
    const items = ['rhythm', 'prMs', 'qrsMs', 'ratePerMin', 'bundleBlock', 'avBlock'] as const;
    fc.assert(fc.property(fc.subarray([...items]), fc.constantFrom('baseline', 'post') as fc.Arbitrary<'baseline' | 'post'>, fc.boolean(), (gone, moment, isChanged) => {
      const after = isChanged ? whole : PLAIN;
      const less = Object.fromEntries(gone.map((g) => [g, null]));
      const all = assemble([words('baseline'), words('post', after)]).answer.word;
      const some = assemble([words('baseline', moment === 'baseline' ? less : {}), words('post', moment === 'post' ? { ...after, ...less } : after)]).answer.word;
      expect([all, 'CANNOT SAY']).toContain(some);
    }), replay);
  });
});

describe('the watch after discharge', () => {
  const NEW_LEFT = [words('baseline'), words('post', { qrsMs: 140, bundleBlock: 'left' })];
  const home = (day: string, ...more: readonly NewCaseEvent[]) => [...NEW_LEFT, said('watch.dischargedOn', day), ...more];
  const watch = (events: readonly NewCaseEvent[], now: string, change: Partial<RhythmSources> = {}) => assemble(events, { now, ...change }).watch;

  test('D48 discharged with a new bundle branch block and no result of the monitor: on the clinic list from day 7 on', () => {
    const state = (now: string) => watch(home('2026-03-04'), now).lateBlock;
    expect(state('2026-03-04T18:00:00Z')).toMatchObject({ state: 'result wanted', isOnClinicList: false, listFrom: '2026-03-11' });
    expect(state('2026-03-10T23:59:59Z')).toMatchObject({ state: 'result wanted', isOnClinicList: false });
    expect(state('2026-03-11T00:00:00Z')).toMatchObject({ state: 'on the clinic list', isOnClinicList: true });
    expect(state('2026-04-30T00:00:00Z')).toMatchObject({ state: 'on the clinic list', isOnClinicList: true });
  });
  test('a read monitor takes the patient off the list, an unreadable one does not, a seen block puts them on it at once', () => {
    const late = '2026-03-20T08:00:00Z';
    const monitored = [said('watch.monitor', 'ambulatory')];
    expect(watch(home('2026-03-04', ...monitored, said('watch.monitorResult', 'no block')), late).lateBlock).toMatchObject({ state: 'read', isOnClinicList: false });
    expect(watch(home('2026-03-04', ...monitored, said('watch.monitorResult', 'not readable')), late).lateBlock).toMatchObject({ state: 'on the clinic list', isOnClinicList: true });
    expect(watch(home('2026-03-04', ...monitored, said('watch.monitorResult', 'block seen')), '2026-03-05T08:00:00Z').lateBlock).toMatchObject({ state: 'block seen', isOnClinicList: true });
  });
  test('days and limit are the rules’, not the tool’s', () => {
    const rules: RhythmRules = { ...TRAINING_RHYTHM_RULES, rules: TRAINING_RHYTHM_RULES.rules.map((r) => (r.kind === 'watch' ? { ...r, days: { count: 3, from: 'release' } } : r)) };
    expect(watch(home('2026-03-04'), '2026-03-04T23:00:00Z', { rules }).lateBlock.state).toBe('result wanted');
    expect(watch(home('2026-03-04'), '2026-03-05T00:00:00Z', { rules }).lateBlock).toMatchObject({ state: 'on the clinic list', listFrom: '2026-03-05' });
    expect(watch(home('2026-03-04'), '2026-03-05T00:00:00Z', { rules, room: null }).lateBlock).toMatchObject({ state: 'CANNOT SAY', isOnClinicList: true });
    const none: RhythmRules = { ...TRAINING_RHYTHM_RULES, rules: TRAINING_RHYTHM_RULES.rules.filter((r) => r.kind !== 'watch') };
    expect(watch(home('2026-03-04'), '2026-03-20T00:00:00Z', { rules: none }).lateBlock).toMatchObject({ state: 'CANNOT SAY', isOnClinicList: true });
  });
  test('without a new block nobody is watched for; where the block is not known, as if it were new', () => {
    const after = '2026-03-20T08:00:00Z';
    const list = (events: readonly NewCaseEvent[]) => watch([...events, said('watch.dischargedOn', '2026-03-04')], after).lateBlock;
    expect(list([words('baseline'), words('post')])).toMatchObject({ state: 'not watched for', isOnClinicList: false });
    expect(list([words('baseline', { bundleBlock: 'left' }), words('post', { bundleBlock: 'left' })])).toMatchObject({ state: 'not watched for' });
    expect(list([words('baseline'), words('post', { bundleBlock: null })])).toMatchObject({ state: 'on the clinic list', isOnClinicList: true });
    expect(list([])).toMatchObject({ state: 'on the clinic list', isOnClinicList: true });
    expect(watch(NEW_LEFT, after).lateBlock).toMatchObject({ state: 'not discharged', isOnClinicList: false });
  });
  test('monitored until the last day that a rule asks for, counted from discharge', () => {
    const span = (events: readonly NewCaseEvent[], now: string) => watch(events, now).monitoredFor.find((m) => m.outcome.rule.code === 'ambulatory-ecg');
    expect(span(NEW_LEFT, '2026-03-05T08:00:00Z')).toMatchObject({ until: null, isOver: false });
    expect(span(home('2026-03-04'), '2026-03-18T23:00:00Z')).toMatchObject({ until: '2026-03-18', isOver: false });
    expect(span(home('2026-03-04'), '2026-03-19T00:00:00Z')).toMatchObject({ until: '2026-03-18', isOver: true });
    expect(span([words('baseline'), words('post')], '2026-03-05T08:00:00Z')).toBeUndefined();
  });
  test.each([
    ['discharge before the release', home('2026-03-01'), 'watch-discharge-early'],
    ['discharge still to come', home('2026-03-09'), 'watch-discharge-ahead'],
    ['review before discharge', home('2026-03-04', said('watch.reviewOn', '2026-03-03')), 'watch-review-early'],
    ['no review', home('2026-03-04'), 'watch-review-missing'],
    ['wire in at home', home('2026-03-04', said('watch.wire', 'in')), 'watch-wire-home'],
    ['wire out against a rule', [...NEW_LEFT, said('watch.wire', 'out')], 'watch-wire-kept'],
    ['no monitor against a rule', [...NEW_LEFT, said('watch.monitor', 'none')], 'watch-monitor-none'],
    ['home without a word on the monitor', home('2026-03-04'), 'watch-monitor-open'],
    ['a recorder without a name', [...NEW_LEFT, said('watch.monitor', 'ambulatory')], 'watch-recorder-missing'],
    ['a result without a monitor', [...NEW_LEFT, said('watch.monitorResult', 'no block')], 'watch-result-without-monitor'],
  ] as const)('names %s', (_name, events, code) => {
    expect(codes(watch(events, '2026-03-05T08:00:00Z').reasons)).toContain(code);
  });
  test('a clock that is none says so and keeps nobody off the list', () => {
    expect(watch(home('2026-03-04'), 'now').lateBlock).toMatchObject({ state: 'CANNOT SAY', isOnClinicList: true });
  });
});
