import { DESK_EN } from '../../core/text/desk-en.ts';
import { CASE_PAGES, type CasePageId, type PageState } from '../state/page-states.ts';

/** The case line: pages in time order, each with how far it is answered, by shape and by word. */
export function CaseLine({ caseId, page, states }: { readonly caseId: string; readonly page: CasePageId; readonly states: Readonly<Record<CasePageId, PageState>> }) {
  return (
    <nav class="case-line" aria-label={DESK_EN.caseLine}>
      <ol>
        {CASE_PAGES.map((id) => (
          <li key={id}>
            <a href={`/case/${caseId}/${id}`} title={DESK_EN[`state-${states[id]}`]} {...(id === page ? { 'aria-current': 'page' as const } : {})}>
              <StateMark state={states[id]} />
              {DESK_EN[`page-${id}`]}
              <span class="hidden">, {DESK_EN[`state-${states[id]}`]}</span>
            </a>
          </li>
        ))}
      </ol>
    </nav>
  );
}

export function StateMark({ state }: { readonly state: PageState }) {
  return (
    <svg class={`mark-${state}`} viewBox="0 0 14 14" width="14" height="14" aria-hidden="true">
      <circle cx="7" cy="7" r="5.6" class="outline" />
      {state === 'answered' && <circle cx="7" cy="7" r="5.6" class="fill" />}
      {state === 'doubt' && <path d="M7 1.4a5.6 5.6 0 0 0 0 11.200z" class="fill" />}
    </svg>
  );
}
