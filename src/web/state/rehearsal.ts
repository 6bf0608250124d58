import { computed, effect, signal } from '@preact/signals';
import type { PlannedChoice } from '../../core/case/case-events.ts';
import type { ReleaseForecast } from '../../core/release/release-types.ts';
import { listKit, readHuddleEntry } from '../../core/room/list-kit.ts';
import type { Rehearsal } from '../../core/room/list-dry-run.ts';
import { readChosen, type Chosen } from '../../core/room/read-chosen.ts';
import { caseState, shownPlan } from './open-case.ts';
import { askForecast } from './what-if.ts';

/** The valve and start that the huddle is about, from the newest plan and entries; null: none can be named. */
export const chosen = computed<Chosen | null>(() => {
  const [state, shown] = [caseState.value, shownPlan.value];
  return state && shown ? readChosen(state, shown.plan) : null;
});

interface Asked {
  readonly key: string;
  readonly forecast: ReleaseForecast | null;
  readonly isOver: boolean;
}
const asked = signal<Asked | null>(null);
const AGAIN_MS = 600;
const keyOf = (sha256: string, choice: PlannedChoice): string => `${sha256} ${JSON.stringify(choice)}`;

/** A choice that the plan was not made for is asked of the server while a page looks; the same draws answer the freeze. */
export const followForecast = (): (() => void) => {
  let timer: ReturnType<typeof setTimeout> | undefined;
  const end = effect(() => {
    const [now, shown] = [chosen.value, shownPlan.value];
    clearTimeout(timer);
    if (!shown || !now?.choice || now.isForecast) return;
    const key = keyOf(shown.sha256, now.choice);
    const before = asked.peek();
    if (before?.key === key && before.isOver) return;
    if (before?.key !== key) asked.value = { key, forecast: null, isOver: false };
    const { choice } = now;
    const ask = async (): Promise<void> => {
      const answer = await askForecast(choice);
      if (asked.peek()?.key !== key) return;
      asked.value = { key, forecast: answer.ok ? answer.value.forecast : null, isOver: !answer.ok || answer.value.isFull };
      if (answer.ok && !answer.value.isFull) timer = setTimeout(() => void ask(), AGAIN_MS);
    };
    timer = setTimeout(() => void ask(), 0);
  });
  return () => {
    clearTimeout(timer);
    end();
  };
};

/** The forecast of exactly this choice, and whether it is still being made. */
export const chosenForecast = computed<{ readonly forecast: ReleaseForecast | null; readonly isAsking: boolean }>(() => {
  const [now, shown] = [chosen.value, shownPlan.value];
  if (!now?.choice || !shown) return { forecast: null, isAsking: false };
  if (now.isForecast) return { forecast: shown.plan.release ?? null, isAsking: false };
  const { value } = asked;
  return value?.key === keyOf(shown.sha256, now.choice) ? { forecast: value.forecast, isAsking: !value.isOver } : { forecast: null, isAsking: true };
});

export const rehearsal = computed<Rehearsal | null>(() => {
  const [state, shown, now] = [caseState.value, shownPlan.value, chosen.value];
  if (!state || !shown || !now) return null;
  const read = readHuddleEntry(state.huddle);
  return { plan: shown.plan, chosen: now, forecast: chosenForecast.value.forecast, kit: listKit(now.device, now.size, read), read };
});
