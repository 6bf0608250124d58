import { signal } from '@preact/signals';
import type { RuleSet } from '../../core/device/device-types.ts';
import { callApi } from '../api/call-api.ts';

/** The signed rules that the case chose; null: none, or not read yet. */
export const chosenRules = signal<RuleSet | null>(null);
let shown: string | null = null;

/** Reads the chosen rules once; a page that goes on without them says "cannot say" where a rule is needed. */
export async function followRules(sha256: string | null): Promise<void> {
  if (shown === sha256) return;
  shown = sha256;
  chosenRules.value = null;
  if (sha256 === null) return;
  const answer = await callApi('readTable', { params: { sha256 } });
  const rules = answer.ok ? ((await answer.value.json().catch(() => null)) as RuleSet | null) : null;
  if (shown === sha256 && rules?.format === 'trinadir.rules/1') chosenRules.value = rules;
  if (!answer.ok && shown === sha256) shown = null;
}
