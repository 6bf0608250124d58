import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { makeFact } from '../units/fact.ts';
import { makeEcgEntry, type EcgNumbers } from './check-entries.ts';
import { formatRhythm } from './format-rhythm.ts';
import { judgeRhythm } from './judge-rhythm.ts';
import { NO_CONTEXT, type EcgEntry, type RhythmRules, type RuleOutcome } from './rhythm-types.ts';
import { PROPOSED_RHYTHM_RULES, TRAINING_RHYTHM_RULES } from './training-rhythm-rules.ts';

const STAMP = { by: 'reader', at: '2026-03-02T08:00:00Z' };
const TIMES = { baseline: '2026-03-01T08:00:00Z', post: '2026-03-02T10:30:00Z', h24: '2026-03-03T10:00:00Z', h48: '2026-03-04T10:00:00Z' };
const PLAIN = { rhythm: 'sinus', bundleBlock: 'none', avBlock: 'none' } as const;
function ecg(moment: EcgEntry['moment'], numbers: Partial<EcgNumbers> = {}): EcgEntry {
  const made = makeEcgEntry({ moment, at: TIMES[moment], ...numbers }, STAMP);
  if (!made.ok) throw new Error(made.failure.message);
  return made.value;
}
const local = { edition: '7', source: 'local protocol of the test', status: 'C' } as const;
/** D47: local limits 40/40. */
const LOCAL: RhythmRules = {
  format: 'trinadir.rhythm-rules/1', hospital: 'Test', edition: '7', signedBy: 'a person', signedAt: '2026-01-05T08:00:00Z', training: false,
  rules: [
    { code: 'pr-rise', kind: 'change', when: { of: 'pr-rise', op: '>=', value: 40, unit: 'ms' }, says: 'PR longer', ...local },
    { code: 'qrs-rise', kind: 'change', when: { of: 'qrs-rise', op: '>=', value: 40, unit: 'ms' }, says: 'QRS wider', ...local },
    { code: 'keep-wire', kind: 'step', when: { of: 'word', in: ['new conduction change'] }, says: 'Keep the pacing wire, call the electrophysiologist', ...local },
    { code: 'wire-out', kind: 'step', when: { of: 'word', in: ['unchanged'] }, says: 'Wire out', ...local },
  ],
  schedule: [],
};
const truthOf = (outcomes: readonly RuleOutcome[], code: string): string | undefined => outcomes.find((o) => o.rule.code === code)?.truth;
const codes = (answer: { readonly reasons: readonly { readonly code: string }[] }): string[] => answer.reasons.map((r) => r.code);

describe(`judgeRhythm (seed ${seed})`, () => {
  test('D47 PR 180 to 200 and QRS 90 to 92 under limits of 40 and 40 are unchanged', () => {
    const answer = judgeRhythm([ecg('baseline', { prMs: 180, qrsMs: 90 }), ecg('post', { prMs: 200, qrsMs: 92 })], LOCAL);
    expect(answer.word).toBe('unchanged');
    expect(truthOf(answer.steps, 'wire-out')).toBe('yes');
    expect(truthOf(answer.steps, 'keep-wire')).toBe('no');
  });
  test('D47 QRS 90 to 150 is a new conduction change, the next step quoted with its edition', () => {
    const answer = judgeRhythm([ecg('baseline', { prMs: 180, qrsMs: 90 }), ecg('post', { prMs: 200, qrsMs: 150 })], LOCAL);
    expect(answer.word).toBe('new conduction change');
    const said = formatRhythm(answer);
    expect(said[0]).toBe('After release: new conduction change.');
    expect(said).toContain('Next, by rule keep-wire: "Keep the pacing wire, call the electrophysiologist" Rule keep-wire, edition 7, local protocol of the test, two secondary sources.');
    expect(said).toContain('Why: Rise of QRS 60 ms (90 to 150 ms, from baseline); the rule asks for at least 40 ms. Rule qrs-rise, edition 7, local protocol of the test, two secondary sources.');
    expect(said.at(-1)).toBe('Rule set: Test, edition 7, signed by a person at 2026-01-05T08:00:00Z.');
  });
  test.each([[39, 'unchanged'], [39.999, 'unchanged'], [40, 'new conduction change'], [41, 'new conduction change']] as const)('a rise of %d ms against 40 is %s', (rise, word) => {
    expect(judgeRhythm([ecg('baseline', { prMs: 180, qrsMs: 90 }), ecg('post', { prMs: 180 + rise, qrsMs: 90 })], LOCAL).word).toBe(word);
  });
  test('a missing baseline, a missing ECG after release, or both cannot be said', () => {
    const post = ecg('post', { prMs: 180, qrsMs: 160 });
    for (const [entries, wanted] of [
      [[post], ['ecg-baseline-missing']], [[ecg('baseline', { prMs: 180, qrsMs: 90 })], ['ecg-post-missing']], [[], ['ecg-baseline-missing', 'ecg-post-missing']],
      [[ecg('baseline', { prMs: 180, qrsMs: 90 }), ecg('h24', { prMs: 180, qrsMs: 160 })], ['ecg-post-missing']],
    ] as const) {
      const answer = judgeRhythm(entries, LOCAL);
      expect(answer.word).toBe('CANNOT SAY');
      expect(codes(answer)).toEqual(expect.arrayContaining([...wanted]));
      expect(truthOf(answer.steps, 'wire-out') ?? 'unknown').toBe('unknown');
    }
  });
  test('a missing number cannot be said, unless another rule decides', () => {
    const before = ecg('baseline', { prMs: 180, qrsMs: 90 });
    expect(judgeRhythm([before, ecg('post', { qrsMs: 92 })], LOCAL).word).toBe('CANNOT SAY');
    expect(judgeRhythm([before, ecg('post', { qrsMs: 150 })], LOCAL).word).toBe('new conduction change');
  });
  test('paced beats do not count, before or after', () => {
    const paced = { prMs: 180, qrsMs: 160, rhythm: 'paced-ventricle' } as const;
    const own = { prMs: 180, qrsMs: 90, rhythm: 'sinus' } as const;
    const after = judgeRhythm([ecg('baseline', own), ecg('post', paced)], LOCAL);
    expect(after.word).toBe('CANNOT SAY');
    expect(codes(after)).toContain('ecg-paced');
    const before = judgeRhythm([ecg('baseline', paced), ecg('post', own)], LOCAL);
    expect(before.word).toBe('CANNOT SAY');
    expect(codes(before)).toContain('ecg-baseline-paced');
    // Paced from the atrium: QRS still counts, PR does not.
    expect(judgeRhythm([ecg('baseline', own), ecg('post', { ...paced, rhythm: 'paced-atrium' })], LOCAL).word).toBe('new conduction change');
    expect(judgeRhythm([ecg('baseline', own), ecg('post', { ...own, rhythm: 'paced-atrium' })], LOCAL).word).toBe('CANNOT SAY');
  });
  test('in atrial fibrillation QRS alone is judged and PR is named; against sinus rhythm before it cannot be said', () => {
    const fibrillating = { rhythm: 'atrial-fibrillation', qrsMs: 92 } as const;
    const both = judgeRhythm([ecg('baseline', fibrillating), ecg('post', fibrillating)], LOCAL);
    expect(both.word).toBe('unchanged');
    expect(codes(both)).toContain('ecg-without-pr');
    expect(judgeRhythm([ecg('baseline', { rhythm: 'sinus', prMs: 180, qrsMs: 90 }), ecg('post', fibrillating)], LOCAL).word).toBe('CANNOT SAY');
    const onlyPr = { ...LOCAL, rules: LOCAL.rules.filter((r) => r.code !== 'qrs-rise') };
    expect(codes(judgeRhythm([ecg('baseline', fibrillating), ecg('post', fibrillating)], onlyPr))).toContain('rhythm-change-void');
  });
  test('a band across the limit cannot be said; the same band beside it decides', () => {
    const before = ecg('baseline', { prMs: 180, qrsMs: 90, halfWidth95Ms: 10 });
    const say = (prMs: number): string => judgeRhythm([before, ecg('post', { prMs, qrsMs: 90, halfWidth95Ms: 10 })], LOCAL).word;
    // Rise +- sqrt(10^2 + 10^2) = 14.1 ms.
    expect([say(205), say(207), say(234), say(235)]).toEqual(['unchanged', 'CANNOT SAY', 'CANNOT SAY', 'new conduction change']);
  });
  test('the doubt of the reading before counts in full in a rise in per cent', () => {
    // 200 +- 10 to 235 +- 10.5 is a rise of 17.5 %: from 10.25 on by differences alone, from 9.83 on as a ratio.
    const rules: RhythmRules = { ...LOCAL, rules: [{ ...LOCAL.rules[0]!, code: 'pr-percent', when: { of: 'pr-rise-percent', op: '>=', value: 10, unit: '%' } }] };
    const [was, is] = [ecg('baseline', { ...PLAIN, prMs: 200, qrsMs: 90, halfWidth95Ms: 10 }), ecg('post', { ...PLAIN, prMs: 235, qrsMs: 90, halfWidth95Ms: 10.5 })];
    expect(judgeRhythm([was, is], rules).word).toBe('CANNOT SAY');
    expect(judgeRhythm([was, ecg('post', { ...PLAIN, prMs: 245, qrsMs: 90, halfWidth95Ms: 10 })], rules).word).toBe('new conduction change');
  });
  test('a depth of 6.1 under a septum of 3.6 mm reaches a limit of 2.5 mm', () => {
    const deep: RhythmRules = { ...LOCAL, rules: [{ ...LOCAL.rules[0]!, code: 'deep', kind: 'predictor', when: { of: 'depth-below-septum', op: '>=', value: 2.5, unit: 'mm' } }] };
    const mm = (value: number) => makeFact(value, value, value, 'mm', 'test', [], STAMP);
    const [leg] = judgeRhythm([ecg('baseline'), ecg('post')], deep, { ...NO_CONTEXT, implantDepthMm: mm(6.1), septumLengthMm: mm(3.6) }).predictors[0]!.legs;
    expect(leg).toMatchObject({ truth: 'yes' });
    expect(leg!.text).toContain('2.5 mm');
    expect(leg!.text).not.toContain('2.49');
  });
  test('refused facts are unknown and bring their reason along', () => {
    const before = ecg('baseline', { prMs: 180, qrsMs: 90 });
    const broken = { ...ecg('post', { prMs: 180 }), qrsMs: makeFact(Number.NaN, 0, 0, 'ms', 'test', [], STAMP) };
    const answer = judgeRhythm([before, broken], LOCAL);
    expect(answer.word).toBe('CANNOT SAY');
    expect(answer.reasons.find((r) => r.code === 'rhythm-change-unknown')?.text).toContain('could not be measured');
  });
  test('no rules, unsigned rules and rules without a change say nothing', () => {
    const pair = [ecg('baseline', { prMs: 180, qrsMs: 90 }), ecg('post', { prMs: 180, qrsMs: 160 })];
    expect(codes(judgeRhythm(pair, null))).toContain('rhythm-rules-missing');
    const proposal = judgeRhythm(pair, PROPOSED_RHYTHM_RULES);
    expect(proposal.word).toBe('CANNOT SAY');
    expect(codes(proposal)).toContain('rhythm-rules-unsigned');
    expect([...proposal.changes, ...proposal.steps]).toEqual([]);
    expect(codes(judgeRhythm(pair, { ...LOCAL, rules: LOCAL.rules.slice(2) }))).toContain('rhythm-rules-no-change');
  });
  test('two ECGs of one moment, and times that cannot be, are named', () => {
    const [a, b] = [ecg('baseline', { prMs: 180, qrsMs: 90 }), ecg('post', { prMs: 180, qrsMs: 90 })];
    expect(codes(judgeRhythm([a, b, b], LOCAL))).toContain('ecg-moment-twice');
    expect(judgeRhythm([a, b, b], LOCAL).word).toBe('CANNOT SAY');
    expect(codes(judgeRhythm([{ ...a, at: '2026-03-09T08:00:00Z' }, b], LOCAL))).toContain('ecg-order');
    expect(codes(judgeRhythm([a, b], LOCAL, NO_CONTEXT, { releasedAt: '2026-03-02T12:00:00Z' }))).toContain('ecg-order');
    expect(judgeRhythm([b, a], LOCAL, NO_CONTEXT, { releasedAt: '2026-03-02T10:00:00Z' }).word).toBe('unchanged');
  });
  test('never turns a change into none when an interval grows further', () => {
    const ms = fc.double({ min: 60, max: 300, noNaN: true });
    fc.assert(fc.property(ms, ms, ms, fc.double({ min: 0, max: 90, noNaN: true }), (pr, qrs, postQrs, more) => {
      const say = (grown: number): string => judgeRhythm([ecg('baseline', { prMs: pr, qrsMs: qrs }), ecg('post', { prMs: pr, qrsMs: grown })], LOCAL).word;
      if (say(postQrs) === 'new conduction change') expect(say(postQrs + more)).toBe('new conduction change');
    }), replay);
  });
  test('what is taken away never turns CANNOT SAY into an answer, nor one answer into the other', () => {
    const value = fc.option(fc.integer({ min: 80, max: 300 }), { nil: undefined });
    const block = fc.constantFrom('none', 'left', 'right', undefined);
    fc.assert(fc.property(fc.array(value, { minLength: 4, maxLength: 4 }), block, block, fc.integer({ min: 0, max: 5 }), ([p0, q0, p1, q1], b0, b1, gone) => {
      const keep = <T>(k: number, v: T): T | undefined => (k === gone ? undefined : v);
      const judge = (isWhole: boolean): string => judgeRhythm([
        ecg('baseline', { rhythm: 'sinus', avBlock: 'none', prMs: isWhole ? p0 : keep(0, p0), qrsMs: isWhole ? q0 : keep(1, q0), bundleBlock: isWhole ? b0 : keep(4, b0) }),
        ecg('post', { rhythm: 'sinus', avBlock: 'none', prMs: isWhole ? p1 : keep(2, p1), qrsMs: isWhole ? q1 : keep(3, q1), bundleBlock: isWhole ? b1 : keep(5, b1) }),
      ], TRAINING_RHYTHM_RULES).word;
      expect([judge(true), 'CANNOT SAY']).toContain(judge(false));
    }), replay);
  });
});

describe('the proposed pathway', () => {
  const answer = (before: Partial<EcgNumbers>, after: Partial<EcgNumbers>, moment: 'post' | 'h24' = 'post') => judgeRhythm([
    ecg('baseline', { ...PLAIN, prMs: 180, qrsMs: 90, ...before }), ecg('post', { ...PLAIN, prMs: 180, qrsMs: 90, ...after }), ...(moment === 'h24' ? [ecg('h24', { ...PLAIN, prMs: 180, qrsMs: 90, ...after })] : []),
  ], TRAINING_RHYTHM_RULES);

  test('RH-01 PR above 200 and QRS from 120 on; status M is shown as unverified; paced beats excluded', () => {
    for (const [prMs, wanted] of [[199.999, 'no'], [200, 'no'], [200.001, 'yes'], [201, 'yes']] as const) expect(truthOf(answer({}, { prMs }).findings, 'first-degree-block')).toBe(wanted);
    for (const [qrsMs, wanted] of [[119, 'no'], [119.999, 'no'], [120, 'yes'], [121, 'yes']] as const) expect(truthOf(answer({}, { qrsMs }).findings, 'wide-qrs')).toBe(wanted);
    const found = answer({}, { prMs: 201 }).findings.find((f) => f.rule.code === 'first-degree-block');
    expect(found?.isUnverified).toBe(true);
    expect(formatRhythm(answer({}, { prMs: 201 })).join('\n')).toMatch(/"First-degree AV block" Rule first-degree-block, common definition, no source, unverified\./);
    expect(truthOf(answer({}, { prMs: 201, qrsMs: 160, rhythm: 'paced-ventricle' }).findings, 'wide-qrs')).toBe('unknown');
  });
  test('in words no edition is told where there is none, nor a reference to the list of checks', () => {
    const said = formatRhythm(judgeRhythm([ecg('baseline', { ...PLAIN, prMs: 180, qrsMs: 90 }), ecg('post', { ...PLAIN, prMs: 180, qrsMs: 150, bundleBlock: 'left' })], TRAINING_RHYTHM_RULES)).join(' ');
    expect(said).not.toMatch(/edition -|checks RH/);
    expect(said).toContain('Rule keep-wire, common practice, no source, unverified.');
    expect(said).toContain('76:2391-411 (key points), read in its source.');
  });
  test('RH-02 eight predictors stand in a list, none known without facts, and no sum', () => {
    const bare = judgeRhythm([], TRAINING_RHYTHM_RULES);
    expect(bare.predictors.map((p) => p.truth)).toEqual(Array(8).fill('unknown'));
    const ratio = makeFact(1.12, 1.08, 1.16, '1', 'test', [], STAMP);
    const all = judgeRhythm([ecg('baseline', { ...PLAIN, bundleBlock: 'right', prMs: 220, qrsMs: 140 })], TRAINING_RHYTHM_RULES, {
      ...NO_CONTEXT, deviceKind: 'self-expanding', dilated: 'yes', lowImplant: 'yes', heavyCalcium: 'yes', shortSeptum: 'yes', prosthesisOverOutflow: ratio,
    });
    expect(all.predictors.map((p) => p.truth)).toEqual(Array(8).fill('yes'));
    expect(formatRhythm(all).join('\n')).not.toMatch(/\d+ of 8|\d ?%/);
    const across = judgeRhythm([], TRAINING_RHYTHM_RULES, { ...NO_CONTEXT, prosthesisOverOutflow: makeFact(1.02, 0.97, 1.07, '1', 'test', [], STAMP) });
    expect(truthOf(across.predictors, 'larger-than-outflow')).toBe('unknown');
  });
  test('RH-03 RH-04 no change and no right bundle branch block before: wire out, group 1; with the block neither', () => {
    const calm = answer({}, {});
    expect(calm.word).toBe('unchanged');
    expect([truthOf(calm.steps, 'wire-out'), truthOf(calm.steps, 'panel-group-1'), truthOf(calm.steps, 'prior-right-block')]).toEqual(['yes', 'yes', 'no']);
    expect(calm.steps.find((s) => s.rule.code === 'wire-out')?.isUnverified).toBe(false);
    const prior = answer({ bundleBlock: 'right', qrsMs: 140 }, { bundleBlock: 'right', qrsMs: 140 });
    expect(prior.word).toBe('unchanged');
    expect([truthOf(prior.steps, 'wire-out'), truthOf(prior.steps, 'panel-group-1'), truthOf(prior.steps, 'prior-right-block')]).toEqual(['no', 'no', 'yes']);
    const untold = judgeRhythm([ecg('baseline', { prMs: 180, qrsMs: 90, avBlock: 'none' }), ecg('post', { ...PLAIN, prMs: 180, qrsMs: 90 })], TRAINING_RHYTHM_RULES);
    expect(untold.word).toBe('unchanged');
    expect(truthOf(untold.steps, 'wire-out')).toBe('unknown');
  });
  test('RH-05 a rise from 20 ms on, PR from 240 and QRS from 150 on, on the 24-hour ECG alone', () => {
    for (const [rise, wanted] of [[19, 'no'], [20, 'yes'], [21, 'yes']] as const) {
      expect(truthOf(answer({ qrsMs: 90 }, { qrsMs: 90 + rise }, 'h24').findings, 'panel-change')).toBe(wanted);
      expect(truthOf(answer({ prMs: 180 }, { prMs: 180 + rise }, 'h24').findings, 'panel-change')).toBe(wanted);
    }
    for (const [prMs, qrsMs, wanted] of [[239, 149, 'no'], [240, 149, 'yes'], [239, 150, 'yes'], [241, 90, 'yes']] as const) expect(truthOf(answer({}, { prMs, qrsMs }, 'h24').findings, 'panel-long')).toBe(wanted);
    expect(answer({}, { qrsMs: 150 }).findings.some((f) => f.rule.code === 'panel-change')).toBe(false);
  });
  test('RH-06 PR 200 to 220 is 10 % and a change; new left bundle branch block is one; ambulatory ECG for 14 days', () => {
    const grown = answer({ prMs: 200 }, { prMs: 220 });
    expect(grown.word).toBe('new conduction change');
    expect(grown.changes.find((c) => c.rule.code === 'pr-longer')?.legs[0]?.text).toContain('Rise of PR 10 %');
    expect(truthOf(grown.steps, 'ambulatory-ecg')).toBe('yes');
    expect(answer({ prMs: 200 }, { prMs: 219.9 }).word).toBe('unchanged');
    expect(answer({}, { bundleBlock: 'left' }).word).toBe('new conduction change');
    expect(answer({ bundleBlock: 'left' }, { bundleBlock: 'left' }).word).toBe('unchanged');
    expect(answer({}, { avBlock: 'complete', rhythm: 'paced-ventricle', prMs: undefined }).word).toBe('new conduction change');
  });
  test('RH-07 study from QRS 150 or PR 240 on with a new left block, or a rise of 20 with one from before', () => {
    for (const [prMs, qrsMs, wanted] of [[239, 149, 'no'], [239, 150, 'yes'], [240, 149, 'yes'], [241, 151, 'yes']] as const) {
      expect(truthOf(answer({}, { prMs, qrsMs, bundleBlock: 'left' }).steps, 'electrophysiology-study')).toBe(wanted);
      expect(truthOf(answer({}, { prMs, qrsMs }).steps, 'electrophysiology-study')).toBe('no');
    }
    for (const [rise, wanted] of [[19, 'no'], [20, 'yes'], [21, 'yes']] as const) {
      const left = { bundleBlock: 'left', qrsMs: 130 } as const;
      expect(truthOf(answer(left, { bundleBlock: 'left', qrsMs: 130 + rise }).steps, 'electrophysiology-study')).toBe(wanted);
    }
  });
  test('RH-08 HV from 70 ms on after a new left block; not measured is not known', () => {
    for (const [hvMs, wanted] of [[69, 'no'], [70, 'yes'], [71, 'yes'], [undefined, 'unknown']] as const) {
      expect(truthOf(answer({}, { bundleBlock: 'left', qrsMs: 140, hvMs }).steps, 'long-hv')).toBe(wanted);
    }
    expect(truthOf(answer({}, { hvMs: 80 }).steps, 'long-hv')).toBe('no');
  });
});
