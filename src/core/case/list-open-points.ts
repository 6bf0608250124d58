import { nameLandingLimit } from '../deployment/find-landing.ts';
import type { Plan } from './plan-types.ts';

/** One thing that a plan leaves open. */
export interface OpenPoint {
  readonly section: string;
  readonly code: string;
  readonly text: string;
  readonly next: string;
}

/** Everything that a plan leaves open, once each, in the order of the case line. Fails: never. */
export function listOpenPoints(plan: Pick<Plan, 'messages' | 'size' | 'landing' | 'views' | 'release'>): readonly OpenPoint[] {
  const unknown = (plan.landing?.limits ?? []).filter((l) => !l.isKnown).map((l): OpenPoint => (
    { section: 'landing', code: l.code, text: `${nameLandingLimit(l.code)}: ${l.because}`, next: l.next ?? '' }
  ));
  const all: OpenPoint[] = [
    ...plan.messages.map(({ section, code, text, next }) => ({ section, code, text, next })),
    ...(plan.size?.doubt ?? []).map((r) => ({ section: 'size', ...r })),
    ...unknown,
    ...(plan.landing?.reasons ?? []).map((r) => ({ section: 'landing', ...r })),
    ...(plan.views?.reasons ?? []).map((r) => ({ section: 'views', ...r })),
    ...(plan.release?.refusals ?? []).map((r) => ({ section: 'release', ...r })),
  ];
  const seen = new Set<string>();
  return all.filter((p) => {
    const key = `${p.section} ${p.code}`;
    return !seen.has(key) && seen.add(key);
  });
}
