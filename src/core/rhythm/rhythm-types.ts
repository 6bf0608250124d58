import type { Fact, Reason } from '../units/fact.ts';

/** Order of time; each is taken once. */
export const ECG_MOMENTS = ['baseline', 'post', 'h24', 'h48'] as const;
export type EcgMoment = (typeof ECG_MOMENTS)[number];
/** Said by a person; no computation here says it. `other`: wide without either pattern. */
export const BUNDLE_BLOCKS = ['none', 'left', 'right', 'other'] as const;
export type BundleBlock = (typeof BUNDLE_BLOCKS)[number];
export const AV_BLOCKS = ['none', 'first-degree', 'wenckebach', 'mobitz-2', 'two-to-one', 'high-grade', 'complete'] as const;
export type AvBlock = (typeof AV_BLOCKS)[number];
export const ECG_RHYTHMS = ['sinus', 'atrial-fibrillation', 'paced-ventricle', 'paced-atrium', 'other'] as const;
export type EcgRhythm = (typeof ECG_RHYTHMS)[number];

/** One ECG as the rules see it. null: not entered, which is never "normal" (job.md, E8). */
export interface EcgEntry {
  readonly moment: EcgMoment;
  /** When it was recorded, ISO 8601 UTC. */
  readonly at: string;
  readonly rhythm: EcgRhythm | null;
  readonly prMs: Fact | null;
  readonly qrsMs: Fact | null;
  readonly ratePerMin: Fact | null;
  /** From an electrophysiology study, if one was made. */
  readonly hvMs: Fact | null;
  readonly bundleBlock: BundleBlock | null;
  readonly avBlock: AvBlock | null;
}

/** Facts beside the ECG that a rule may ask for. null: not known. */
export interface RhythmContext {
  readonly deviceKind: 'self-expanding' | 'mechanically-expanding' | 'balloon-expandable' | null;
  readonly dilated: 'yes' | 'no' | null;
  readonly lowImplant: 'yes' | 'no' | null;
  readonly heavyCalcium: 'yes' | 'no' | null;
  readonly shortSeptum: 'yes' | 'no' | null;
  /** Prosthesis diameter over that of the outflow tract. */
  readonly prosthesisOverOutflow: Fact | null;
  readonly implantDepthMm: Fact | null;
  readonly septumLengthMm: Fact | null;
  readonly subCuspCalciumMm3: Fact | null;
}
export const NO_CONTEXT: RhythmContext = {
  deviceKind: null, dilated: null, lowImplant: null, heavyCalcium: null, shortSeptum: null,
  prosthesisOverOutflow: null, implantDepthMm: null, septumLengthMm: null, subCuspCalciumMm3: null,
};

/** Numbers that a rule may compare, with the unit each must have; another unit would be another limit. */
export const QUANTITY_UNITS = {
  pr: 'ms', qrs: 'ms', rate: '/min', hv: 'ms', 'pr-rise': 'ms', 'qrs-rise': 'ms', 'pr-rise-percent': '%', 'qrs-rise-percent': '%',
  'prosthesis-over-outflow': '1', 'implant-depth': 'mm', 'septum-length': 'mm', 'sub-cusp-calcium': 'mm3', 'depth-below-septum': 'mm',
} as const;
export type Quantity = keyof typeof QUANTITY_UNITS;
export const RHYTHM_WORDS = ['unchanged', 'new conduction change', 'CANNOT SAY'] as const;
export type ConductionWord = (typeof RHYTHM_WORDS)[number];
const YES_NO = ['yes', 'no'] as const;
/** States that a rule may ask for, with the words each may have. `new-…`: so now, and not so at baseline. */
export const STATE_WORDS = {
  'bundle-block': BUNDLE_BLOCKS, 'new-bundle-block': ['left', 'right', 'other'], 'av-block': AV_BLOCKS,
  'new-av-block': ['first-degree', 'wenckebach', 'mobitz-2', 'two-to-one', 'high-grade', 'complete'], rhythm: ECG_RHYTHMS,
  'device-kind': ['self-expanding', 'mechanically-expanding', 'balloon-expandable'], dilated: YES_NO, 'low-implant': YES_NO,
  'heavy-calcium': YES_NO, 'short-septum': YES_NO, word: ['unchanged', 'new conduction change'],
} as const satisfies Readonly<Record<string, readonly string[]>>;
export type StateName = keyof typeof STATE_WORDS;

export interface Comparison {
  readonly of: Quantity;
  /** Which ECG; the one that is judged when absent. */
  readonly at?: 'now' | 'baseline' | undefined;
  /** What a rise is counted from; the baseline when absent. `previous`: the ECG before the judged one, the baseline for the first. */
  readonly against?: 'baseline' | 'previous' | undefined;
  readonly op: '>' | '>=' | '<' | '<=';
  readonly value: number;
  readonly unit: string;
}
export interface StateQuestion {
  readonly of: StateName;
  readonly at?: 'now' | 'baseline' | undefined;
  readonly in: readonly string[];
}
export type Condition =
  | Comparison
  | StateQuestion
  | { readonly all: readonly Condition[] }
  | { readonly any: readonly Condition[] }
  | { readonly not: Condition };

/**
 * finding    says what one ECG shows
 * change     one that holds makes the word "new conduction change"; all must be denied for "unchanged"
 * step       what the hospital does then; quoted, never chosen
 * predictor  stands in a list; never summed to a score
 * watch      whom the clinic looks for after discharge while no result of a monitor is there
 */
export const RHYTHM_RULE_KINDS = ['finding', 'change', 'step', 'predictor', 'watch'] as const;
export type RhythmRuleKind = (typeof RHYTHM_RULE_KINDS)[number];
export type SourceStatus = 'V' | 'C' | 'D' | 'M';

export interface RhythmRule {
  readonly code: string;
  readonly kind: RhythmRuleKind;
  readonly when: Condition;
  /** Quoted word by word where the rule holds. */
  readonly says: string;
  /** ECGs the rule is for; every one after release when absent. */
  readonly moments?: readonly EcgMoment[] | undefined;
  /** Where it holds, another ECG is due this long after the judged one. */
  readonly ecgAfterH?: number | undefined;
  /** Of a step: how long a monitor is kept. Of a watch: from which day on a missing result brings the patient on the clinic list. */
  readonly days?: { readonly count: number; readonly from: 'release' | 'discharge' } | undefined;
  /** Of a step: what it says of the temporary pacing wire. */
  readonly wire?: 'out' | 'keep' | undefined;
  readonly edition: string;
  readonly source: string;
  readonly status: SourceStatus;
}
/** When one of the ECGs is due, in hours after release. */
export interface EcgDue {
  readonly moment: 'post' | 'h24' | 'h48';
  readonly earliestH: number;
  readonly dueH: number;
  readonly latestH: number;
  readonly edition: string;
  readonly source: string;
  readonly status: SourceStatus;
}
export interface RhythmRules {
  readonly format: 'trinadir.rhythm-rules/1';
  readonly hospital: string;
  /** Of the whole set; stands in every answer (job.md, E18). */
  readonly edition: string;
  readonly signedBy: string;
  readonly signedAt: string;
  readonly training: boolean;
  readonly signedSha256?: string | undefined;
  readonly rules: readonly RhythmRule[];
  readonly schedule: readonly EcgDue[];
}

/** `void`: the question has no meaning here (PR in atrial fibrillation); it neither speaks for nor against. */
export type Truth = 'yes' | 'no' | 'unknown' | 'void';
/** One comparison or question of a rule, as it came out. */
export interface Leg {
  readonly truth: Truth;
  /** In words, with the numbers. */
  readonly text: string;
  /** What a person can do when it is unknown. */
  readonly next: string | null;
  /** Of the number that was compared; null for a state or a missing number. */
  readonly fact: Fact | null;
}
export interface RuleOutcome {
  readonly rule: RhythmRule;
  readonly truth: Truth;
  /** The legs that decided it. */
  readonly legs: readonly Leg[];
  /** Status M: shown as "unverified" wherever it acts. */
  readonly isUnverified: boolean;
}
export interface RhythmAnswer {
  readonly format: 'trinadir.rhythm/1';
  readonly word: ConductionWord;
  /** The ECG that was judged; null when none after release is there. */
  readonly moment: EcgMoment | null;
  readonly at: string | null;
  readonly changes: readonly RuleOutcome[];
  readonly findings: readonly RuleOutcome[];
  /** In the order of the rule set, never by preference (job.md, E12). */
  readonly steps: readonly RuleOutcome[];
  readonly predictors: readonly RuleOutcome[];
  readonly watches: readonly RuleOutcome[];
  /** Why it cannot be said, or what is doubtful. */
  readonly reasons: readonly Reason[];
  readonly ruleSet: Pick<RhythmRules, 'hospital' | 'edition' | 'signedBy' | 'signedAt' | 'training' | 'signedSha256'> | null;
}

export type NextEcgState = 'not yet due' | 'due' | 'overdue' | 'none planned' | 'CANNOT SAY';
export interface NextEcg {
  readonly state: NextEcgState;
  readonly moment: EcgMoment | 'extra' | null;
  /** ISO 8601 UTC. */
  readonly earliestAt: string | null;
  readonly dueAt: string | null;
  readonly latestAt: string | null;
  /** To `dueAt`; below 0 when it has passed. */
  readonly remainingS: number | null;
  readonly because: string;
  readonly isUnverified: boolean;
  readonly reasons: readonly Reason[];
}
