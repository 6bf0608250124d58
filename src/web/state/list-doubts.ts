import type { Plan } from '../../core/case/plan-types.ts';
import { collectDoubts } from '../../formats/report/draw-doubts.ts';
import { listPlanFacts } from '../../formats/report/list-plan-facts.ts';
import type { CasePageId } from './page-states.ts';

/** One thing that stands between a page and a settled answer. */
export interface OpenDoubt {
  readonly section: CasePageId;
  readonly code: string;
  readonly text: string;
  readonly next: string;
}

/** Every doubt of a plan, in the order of the case line; one code once per page. */
export function listOpenDoubts(plan: Plan): readonly OpenDoubt[] {
  const found: OpenDoubt[] = [];
  const put = (section: CasePageId, all: readonly { readonly code: string; readonly text: string; readonly next: string }[]): void => {
    for (const { code, text, next } of all) if (!found.some((d) => d.section === section && d.code === code)) found.push({ section, code, text, next });
  };
  const facts = listPlanFacts(plan).filter((f) => !f.path.startsWith('root.levels.'));
  const reasons = (prefix: string) => collectDoubts(facts.filter((f) => f.path.startsWith(prefix))).map((d) => d.reason);
  const messages = (...sections: readonly string[]) => plan.messages.filter((m) => sections.includes(m.section));
  put('scan', [...plan.scan.findings.filter((f) => f.severity !== 'note'), ...reasons('scan.'), ...messages('scan')]);
  put('root', [...messages('root', 'calcium'), ...reasons('root.')]);
  put('size', [...messages('size'), ...(plan.size?.doubt ?? [])]);
  put('landing', [...messages('landing'), ...(plan.landing?.reasons ?? [])]);
  put('views', [...messages('views'), ...(plan.views?.reasons ?? [])]);
  put('release', [...messages('release'), ...(plan.release?.refusals ?? [])]);
  return found;
}
