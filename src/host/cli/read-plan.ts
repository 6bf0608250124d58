import { readFile, stat } from 'node:fs/promises';
import { join } from 'node:path';
import type { Plan } from '../../core/case/plan-types.ts';
import { fail, type Result } from '../../core/result.ts';
import { parsePlan, type PlanReadFailureCode } from '../../formats/plan/parse-plan.ts';

const MOST_PLAN_BYTES = 64 << 20;

/**
 * A plan from its file, or from the folder that `trinadir plan` wrote.
 * Fails     plan-unreadable, and as parsePlan
 */
export async function readPlan(path: string): Promise<Result<Plan, PlanReadFailureCode | 'plan-unreadable'>> {
  try {
    const file = (await stat(path)).isDirectory() ? join(path, 'plan.json') : path;
    const found = await stat(file);
    if (found.isFile() && found.size <= MOST_PLAN_BYTES) return parsePlan(await readFile(file, 'utf8'));
  } catch {
    // Said below: what cannot be opened is one answer, whatever the reason.
  }
  return fail('plan-unreadable', 'The plan cannot be read.', 'Give the plan.json, or the folder that trinadir plan wrote.');
}
