import type { Rule } from '../device/device-types.ts';

/**
 * Published values as a PROPOSAL: none acts until a hospital has put it into its own signed rules. Status V: value and class read in
 * the source; D: value read, its bound on the 0 to 4 scale derived as the definition says; M: memory or common practice, "unverified".
 *
 * Left out on purpose: the time-integrated index (checks HD-07, definition from memory).
 */
const SINNING = 'Sinning J-M et al., J Am Coll Cardiol 2012, abstract (checks HD-01, HD-02)';
const HOLLRIEGEL = 'Hollriegel R et al., JACC Cardiovasc Interv 2016, two published summaries (checks HD-06)';
const TATEISHI = 'Tateishi H et al., Circ J 2018, abstract: medians and quartiles of the ratio by echo grade';
const VARC1 = 'Leon MB et al., Eur Heart J 2011;32:205-17, Table 9 (checks EC-15, EC-16)';
const VARC2 = 'Kappetein AP et al., VARC-2, Eur J Cardiothorac Surg 2012;42:S45 (checks EC-12, EC-13)';
const HEART = 'Grading of aortic regurgitation reproduced in Heart (checks EC-17)';
const MILLER = 'Miller RD, Anesthesia, and Deranged Physiology, arterial line (checks HD-20)';
const COMMON = 'common practice, no source';

const rule = (code: string, value: number, unit: string, strict: boolean, status: Rule['status'], source: string, definition: string, edition = '1'): Rule => ({ code, value, unit, strict, definition, edition, source, status });

/**
 * The sources have three or four classes: their "moderate" is [2, 3] on the scale of five, so that a number which does not leave it
 * is bounded by 3, not by 2. Pressures: SD from the same abstract; a class is left when the number lies more than one SD from its mean.
 */
const PRESSURE: readonly Rule[] = [
  rule('leak-ar-index-below-at-least-1', 25, '1', true, 'D', `${SINNING}; Vasa-Nicotera M et al., JACC Cardiovasc Interv 2012;5:858-65`, 'AR index below 25 marks patients at risk, also among those with none or mild leak: at least mild'),
  rule('leak-ar-index-below-at-least-2', 19.5, '1', true, 'D', SINNING, 'AR index more than one SD below the mean of mild leak (28.0 - 8.5): at least moderate'),
  rule('leak-ar-index-below-at-least-3', 12, '1', true, 'D', SINNING, 'AR index more than one SD below the mean of moderate leak (19.6 - 7.6): more than moderate'),
  rule('leak-ar-index-above-at-most-3', 10.2, '1', true, 'D', SINNING, 'AR index more than one SD above the mean of severe leak (7.6 + 2.6): less than severe'),
  rule('leak-ar-index-above-at-most-1', 27.2, '1', true, 'D', SINNING, 'AR index more than one SD above the mean of moderate leak (19.6 + 7.6): at most mild'),
  rule('leak-ar-index-ratio-below-at-least-1', 0.6, '1', true, 'M', 'from memory (checks HD-03)', 'AR index after over before any balloon below 0.60: at least mild'),
  rule('leak-diastolic-delta-below-at-least-1', 18, 'mm[Hg]', false, 'D', 'Patsalis PC et al., EuroIntervention 2013;8:1398-406, abstract (checks HD-04)', 'Aortic diastolic minus end-diastolic ventricular pressure of 18 and less, the published limit of risk: at least mild'),
  rule('leak-rate-adjusted-delta-below-at-least-1', 25, 'mm[Hg]', true, 'D', 'Bavry AA et al., Cardiol Ther 2017;6:251-9, abstract (checks HD-05)', 'Difference over rate times 80 below 25, the published limit of risk: at least mild; the factor 80 is of memory'),
  rule('leak-rate-adjusted-delta-above-at-most-3', 25, 'mm[Hg]', false, 'D', 'Bavry AA et al., Cardiol Ther 2017;6:251-9, abstract (checks HD-05)', 'Difference over rate times 80 of 25 and more: less than severe; the factor 80 is of memory'),
  rule('leak-pressure-time-below-at-least-1', 27.9, '1', false, 'D', HOLLRIEGEL, 'Adjusted diastolic pressure-time index of 27.9 and less, the published limit of risk: at least mild'),
  rule('leak-pressure-time-below-at-least-2', 23.9, '1', true, 'D', HOLLRIEGEL, 'More than one SD below the mean of leaks less than moderate (30.7 - 6.8): at least moderate'),
  rule('leak-pressure-time-above-at-most-1', 32, '1', true, 'D', HOLLRIEGEL, 'More than one SD above the mean of leaks of moderate and more (26.2 + 5.8): at most mild'),
  rule('leak-rate-high', 100, '/min', true, 'M', COMMON, 'Above this rate unadjusted indices clear no valve: diastole is too short for the pressure to fall'),
  rule('leak-rate-low', 50, '/min', true, 'M', COMMON, 'Below this rate unadjusted indices accuse no valve: diastole is long enough for the pressure to fall without a leak'),
];
const ANGIOGRAM: readonly Rule[] = [
  rule('leak-density-ratio-above-at-least-2', 0.17, '1', true, 'V', 'Abdelghani M et al., Catheter Cardiovasc Interv, doi:10.1002/ccd.26926, abstract (checks AN-02, AN-03)', 'Density ratio outflow tract to aortic root above 0.17: significant leak; median of moderate leak 0.17', '2017'),
  rule('leak-density-ratio-below-at-most-3', 0.17, '1', false, 'V', 'Abdelghani M et al., Catheter Cardiovasc Interv, doi:10.1002/ccd.26926, abstract (checks AN-02, AN-03)', 'Ratio of 0.17 and less: not significant; half of the moderate leaks lie there, so that moderate is not left: less than severe', '2017'),
  rule('leak-density-ratio-below-at-most-1', 0.15, '1', true, 'D', TATEISHI, 'Ratio below the lower quartile of moderate leak (0.15 to 0.22) and the upper of mild leak (0.09 to 0.15): at most mild', '2018'),
  rule('leak-aortography-spread', 1, '1', false, 'D', 'Schultz CJ et al., EuroIntervention 2014, abstract: kappa 0.47 to 0.60 between readers (checks AN-01)', 'A grade of the aortogram by eye may be one class off, either way', '2014'),
];
const ECHO: readonly Rule[] = [
  rule('leak-circumference-below-at-most-1', 10, '%', true, 'V', VARC2, 'Circumferential extent below 10 %: mild (not well validated, may overestimate)', 'VARC-2'),
  rule('leak-circumference-above-at-least-2', 10, '%', false, 'V', VARC2, 'Circumferential extent of 10 % and more: at least moderate', 'VARC-2'),
  rule('leak-circumference-below-at-most-3', 30, '%', true, 'V', VARC2, 'Circumferential extent below 30 %: less than severe', 'VARC-2'),
  rule('leak-circumference-above-at-least-4', 30, '%', false, 'V', VARC2, 'Circumferential extent of 30 % and more: severe', 'VARC-2'),
  rule('leak-regurgitant-volume-below-at-most-1', 30, 'mL', true, 'V', VARC2, 'Regurgitant volume below 30 mL: mild', 'VARC-2'),
  rule('leak-regurgitant-volume-above-at-least-2', 30, 'mL', false, 'V', VARC2, 'Regurgitant volume of 30 mL and more: at least moderate', 'VARC-2'),
  rule('leak-regurgitant-volume-below-at-most-3', 60, 'mL', true, 'V', VARC2, 'Regurgitant volume below 60 mL: less than severe', 'VARC-2'),
  rule('leak-regurgitant-volume-above-at-least-4', 60, 'mL', false, 'V', VARC2, 'Regurgitant volume of 60 mL and more: severe', 'VARC-2'),
  rule('leak-regurgitant-fraction-below-at-most-1', 30, '%', true, 'V', VARC2, 'Regurgitant fraction below 30 %: mild', 'VARC-2'),
  rule('leak-regurgitant-fraction-above-at-least-2', 30, '%', false, 'V', VARC2, 'Regurgitant fraction of 30 % and more: at least moderate', 'VARC-2'),
  rule('leak-regurgitant-fraction-below-at-most-3', 50, '%', true, 'V', VARC2, 'Regurgitant fraction below 50 %: less than severe', 'VARC-2'),
  rule('leak-regurgitant-fraction-above-at-least-4', 50, '%', false, 'V', VARC2, 'Regurgitant fraction of 50 % and more: severe', 'VARC-2'),
  rule('leak-regurgitant-orifice-below-at-most-1', 0.1, 'cm2', true, 'V', VARC2, 'Effective regurgitant orifice below 0.10 cm2: mild (printed without its sign in the table)', 'VARC-2'),
  rule('leak-regurgitant-orifice-above-at-least-2', 0.1, 'cm2', false, 'V', VARC2, 'Effective regurgitant orifice of 0.10 cm2 and more: at least moderate', 'VARC-2'),
  rule('leak-regurgitant-orifice-below-at-most-3', 0.3, 'cm2', true, 'V', VARC2, 'Effective regurgitant orifice below 0.30 cm2: less than severe', 'VARC-2'),
  rule('leak-regurgitant-orifice-above-at-least-4', 0.3, 'cm2', false, 'V', VARC2, 'Effective regurgitant orifice of 0.30 cm2 and more: severe', 'VARC-2'),
  rule('leak-vena-contracta-below-at-most-1', 0.3, 'cm', true, 'V', HEART, 'Vena contracta below 0.3 cm: mild'),
  rule('leak-vena-contracta-above-at-least-2', 0.3, 'cm', false, 'V', HEART, 'Vena contracta of 0.3 cm and more: at least moderate'),
  rule('leak-vena-contracta-below-at-most-3', 0.6, 'cm', false, 'V', HEART, 'Vena contracta of 0.6 cm and less: less than severe'),
  rule('leak-vena-contracta-above-at-least-4', 0.6, 'cm', true, 'V', HEART, 'Vena contracta above 0.6 cm: severe'),
  rule('leak-pressure-half-time-above-at-most-1', 500, 'ms', true, 'V', VARC1, 'Pressure half-time above 500 ms: mild', 'VARC-1'),
  rule('leak-pressure-half-time-below-at-least-2', 500, 'ms', false, 'V', VARC1, 'Pressure half-time of 500 ms and less: at least moderate; a stiff ventricle shortens it too', 'VARC-1'),
  rule('leak-pressure-half-time-above-at-most-3', 200, 'ms', false, 'V', VARC1, 'Pressure half-time of 200 ms and more: less than severe', 'VARC-1'),
  rule('leak-pressure-half-time-below-at-least-4', 200, 'ms', true, 'V', VARC1, 'Pressure half-time below 200 ms: severe; a stiff ventricle shortens it too', 'VARC-1'),
  rule('leak-jet-width-below-at-most-1', 25, '%', false, 'V', VARC1, 'Central jet of 25 % and less of the outflow tract: mild; not for jets beside the frame', 'VARC-1'),
  rule('leak-jet-width-above-at-least-2', 25, '%', true, 'V', VARC1, 'Central jet above 25 % of the outflow tract: at least moderate; not for jets beside the frame', 'VARC-1'),
  rule('leak-jet-width-below-at-most-3', 65, '%', true, 'V', VARC1, 'Central jet below 65 % of the outflow tract: less than severe; not for jets beside the frame', 'VARC-1'),
  rule('leak-jet-width-above-at-least-4', 65, '%', false, 'V', VARC1, 'Central jet of 65 % and more of the outflow tract: severe; not for jets beside the frame', 'VARC-1'),
].map((r) => (r.source === HEART ? { ...r, status: 'C' as const } : r));
const BOARD: readonly Rule[] = [
  rule('leak-decision-line', 1.5, '1', false, 'D', `${VARC2}: intended performance needs a leak less than moderate (checks EC-31)`, 'Line between what is left alone and what is not: half way from mild (1) to moderate (2)', 'VARC-2'),
  rule('leak-witnesses-apart', 10, 'min', true, 'M', COMMON, 'Readings further apart than this are said to be of different moments'),
  rule('balloon-ring-ratio', 1, '1', false, 'M', COMMON, 'Balloon over perimeter-derived diameter of the basal ring, at most'),
  rule('balloon-outflow-ratio', 1, '1', false, 'M', COMMON, 'Balloon over perimeter-derived diameter of the outflow tract, at most'),
  rule('balloon-junction-ratio', 1, '1', false, 'M', COMMON, 'Balloon over diameter of the sinotubular junction, at most'),
  rule('balloon-calcified-ratio', 0.95, '1', false, 'M', COMMON, 'Balloon over ring where calcium below the ring reaches the signed volume, at most'),
  rule('diastolic-low', 50, 'mm[Hg]', true, 'M', COMMON, 'Aortic diastolic pressure below this is called low and its causes are listed'),
  rule('mean-low', 65, 'mm[Hg]', true, 'M', COMMON, 'Mean aortic pressure below this is called low'),
  rule('pulse-wide', 60, 'mm[Hg]', true, 'V', 'Bavry AA et al., Cardiol Ther 2017;6:251-9, abstract: the limit that was tried, and was not associated with death', 'Pulse pressure above this is called wide', '2017'),
  rule('pulse-narrow', 30, 'mm[Hg]', true, 'M', COMMON, 'Pulse pressure below this is called narrow'),
  rule('filling-low', 8, 'mm[Hg]', true, 'M', COMMON, 'End-diastolic ventricular pressure below this is called low'),
  rule('filling-high', 18, 'mm[Hg]', true, 'M', COMMON, 'End-diastolic ventricular pressure above this is called high'),
  rule('notch-lost', 0.2, '1', true, 'M', COMMON, 'Share of beats with a dicrotic notch below which it is called lost'),
  rule('line-natural-least', 7, 'Hz', true, 'V', MILLER, 'Natural frequency of the pressure line below this: the pressures are no witness'),
  rule('line-natural-notch', 24, 'Hz', false, 'V', MILLER, 'Natural frequency of the pressure line up to this does not resolve the dicrotic notch: a lost one says nothing'),
  rule('notch-kept', 0.8, '1', true, 'M', COMMON, 'Share of beats with a dicrotic notch above which it is called kept'),
];

/** Proposals of the verdict. `expansion-wait` and `outflow-deposit` belong to the room and the landing and are not repeated here. */
export const VERDICT_PROPOSALS: readonly Rule[] = [...PRESSURE, ...ANGIOGRAM, ...ECHO, ...BOARD];
