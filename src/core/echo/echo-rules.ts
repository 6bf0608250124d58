import type { Rule, RuleSet } from '../device/device-types.ts';

/** Limits of echo, with the unit each must have. Leak rules (leak-...) are of the verdict's own grammar. */
export const ECHO_RULE_UNITS = {
  'echo-outflow-velocity-counts': 'm/s',
  'echo-low-flow': 'mL/m2',
  'echo-obese': 'kg/m2',
  'echo-mismatch-moderate': 'cm2/m2', 'echo-mismatch-severe': 'cm2/m2', 'echo-mismatch-moderate-obese': 'cm2/m2', 'echo-mismatch-severe-obese': 'cm2/m2',
  'echo-reversal-brief-at-most': '{grade}', 'echo-reversal-intermediate-at-least': '{grade}', 'echo-reversal-intermediate-at-most': '{grade}', 'echo-reversal-holodiastolic-at-least': '{grade}',
  'echo-orifice-five-mild': 'cm2', 'echo-orifice-five-middle': 'cm2', 'echo-orifice-five-severe': 'cm2',
  'echo-volume-five-mild': 'mL', 'echo-volume-five-middle': 'mL', 'echo-volume-five-severe': 'mL',
  'echo-index-severe': '1', 'echo-energy-loss-severe': 'cm2/m2',
  'echo-stenosis-mild-velocity': 'm/s', 'echo-stenosis-moderate-velocity': 'm/s', 'echo-stenosis-moderate-gradient': 'mm[Hg]',
  'echo-stenosis-severe-velocity': 'm/s', 'echo-stenosis-severe-gradient': 'mm[Hg]', 'echo-stenosis-severe-area': 'cm2',
  'echo-stenosis-very-velocity': 'm/s', 'echo-stenosis-very-gradient': 'mm[Hg]', 'echo-ejection-reduced': '%',
  'echo-decline-gradient-rise-2': 'mm[Hg]', 'echo-decline-gradient-2': 'mm[Hg]', 'echo-decline-area-fall-2': 'cm2', 'echo-decline-area-share-2': '%', 'echo-decline-index-fall-2': '1', 'echo-decline-index-share-2': '%', 'echo-decline-leak-steps-2': '{grade}', 'echo-decline-leak-2': '{grade}',
  'echo-decline-gradient-rise-3': 'mm[Hg]', 'echo-decline-gradient-3': 'mm[Hg]', 'echo-decline-area-fall-3': 'cm2', 'echo-decline-area-share-3': '%', 'echo-decline-index-fall-3': '1', 'echo-decline-index-share-3': '%', 'echo-decline-leak-steps-3': '{grade}', 'echo-decline-leak-3': '{grade}',
  'echo-aortic-leak-jet-width': '%', 'echo-aortic-leak-contracta': 'cm', 'echo-aortic-leak-volume': 'mL', 'echo-aortic-leak-fraction': '%', 'echo-aortic-leak-orifice': 'cm2',
  'echo-mitral-leak-volume': 'mL', 'echo-mitral-leak-fraction': '%', 'echo-mitral-leak-orifice': 'cm2',
  'echo-intended-gradient': 'mm[Hg]', 'echo-intended-velocity': 'm/s', 'echo-intended-leak': '{grade}', 'echo-intended-index': '1', 'echo-intended-gradient-3': 'mm[Hg]', 'echo-intended-velocity-3': 'm/s', 'echo-intended-leak-3': '{grade}',
} as const satisfies Readonly<Record<string, string>>;
export type EchoRuleCode = keyof typeof ECHO_RULE_UNITS;

/** The rule of this code; null when it is absent, in another unit or no number: nothing is said against it, never "normal". */
export function findEchoRule(rules: RuleSet | null, code: EchoRuleCode): Rule | null {
  return rules?.rules.find((r) => r.code === code && r.unit === ECHO_RULE_UNITS[code] && Number.isFinite(r.value)) ?? null;
}

const VARC1 = 'Leon MB et al., Eur Heart J 2011;32:205-17, Table 9';
const VARC2 = 'Kappetein AP et al., VARC-2, Eur J Cardiothorac Surg 2012;42:S45';
const MISMATCH = 'Fazmin IT, Ali JM, review of prosthesis-patient mismatch 2023, stating VARC-3';
const GUIDE = 'Otto CM et al., 2020 ACC/AHA guideline, Table 13, via two secondary reproductions';
const LEAK_GUIDE = 'Otto CM et al., 2020 ACC/AHA guideline, and grading reproduced in Heart';
const HEART = 'Grading of aortic regurgitation reproduced in Heart, and a second table of the same bands';
const DECLINE = 'VARC-3 stages: Front Cardiovasc Med 2024;11:1334871, Table 1, and a second transcript';
const MEMORY = 'from memory';

const rule = (code: EchoRuleCode, value: number, strict: boolean, status: Rule['status'], source: string, definition: string, edition = '1'): Rule => ({
  code, value, unit: ECHO_RULE_UNITS[code], strict, definition, edition, source, status,
});
const leak = (code: string, value: number, unit: string, strict: boolean, definition: string): Rule => ({
  code, value, unit, strict, definition, edition: 'VARC-3', source: `${HEART}; its place on the five classes ${MEMORY} (checks EC-18)`, status: 'M',
});

const WORDS: readonly Rule[] = [
  rule('echo-outflow-velocity-counts', 1.5, true, 'M', `${MEMORY} (checks EC-02)`, 'Outflow velocity above this is taken off: 4(V2^2 - V1^2)'),
  rule('echo-low-flow', 35, true, 'C', `${GUIDE}, and VARC-2 (checks EC-07)`, 'Stroke volume per body surface below 35 mL/m2: low flow; 35.0 is not low (some texts write 35 and less)', '2020'),
  rule('echo-index-severe', 0.25, true, 'C', `${GUIDE}, and VARC-2 (checks EC-06)`, 'Dimensionless index below 0.25; VARC-2 takes 0.20 where the outflow tract is wider than 2.5 cm', '2020'),
  rule('echo-energy-loss-severe', 0.6, true, 'V', 'British Society of Echocardiography guideline 2021 (checks EC-08)', 'Energy loss index below 0.6 cm2/m2', '2021'),
  rule('echo-obese', 30, false, 'M', `${MISMATCH} (checks EC-10)`, 'Body mass index from which the obese limits of mismatch hold', 'VARC-3'),
  rule('echo-mismatch-moderate', 0.85, false, 'C', `${MISMATCH}; the same bounds in VARC-2 (checks EC-10)`, 'Effective orifice area per body surface of 0.85 and less: moderate mismatch', 'VARC-3'),
  rule('echo-mismatch-severe', 0.65, false, 'C', `${MISMATCH}; the same bounds in VARC-2 (checks EC-10)`, 'Effective orifice area per body surface of 0.65 and less: severe mismatch', 'VARC-3'),
  rule('echo-mismatch-moderate-obese', 0.7, false, 'M', `${MISMATCH} (checks EC-10)`, 'In the obese 0.70 and less: moderate mismatch; one secondary text', 'VARC-3'),
  rule('echo-mismatch-severe-obese', 0.55, false, 'M', `${MISMATCH} (checks EC-10)`, 'In the obese 0.55 and less: severe mismatch; one secondary text', 'VARC-3'),
  rule('echo-reversal-brief-at-most', 1, false, 'V', `${VARC2} (checks EC-14)`, 'Flow reversal in the descending aorta absent or brief: at most mild', 'VARC-2'),
  rule('echo-reversal-intermediate-at-least', 2, false, 'V', `${VARC2} (checks EC-14)`, 'Flow reversal intermediate: at least moderate', 'VARC-2'),
  rule('echo-reversal-intermediate-at-most', 3, false, 'V', `${VARC2} (checks EC-14)`, 'Flow reversal intermediate: less than severe', 'VARC-2'),
  rule('echo-reversal-holodiastolic-at-least', 4, false, 'V', `${VARC2} (checks EC-14)`, 'Flow reversal through all of diastole: severe', 'VARC-2'),
];
/** The bands of EC-18 are read; their names on the scale of five are from memory. */
const FIVE: readonly Rule[] = [
  rule('echo-orifice-five-mild', 0.1, true, 'C', `${HEART} (checks EC-18)`, 'Regurgitant orifice below 0.10 cm2: mild', 'VARC-3'),
  rule('echo-orifice-five-middle', 0.2, true, 'M', `${HEART}; its names ${MEMORY} (checks EC-18)`, 'Regurgitant orifice below 0.20 cm2: mild to moderate, from there on moderate to severe', 'VARC-3'),
  rule('echo-orifice-five-severe', 0.3, false, 'C', `${HEART} (checks EC-18)`, 'Regurgitant orifice of 0.30 cm2 and more: severe', 'VARC-3'),
  rule('echo-volume-five-mild', 30, true, 'C', `${HEART} (checks EC-18)`, 'Regurgitant volume below 30 mL: mild', 'VARC-3'),
  rule('echo-volume-five-middle', 45, true, 'M', `${HEART}; its names ${MEMORY} (checks EC-18)`, 'Regurgitant volume below 45 mL: mild to moderate, from there on moderate to severe', 'VARC-3'),
  rule('echo-volume-five-severe', 60, false, 'C', `${HEART} (checks EC-18)`, 'Regurgitant volume of 60 mL and more: severe', 'VARC-3'),
  leak('leak-regurgitant-orifice-below-at-most-2', 0.2, 'cm2', true, 'Effective regurgitant orifice below 0.20 cm2, the lower half of the middle band: at most moderate'),
  leak('leak-regurgitant-orifice-above-at-least-3', 0.2, 'cm2', false, 'Effective regurgitant orifice of 0.20 cm2 and more, the upper half of the middle band: more than moderate'),
  leak('leak-regurgitant-volume-below-at-most-2', 45, 'mL', true, 'Regurgitant volume below 45 mL, the lower half of the middle band: at most moderate'),
  leak('leak-regurgitant-volume-above-at-least-3', 45, 'mL', false, 'Regurgitant volume of 45 mL and more, the upper half of the middle band: more than moderate'),
];
const STENOSIS: readonly Rule[] = [
  rule('echo-stenosis-mild-velocity', 2, false, 'C', `${GUIDE} (checks EC-28)`, 'Peak velocity of 2 m/s and more: stenosis, mild', '2020'),
  rule('echo-stenosis-moderate-velocity', 3, false, 'C', `${GUIDE} (checks EC-28)`, 'Peak velocity of 3 m/s and more: moderate; printed as 2.0-2.9 and 3.0-3.9', '2020'),
  rule('echo-stenosis-moderate-gradient', 20, false, 'C', `${GUIDE} (checks EC-28)`, 'Mean gradient of 20 mmHg and more: moderate', '2020'),
  rule('echo-stenosis-severe-velocity', 4, false, 'C', `${GUIDE} (checks EC-26)`, 'Peak velocity of 4 m/s and more: severe', '2020'),
  rule('echo-stenosis-severe-gradient', 40, false, 'C', `${GUIDE} (checks EC-26)`, 'Mean gradient of 40 mmHg and more: severe', '2020'),
  rule('echo-stenosis-severe-area', 1, false, 'C', `${GUIDE} (checks EC-26, EC-29)`, 'Valve area of 1.0 cm2 and less; European text below 1.0 by edition', '2020'),
  rule('echo-stenosis-very-velocity', 5, false, 'C', `${GUIDE} (checks EC-27)`, 'Peak velocity of 5 m/s and more: very severe', '2020'),
  rule('echo-stenosis-very-gradient', 60, false, 'C', `${GUIDE} (checks EC-27)`, 'Mean gradient of 60 mmHg and more: very severe', '2020'),
  rule('echo-ejection-reduced', 50, true, 'C', `${GUIDE} (checks EC-29)`, 'Ejection fraction below 50 %: reduced', '2020'),
];
const decline = (stage: 2 | 3, values: readonly number[]): readonly Rule[] => {
  const [rise, end, area, areaShare, index, indexShare, steps, grade] = values as [number, number, number, number, number, number, number, number];
  const one = (part: string, value: number, definition: string): Rule => rule(`echo-decline-${part}-${stage}` as EchoRuleCode, value, false, 'C', `${DECLINE} (checks EC-21 to EC-24)`, definition, 'VARC-3');
  return [
    one('gradient-rise', rise, `Mean gradient rises by ${rise} mmHg and more`), one('gradient', end, `and ends at ${end} mmHg and more`),
    one('area-fall', area, `Effective orifice area falls by ${area} cm2 and more`), one('area-share', areaShare, `or by ${areaShare} % and more`),
    one('index-fall', index, `Dimensionless index falls by ${index} and more`), one('index-share', indexShare, `or by ${indexShare} % and more`),
    one('leak-steps', steps, `Leak through the leaflets worse by ${steps} of the three classes and more`), one('leak', grade, `and ends at this grade and more`),
  ];
};
const STAGES: readonly Rule[] = [
  ...decline(2, [10, 20, 0.3, 25, 0.1, 20, 1, 2]),
  ...decline(3, [20, 30, 0.6, 50, 0.2, 40, 2, 4]),
  rule('echo-aortic-leak-jet-width', 65, false, 'C', `${LEAK_GUIDE}; ${VARC1} (checks EC-30)`, 'Central jet of 65 % and more of the outflow tract', '2020'),
  rule('echo-aortic-leak-contracta', 0.6, true, 'C', `${LEAK_GUIDE} (checks EC-30)`, 'Vena contracta above 0.6 cm', '2020'),
  rule('echo-aortic-leak-volume', 60, false, 'C', `${LEAK_GUIDE} (checks EC-30)`, 'Regurgitant volume of 60 mL and more', '2020'),
  rule('echo-aortic-leak-fraction', 50, false, 'C', `${LEAK_GUIDE} (checks EC-30)`, 'Regurgitant fraction of 50 % and more', '2020'),
  rule('echo-aortic-leak-orifice', 0.3, false, 'C', `${LEAK_GUIDE} (checks EC-30)`, 'Regurgitant orifice of 0.30 cm2 and more (one reproduction prints 30 cm2: a misprint)', '2020'),
  rule('echo-mitral-leak-volume', 60, false, 'M', `${MEMORY} (checks EC-32)`, 'Mitral regurgitant volume of 60 mL and more; primary regurgitation only'),
  rule('echo-mitral-leak-fraction', 50, false, 'M', `${MEMORY} (checks EC-32)`, 'Mitral regurgitant fraction of 50 % and more; primary regurgitation only'),
  rule('echo-mitral-leak-orifice', 0.4, false, 'M', `${MEMORY} (checks EC-32)`, 'Mitral regurgitant orifice of 0.40 cm2 and more; primary regurgitation only'),
  rule('echo-intended-gradient', 20, true, 'V', `${VARC2} (checks EC-31)`, 'Intended performance: mean gradient below 20 mmHg, or', 'VARC-2'),
  rule('echo-intended-velocity', 3, true, 'V', `${VARC2} (checks EC-31)`, 'peak velocity below 3 m/s', 'VARC-2'),
  rule('echo-intended-leak', 2, true, 'V', `${VARC2} (checks EC-31)`, 'and a leak less than moderate, and no mismatch', 'VARC-2'),
  rule('echo-intended-gradient-3', 20, true, 'M', `${MEMORY} (checks EC-31)`, 'Intended performance: mean gradient below 20 mmHg, and', 'VARC-3'),
  rule('echo-intended-velocity-3', 3, true, 'M', `${MEMORY} (checks EC-31)`, 'peak velocity below 3 m/s, and', 'VARC-3'),
  rule('echo-intended-index', 0.25, false, 'M', `${MEMORY} (checks EC-31)`, 'dimensionless index of 0.25 and more, and', 'VARC-3'),
  rule('echo-intended-leak-3', 2, true, 'M', `${MEMORY} (checks EC-31)`, 'a leak less than moderate', 'VARC-3'),
];

/** Published values as a PROPOSAL: none acts until a hospital has put it into its own signed rules. */
export const ECHO_PROPOSALS: readonly Rule[] = [...WORDS, ...FIVE, ...STENOSIS, ...STAGES];

/** The older limits of mismatch in the obese (checks EC-11): another edition of the same codes, for comparison of old reports. */
export const MISMATCH_VARC2: readonly Rule[] = [
  rule('echo-obese', 30, false, 'C', `${VARC2} (checks EC-11)`, 'Body mass index from which the obese limits hold', 'VARC-2'),
  rule('echo-mismatch-moderate', 0.85, false, 'C', `${VARC2} (checks EC-11)`, 'Area per body surface of 0.85 and less: moderate', 'VARC-2'),
  rule('echo-mismatch-severe', 0.65, true, 'C', `${VARC2} (checks EC-11)`, 'Area per body surface below 0.65: severe', 'VARC-2'),
  rule('echo-mismatch-moderate-obese', 0.7, false, 'C', `${VARC2} (checks EC-11)`, 'In the obese 0.70 and less: moderate (the table reproduced prints 0.90, a misprint)', 'VARC-2'),
  rule('echo-mismatch-severe-obese', 0.6, true, 'C', `${VARC2} (checks EC-11)`, 'In the obese below 0.60: severe', 'VARC-2'),
];
