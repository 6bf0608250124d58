import type { Condition, EcgDue, RhythmRule, RhythmRuleKind, RhythmRules, SourceStatus } from './rhythm-types.ts';

const PATHWAY_2020 = 'Lilly SM et al., 2020 expert consensus decision pathway, J Am Coll Cardiol 2020;76:2391-411 (key points; checks RH-02, RH-03)';
const PATHWAY_SECONDARY = 'one secondary summary of the 2020 expert consensus decision pathway (checks RH-06)';
const PANEL_2019 = 'Rodes-Cabau J et al., expert panel, J Am Coll Cardiol 2019;74:1086-106 (key points; checks RH-04)';
const ESC_2021 = 'criteria of the 2021 ESC pacing guideline as quoted by a cohort of 1033 (abstract; checks RH-07, RH-08)';
const LATE_BLOCK = 'late advanced block in 10 % of monitored outpatients, median day 6, J Am Coll Cardiol 2019;73:2538-47; the day of the list is common practice';
const MEMORY = 'common practice, no source';

const rule = (code: string, kind: RhythmRuleKind, when: Condition, says: string, edition: string, source: string, status: SourceStatus, more: Pick<RhythmRule, 'moments' | 'ecgAfterH' | 'days' | 'wire'> = {}): RhythmRule => (
  { code, kind, when, says, ...more, edition, source, status });
const newLeft: Condition = { of: 'new-bundle-block', in: ['left'] };
const priorRight: Condition = { of: 'bundle-block', at: 'baseline', in: ['right'] };

const RULES: readonly RhythmRule[] = [
  rule('first-degree-block', 'finding', { of: 'pr', op: '>', value: 200, unit: 'ms' }, 'First-degree AV block', '-', 'common definition, no source (checks RH-01)', 'M'),
  rule('wide-qrs', 'finding', { of: 'qrs', op: '>=', value: 120, unit: 'ms' }, 'QRS as wide as in bundle branch block; a person says which block it is', '-', 'common definition, no source (checks RH-01)', 'M'),
  rule('panel-change', 'finding', { any: [{ of: 'pr-rise', op: '>=', value: 20, unit: 'ms' }, { of: 'qrs-rise', op: '>=', value: 20, unit: 'ms' }] }, 'ECG change by the definition of the 2019 panel', '2019', 'Rodes-Cabau J et al., expert panel, J Am Coll Cardiol 2019;74:1086-106, numbers not checked (checks RH-05)', 'M', { moments: ['h24'] }),
  rule('panel-long', 'finding', { any: [{ of: 'pr', op: '>=', value: 240, unit: 'ms' }, { of: 'qrs', op: '>=', value: 150, unit: 'ms' }] }, 'PR or QRS as long as the 2019 panel names for closer watch', '2019', 'Rodes-Cabau J et al., expert panel, J Am Coll Cardiol 2019;74:1086-106, numbers not checked (checks RH-05)', 'M', { moments: ['h24'] }),

  rule('new-left-bundle-block', 'change', newLeft, 'New left bundle branch block', '2020', PATHWAY_SECONDARY, 'M'),
  rule('pr-longer', 'change', { of: 'pr-rise-percent', op: '>=', value: 10, unit: '%' }, 'PR longer by a tenth', '2020', PATHWAY_SECONDARY, 'M'),
  rule('qrs-longer', 'change', { of: 'qrs-rise-percent', op: '>=', value: 10, unit: '%' }, 'QRS longer by a tenth', '2020', PATHWAY_SECONDARY, 'M'),
  rule('new-advanced-block', 'change', { of: 'new-av-block', in: ['mobitz-2', 'two-to-one', 'high-grade', 'complete'] }, 'New advanced AV block', '-', MEMORY, 'M'),

  rule('wire-out', 'step', { all: [{ of: 'word', in: ['unchanged'] }, { not: priorRight }] }, 'Temporary pacemaker and venous sheath out before leaving the room', '2020', PATHWAY_2020, 'V', { moments: ['post'], wire: 'out' }),
  rule('panel-group-1', 'step', { all: [{ of: 'word', in: ['unchanged'] }, { not: priorRight }] }, 'Panel group 1: remove temporary pacing at the end of the procedure', '2019', PANEL_2019, 'V', { moments: ['post'], wire: 'out' }),
  rule('prior-right-block', 'step', priorRight, 'Right bundle branch block from before is handled apart: keep temporary pacing and the monitor as the local protocol says', '2020', `${PATHWAY_2020}; what is done is common practice`, 'M', { wire: 'keep' }),
  rule('keep-wire', 'step', { of: 'word', in: ['new conduction change'] }, 'Keep temporary pacing and the monitor as the local protocol says', '-', MEMORY, 'M', { moments: ['post', 'h24'], wire: 'keep' }),
  rule('ambulatory-ecg', 'step', { of: 'word', in: ['new conduction change'] }, 'Ambulatory ECG for at least 14 days; its alarms must reach a responder within 1 hour', '2020', PATHWAY_SECONDARY, 'M', { days: { count: 14, from: 'discharge' } }),
  rule('daily-ecg', 'step', { of: 'word', in: ['new conduction change'] }, 'ECG each day until PR and QRS no longer grow', '-', MEMORY, 'M', { moments: ['h48'], ecgAfterH: 24 }),
  rule('electrophysiology-study', 'step', {
    any: [
      { all: [newLeft, { any: [{ of: 'qrs', op: '>=', value: 150, unit: 'ms' }, { of: 'pr', op: '>=', value: 240, unit: 'ms' }] }] },
      { all: [{ of: 'bundle-block', at: 'baseline', in: ['left'] }, { any: [{ of: 'qrs-rise', op: '>=', value: 20, unit: 'ms' }, { of: 'pr-rise', op: '>=', value: 20, unit: 'ms' }] }] },
    ],
  }, 'An electrophysiology study should be considered (class IIa)', '2021', ESC_2021, 'V'),
  rule('long-hv', 'step', { all: [newLeft, { of: 'hv', op: '>=', value: 70, unit: 'ms' }] }, 'HV as long as the guideline names for permanent pacing after new left bundle branch block', '2021', ESC_2021, 'V'),
  rule('advanced-block', 'step', { of: 'av-block', in: ['mobitz-2', 'two-to-one', 'high-grade', 'complete'] }, 'Advanced AV block: keep temporary pacing, call the electrophysiologist', '-', MEMORY, 'M', { wire: 'keep' }),

  rule('late-block', 'watch', { of: 'new-bundle-block', in: ['left', 'right', 'other'] }, 'Went home with a new bundle branch block: read the monitor, or call the patient in', '-', LATE_BLOCK, 'M', { days: { count: 7, from: 'discharge' } }),

  rule('before-right-block', 'predictor', priorRight, 'Right bundle branch block before', '2020', PATHWAY_2020, 'V'),
  rule('before-first-degree', 'predictor', { any: [{ of: 'pr', at: 'baseline', op: '>', value: 200, unit: 'ms' }, { of: 'av-block', at: 'baseline', in: ['first-degree'] }] }, 'First-degree AV block before', '2020', `${PATHWAY_2020}; 200 ms is a common definition`, 'M'),
  rule('expanding-kind', 'predictor', { of: 'device-kind', in: ['self-expanding', 'mechanically-expanding'] }, 'Self- or mechanically expanding valve', '2020', PATHWAY_2020, 'V'),
  rule('larger-than-outflow', 'predictor', { of: 'prosthesis-over-outflow', op: '>', value: 1, unit: '1' }, 'Prosthesis larger than the outflow tract', '2020', PATHWAY_2020, 'V'),
  rule('low-implant', 'predictor', { of: 'low-implant', in: ['yes'] }, 'Low implant', '2020', PATHWAY_2020, 'V'),
  rule('dilated', 'predictor', { of: 'dilated', in: ['yes'] }, 'Dilated before or after', '2020', PATHWAY_2020, 'V'),
  rule('heavy-calcium', 'predictor', { of: 'heavy-calcium', in: ['yes'] }, 'Heavy calcium below the cusps', '2020', PATHWAY_2020, 'V'),
  rule('short-septum', 'predictor', { of: 'short-septum', in: ['yes'] }, 'Short membranous septum', '2020', PATHWAY_2020, 'V'),
];

const due = (moment: EcgDue['moment'], earliestH: number, dueH: number, latestH: number): EcgDue => ({ moment, earliestH, dueH, latestH, edition: '1', source: MEMORY, status: 'M' });

/**
 * The published expert pathway as a proposal: unsigned, so that it does not act (job.md, E9). A hospital copies it, changes
 * what it must and signs it with `trinadir sign`.
 */
export const PROPOSED_RHYTHM_RULES: RhythmRules = {
  format: 'trinadir.rhythm-rules/1', hospital: '', edition: 'proposal 1', signedBy: '', signedAt: '', training: false,
  rules: RULES, schedule: [due('post', 0, 0, 2), due('h24', 18, 24, 30), due('h48', 42, 48, 54)],
};

/** The same, signed as training: it acts on training cases alone. */
export const TRAINING_RHYTHM_RULES: RhythmRules = {
  ...PROPOSED_RHYTHM_RULES, hospital: 'Training', edition: 'training 1', signedBy: 'training set', signedAt: '2026-01-05T08:00:00Z', training: true,
};
