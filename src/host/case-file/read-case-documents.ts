import { z } from 'zod';
import type { Plan } from '../../core/case/plan-types.ts';
import { fail, type Result } from '../../core/result.ts';
import { checkFrozen, type FrozenWanted } from '../../core/room/check-frozen.ts';
import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { parsePlan } from '../../formats/plan/parse-plan.ts';
import { describeIssue } from './event-schemas.ts';
import { parseShallow } from './parse-case.ts';

const words = z.string().max(4000);
const mm = z.number().nullable();
const reason = z.looseObject({ code: words, text: words, next: words });
/** What freeze, show and export read of a plan beside its root: a file from anywhere has it, or is refused. */
const PLAN_PARTS = z.looseObject({
  messages: z.array(z.looseObject({ section: words, code: words, text: words, next: words })),
  inputs: z.looseObject({ devicesSha256: words.optional(), rulesSha256: words.optional() }),
  size: z.looseObject({
    answer: z.looseObject({ device: words, size: words }).nullable(), doubt: z.array(reason),
    table: z.looseObject({ devices: z.array(z.looseObject({ id: words, sizes: z.array(z.looseObject({ label: words })) })) }),
  }).optional(),
  landing: z.looseObject({
    device: words, size: words, startMm: mm, aimLowMm: mm, aimHighMm: mm, stopMm: mm, empty: z.boolean(), reasons: z.array(reason),
    limits: z.array(z.looseObject({ code: words, because: words, next: words.nullable(), isKnown: z.boolean(), lowMm: mm, highMm: mm })),
  }).optional(),
  views: z.looseObject({ reasons: z.array(reason) }).optional(),
  release: z.looseObject({
    startMm: z.number(), answer: words, refusals: z.array(reason),
    choice: z.looseObject({ paceBpm: z.number(), isPredilated: z.boolean(), tension: words, wireBiasMm: z.number() }),
  }).optional(),
  rules: z.looseObject({ rules: z.array(z.looseObject({ code: words, value: z.number(), unit: words })) }).optional(),
});

/**
 * A plan, checked as far as a case reads it.
 * Fails     as parsePlan (plan-invalid names the first field)
 */
export function readCasePlan(text: string): Result<Plan, string> {
  const parsed = parsePlan(text);
  if (!parsed.ok) return parsed;
  const parts = PLAN_PARTS.safeParse(parsed.value);
  if (parts.success) return parsed;
  const { field, problem } = describeIssue(parts.error);
  return fail('plan-invalid', formatText(CASE_FILE_EN, 'planWrong', { field, problem }), CASE_FILE_EN.planWrongNext, { field, problem });
}

const LIMIT = z.looseObject({ code: words, value: z.number(), unit: words }).nullable();
/** What an export of the log reads of a frozen plan. */
const FROZEN_PARTS = z.looseObject({
  training: z.boolean(),
  limits: z.looseObject({
    depthOldS: LIMIT, depthGoneS: LIMIT, expansionWaitS: LIMIT, contrastMostMl: LIMIT, airKermaMostMGy: LIMIT, doseAreaMostGyCm2: LIMIT, actLeastS: LIMIT, recaptureAttempts: LIMIT, inspectAfter: LIMIT, replaceAfter: LIMIT,
  }),
  rescue: z.looseObject({ cards: z.array(z.looseObject({ id: words, title: words })) }),
});

/** What is wrong with a frozen plan of a file; null: it is the one that its event says, and holds the plan that it names. */
export function checkFrozenText(text: string, wanted: FrozenWanted, planText: string | null): string | null {
  // What nests without end is looked at before anything walks down into it.
  if (parseShallow(text) === undefined) return 'does not read';
  return checkFrozen(text, wanted, planText !== null && parseShallow(planText) !== undefined ? planText : null);
}

/** A frozen plan as far as an export reads it; null where it does not hold together: the log is given without it, and audit verify names it. */
export function readFrozen(text: string, wanted: FrozenWanted, planText: string | null): FrozenDocument | null {
  if (checkFrozenText(text, wanted, planText) !== null) return null;
  const content = parseShallow(text);
  return FROZEN_PARTS.safeParse(content).success ? (content as FrozenDocument) : null;
}
