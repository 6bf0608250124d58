import { formatText } from '../text/catalogue.ts';
import { RHYTHM_EN } from '../text/rhythm-en.ts';
import type { Reason } from '../units/fact.ts';
import { isIsoTime } from '../units/iso-time.ts';
import { checkEntries } from './check-entries.ts';
import { joinJudged, judgeCondition, type RuleScene } from './judge-condition.ts';
import {
  NO_CONTEXT, type ConductionWord, type EcgEntry, type EcgMoment, type RhythmAnswer, type RhythmContext, type RhythmRules, type RhythmRuleKind, type RuleOutcome,
} from './rhythm-types.ts';

/**
 * What the signed rules say of the ECGs so far, and why.
 *
 * - "new conduction change" when one rule of change holds; "unchanged" when every one is denied; else CANNOT SAY. Baseline
 *   and the ECG after release must both be there, or it cannot be said (job.md, D47, hazard 21). Paced beats do not count.
 * - Findings, steps and predictors stand in the order of the rule set and are quoted; none is chosen, none is summed.
 * - Fails     never; what cannot be said is CANNOT SAY with its reasons
 * - Source    docs/methods/rhythm.md
 */
export function judgeRhythm(
  entries: readonly EcgEntry[],
  rules: RhythmRules | null,
  context: RhythmContext = NO_CONTEXT,
  options: { readonly moment?: EcgMoment | undefined; readonly releasedAt?: string | undefined } = {},
): RhythmAnswer {
  const checked = checkEntries(entries, options.releasedAt ?? null);
  const sorted = checked.entries;
  const baseline = sorted.find((e) => e.moment === 'baseline') ?? null;
  const after = sorted.filter((e) => e.moment !== 'baseline');
  const now = (options.moment === undefined ? after.at(-1) : after.find((e) => e.moment === options.moment)) ?? null;
  const previous = now ? (after[after.indexOf(now) - 1] ?? baseline) : null;
  const reasons: Reason[] = [...checked.reasons];
  const ruleSet = rules && { hospital: rules.hospital, edition: rules.edition, signedBy: rules.signedBy, signedAt: rules.signedAt, training: rules.training, signedSha256: rules.signedSha256 };
  if (!rules) reasons.push({ code: 'rhythm-rules-missing', text: RHYTHM_EN.rulesMissing, next: RHYTHM_EN.rulesMissingNext });
  const isActive = rules !== null && rules.signedBy.trim() !== '' && isIsoTime(rules.signedAt);
  if (rules && !isActive) reasons.push({ code: 'rhythm-rules-unsigned', text: RHYTHM_EN.rulesUnsigned, next: RHYTHM_EN.rulesUnsignedNext });
  if (!baseline) reasons.push({ code: 'ecg-baseline-missing', text: RHYTHM_EN.baselineMissing, next: RHYTHM_EN.baselineMissingNext });
  if (!after.some((e) => e.moment === 'post')) reasons.push({ code: 'ecg-post-missing', text: RHYTHM_EN.postMissing, next: RHYTHM_EN.postMissingNext });

  const scene: RuleScene = { now, baseline, previous, context, word: null };
  const judge = (kind: RhythmRuleKind, word: ConductionWord | null): readonly RuleOutcome[] => (isActive ? rules.rules : [])
    .filter((rule) => rule.kind === kind && (kind === 'predictor' || kind === 'watch' || (now !== null && (rule.moments ?? [now.moment]).includes(now.moment))))
    .map((rule) => ({ rule, ...judgeCondition(rule.when, { ...scene, word }), isUnverified: rule.status === 'M' }));
  const changes = judge('change', null);
  if (isActive && now && changes.length === 0) reasons.push({ code: 'rhythm-rules-no-change', text: RHYTHM_EN.rulesNoChange, next: RHYTHM_EN.rulesNoChangeNext });
  const canSay = reasons.length === checked.reasons.length && !checked.isBroken;
  const { truth } = joinJudged(changes, ['yes', 'unknown', 'no', 'void']);
  const word: ConductionWord = canSay && truth === 'yes' ? 'new conduction change' : canSay && truth === 'no' ? 'unchanged' : 'CANNOT SAY';
  if (now && isActive) reasons.push(...explainDoubt(changes, now, baseline, canSay && truth === 'unknown', canSay && truth === 'void'));
  return {
    format: 'trinadir.rhythm/1', word, moment: now?.moment ?? null, at: now?.at ?? null,
    changes, findings: judge('finding', word), steps: judge('step', word), predictors: judge('predictor', word), watches: judge('watch', word), reasons, ruleSet,
  };
}

function explainDoubt(changes: readonly RuleOutcome[], now: EcgEntry, baseline: EcgEntry | null, isUnknown: boolean, isVoid: boolean): Reason[] {
  const found: Reason[] = [];
  if (now.rhythm === 'paced-ventricle') found.push({ code: 'ecg-paced', text: RHYTHM_EN.pacedNow, next: RHYTHM_EN.pacedNext });
  if (baseline?.rhythm === 'paced-ventricle') found.push({ code: 'ecg-baseline-paced', text: RHYTHM_EN.pacedBaseline, next: RHYTHM_EN.pacedNext });
  if (now.rhythm === 'atrial-fibrillation') found.push({ code: 'ecg-without-pr', text: RHYTHM_EN.prNotJudged, next: RHYTHM_EN.prNotJudgedNext });
  if (now.rhythm === null || baseline?.rhythm === null) found.push({ code: 'ecg-rhythm-unknown', text: RHYTHM_EN.rhythmUnknown, next: RHYTHM_EN.rhythmUnknownNext });
  if (isUnknown) {
    for (const { rule, truth, legs } of changes) {
      if (truth !== 'unknown') continue;
      const leg = legs[0];
      found.push({ code: 'rhythm-change-unknown', text: formatText(RHYTHM_EN, 'changeUnknown', { code: rule.code, text: leg?.text ?? '' }), next: leg?.next ?? RHYTHM_EN.legMissingNext });
    }
  }
  if (isVoid) found.push({ code: 'rhythm-change-void', text: RHYTHM_EN.allVoid, next: RHYTHM_EN.allVoidNext });
  for (const [entry, at] of [[baseline, RHYTHM_EN.atBaseline], [now, '']] as const) {
    for (const [fact, name] of [[entry?.prMs, RHYTHM_EN['name-pr']], [entry?.qrsMs, RHYTHM_EN['name-qrs']]] as const) {
      const why = fact?.status === 'doubtful' ? fact.reasons[0] : undefined;
      if (why && why.code !== 'ecg-no-band') found.push({ code: 'ecg-interval-doubtful', text: formatText(RHYTHM_EN, 'intervalDoubtful', { name, at, why: why.text }), next: why.next });
    }
  }
  const isBare = [baseline, now].some((e) => [e?.prMs, e?.qrsMs].some((f) => f?.reasons.some((r) => r.code === 'ecg-no-band') === true));
  if (isBare) found.push({ code: 'ecg-no-band', text: RHYTHM_EN.notExact, next: RHYTHM_EN.notExactNext });
  return found;
}
