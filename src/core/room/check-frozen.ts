import { formatCanonical } from '../audit/format-canonical.ts';
import type { CaseEventData } from '../case/case-events.ts';

export interface FrozenWanted extends Pick<CaseEventData['plan.frozen'], 'planSha256' | 'amends' | 'differences'> {
  readonly caseId: string;
}

/**
 * What is wrong with a frozen document, beside its hash; null: it is the one that its event names, in its one form
 * (RFC 8785), and holds the plan that its event names. Of that plan the window and the forecast may be those of another
 * choice; nothing else may differ.
 * Shape     `planText` is the stored plan of `wanted.planSha256`, whose hash the caller has checked; null: it is not there
 * Fails     never: text that does not read is a finding
 */
export function checkFrozen(text: string, wanted: FrozenWanted, planText: string | null): string | null {
  const content = parse(text);
  if (!content) return 'does not read';
  if (content['format'] !== 'trinadir.frozen/1') return 'is of another format';
  if (!isCanonical(content, text)) return 'is not in its one form';
  if (content['caseId'] !== wanted.caseId) return 'is of another case';
  if (content['planSha256'] !== wanted.planSha256 || content['amends'] !== wanted.amends) return 'is not the one that its event says';
  if (formatCanonical(content['differences']) !== formatCanonical(wanted.differences)) return 'names other differences than its event';
  const stored = planText === null ? null : parse(planText);
  if (!stored) return 'has lost its plan';
  const inside = content['plan'];
  if (typeof inside !== 'object' || inside === null || formatCanonical(leaveChoice(inside)) !== formatCanonical(leaveChoice(stored))) return 'holds another plan than it names';
  return null;
}

function leaveChoice(plan: object): Readonly<Record<string, unknown>> {
  const { landing: _landing, release: _release, ...rest } = plan as { readonly landing?: unknown; readonly release?: unknown };
  return rest;
}
function parse(text: string): Readonly<Record<string, unknown>> | null {
  try {
    const value = JSON.parse(text) as unknown;
    return typeof value === 'object' && value !== null && !Array.isArray(value) ? (value as Readonly<Record<string, unknown>>) : null;
  } catch {
    return null;
  }
}
/** A document that nests deeper than the stack is none of ours. */
function isCanonical(content: unknown, text: string): boolean {
  try {
    return formatCanonical(content) === text;
  } catch {
    return false;
  }
}
