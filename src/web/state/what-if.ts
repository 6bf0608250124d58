import { effect, signal } from '@preact/signals';
import type { PlannedChoice } from '../../core/case/case-events.ts';
import { readPlannedChoice } from '../../core/case/ask-choice.ts';
import type { PlannedForecast } from '../../core/case/keep-what-ifs.ts';
import { callApi, type ApiFailure } from '../api/call-api.ts';
import { caseState, shownPlan } from './open-case.ts';

/** The choice on the controls; null: no plan with a forecast is open. */
export const choice = signal<PlannedChoice | null>(null);
/** The newest answer, maybe to an older choice: `answered.choice` says which. */
export const answered = signal<PlannedForecast | null>(null);
export const whatIfFailure = signal<ApiFailure | null>(null);
export const isAsking = signal(false);

const AGAIN_MS = 1000;
let planOfChoice = '';
let wanted: PlannedChoice | null = null;
let later: ReturnType<typeof setTimeout> | undefined;

/** Another plan: the controls start from what it assumes. */
effect(() => {
  const shown = shownPlan.value;
  if ((shown?.sha256 ?? '') === planOfChoice) return;
  planOfChoice = shown?.sha256 ?? '';
  clearTimeout(later);
  wanted = null;
  choice.value = shown ? readPlannedChoice(shown.plan) : null;
  answered.value = null;
  whatIfFailure.value = null;
  kept.clear();
});

/** Sets the choice and asks for it; while one question is under way only the newest one waits. */
export function choose(next: PlannedChoice): void {
  choice.value = next;
  wanted = next;
  clearTimeout(later);
  if (!isAsking.peek()) void askNext();
}

async function askNext(): Promise<void> {
  isAsking.value = true;
  while (wanted) {
    const asked = wanted;
    wanted = null;
    const plan = planOfChoice;
    const answer = await askForecast(asked);
    if (plan !== planOfChoice) continue;
    if (!answer.ok) {
      whatIfFailure.value = answer.failure;
      continue;
    }
    whatIfFailure.value = null;
    answered.value = answer.value;
    if (!answer.value.isFull) later = setTimeout(() => choice.value && choose(choice.value), AGAIN_MS);
  }
  isAsking.value = false;
}

const keyOf = (c: PlannedChoice): string => JSON.stringify([c.device, c.size, c.startMm, c.paceBpm, c.isPredilated, c.tension, c.wireBiasMm]);
const kept = new Map<string, PlannedForecast>();

/** The forecast of one choice about the shown plan; full answers are kept. */
export async function askForecast(asked: PlannedChoice): Promise<{ readonly ok: true; readonly value: PlannedForecast } | { readonly ok: false; readonly failure: ApiFailure }> {
  const [state, shown] = [caseState.peek(), shownPlan.peek()];
  const key = keyOf(asked);
  const known = kept.get(key);
  if (known) return { ok: true, value: known };
  const answer = await callApi('askWhatIf', { params: { caseId: state?.caseId ?? '' }, body: { choice: asked, planSha256: shown?.sha256 ?? '' } });
  if (!answer.ok) return answer;
  const value = answer.value as PlannedForecast;
  if (value.isFull && shown?.sha256 === planOfChoice) kept.set(key, value);
  return { ok: true, value };
}
