import { useLocation } from 'preact-iso';
import { useEffect, useState } from 'preact/hooks';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { callApi, type ApiAnswer, type ApiFailure } from '../api/call-api.ts';
import { isDate, readToday, sayDistance, sayMoment } from '../parts/days.ts';
import { Field } from '../parts/field.tsx';
import { FailureNotice } from '../parts/notice.tsx';
import { useTitle } from '../parts/title.ts';
import { may } from '../state/session.ts';

type Line = ApiAnswer<'listCases'>['cases'][number];
const LIMIT = 100;
const FILTERS = ['referral', 'scan', 'root', 'size'] as const;
/** Codes of the work list to the page that settles them. */
const PAGE_OF: Readonly<Record<string, string>> = { date: 'referral' };

/** Cases by day of procedure. What is asked stands in the address, so that a list can be linked and gone back to. */
export function WorkListPage() {
  useTitle(DESK_EN.workListTitle);
  const { query, route } = useLocation();
  const find = query['find'] ?? '';
  const missing = query['missing'] ?? '';
  const [list, setList] = useState<{ readonly cases: readonly Line[]; readonly total: number } | null>(null);
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const ask = async (after: Line | null): Promise<void> => {
    const answer = await callApi('listCases', { query: { limit: LIMIT, ...(find ? { find } : {}), ...(missing ? { missing } : {}), ...(after ? { after: after.caseId } : {}) } });
    if (!answer.ok) return setFailure(answer.failure);
    setFailure(null);
    setList((was) => ({ total: answer.value.total, cases: after && was ? [...was.cases, ...answer.value.cases] : answer.value.cases }));
  };
  useEffect(() => void ask(null), [find, missing]);
  const show = (next: { readonly find?: string; readonly missing?: string }): void => {
    const all = Object.entries({ find, missing, ...next }).filter(([, v]) => v !== '');
    route(all.length === 0 ? '/' : `/?${new URLSearchParams(all)}`, true);
  };
  const last = list?.cases.at(-1);
  return (
    <div class="lists">
      <section class="page">
        <h1>{DESK_EN.workListTitle}</h1>
        <div class="filters">
          <label>{DESK_EN.find}<input type="search" maxLength={60} defaultValue={find} onChange={(e) => show({ find: e.currentTarget.value.trim() })} /></label>
          <label>{DESK_EN.filterMissing}
            <select value={missing} onChange={(e) => show({ missing: e.currentTarget.value })}>
              <option value="">{DESK_EN.filterAll}</option>
              {FILTERS.map((f) => <option key={f} value={f}>{DESK_EN[`filter-${f}`]}</option>)}
            </select>
          </label>
        </div>
        {failure && <FailureNotice failure={failure} onAgain={() => void ask(null)} />}
        {!list && !failure && <p role="status">{DESK_EN.loading}</p>}
        {list && <p class="soft" role="status">{formatText(DESK_EN, 'workCount', { shown: list.cases.length, total: list.total })}</p>}
        {list && list.cases.length > 0 && <CaseTable lines={list.cases} />}
        {list?.cases.length === 0 && <p class="say">{find || missing ? DESK_EN.workNoneFound : DESK_EN.workNone}</p>}
        {list?.cases.length === 0 && !find && !missing && may('edit') && <p>{DESK_EN.workNoneNext}</p>}
        {list && last && list.total > list.cases.length && (
          <button type="button" onClick={() => void ask(last)}>{formatText(DESK_EN, 'more', { count: Math.min(LIMIT, list.total - list.cases.length) })}</button>
        )}
      </section>
      {may('edit') && <OpenCaseForm />}
      <p class="caution">{HOUSE_EN.caution}</p>
    </div>
  );
}

/** What follows from another missing thing is left out: without a scan there is no root, without a root no size. */
const FOLLOWS: Readonly<Record<string, readonly string[]>> = {
  scan: ['root', 'size', 'landing', 'views', 'release', 'dry-run', 'huddle'], root: ['size', 'landing', 'views', 'release', 'dry-run', 'huddle'], size: ['landing', 'release', 'dry-run', 'huddle'],
  release: ['dry-run', 'huddle'],
};
function listCauses(missing: readonly string[]): readonly string[] {
  const following = new Set(missing.flatMap((code) => FOLLOWS[code] ?? []));
  return missing.filter((code) => !following.has(code));
}
const nameMissing = (code: string): string => DESK_EN[`page-${code}` as keyof typeof DESK_EN] ?? DESK_EN[`missing-${code}` as keyof typeof DESK_EN] ?? code;

function CaseTable({ lines }: { readonly lines: readonly Line[] }) {
  const today = readToday();
  return (
    <table class="work stacked">
      <thead><tr>{[DESK_EN.columnDay, DESK_EN.columnCase, DESK_EN.columnPlan, DESK_EN.columnMissing, DESK_EN.columnChanged].map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
      <tbody>
        {lines.map((c) => (
          <tr key={c.caseId}>
            <td data-name={DESK_EN.columnDay}>{c.procedureOn ? <><span class="value">{c.procedureOn}</span> <span class="soft">{sayDistance(c.procedureOn, today)}</span></> : <span class="soft">{DESK_EN.noDay}</span>}</td>
            <th scope="row"><a href={`/case/${c.caseId}`}>{c.label}</a>{c.training && <span class="soft"> {HOUSE_EN.training}</span>}</th>
            <td data-name={DESK_EN.columnPlan}>{c.planState === 'stale' || c.planState === 'refused' ? <span class="tag">{DESK_EN[`plan-${c.planState}`]}</span> : DESK_EN[`plan-${c.planState}`]}</td>
            <td data-name={DESK_EN.columnMissing}>
              {c.missing.length === 0 ? <span class="soft">{DESK_EN.nothingMissing}</span> : listCauses(c.missing).map((code, i) => (
                <span key={code}>{i > 0 && ' · '}<a href={`/case/${c.caseId}/${PAGE_OF[code] ?? code}`}>{nameMissing(code)}</a></span>
              ))}
            </td>
            <td data-name={DESK_EN.columnChanged} class="soft">{sayMoment(c.changedAt)}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

function OpenCaseForm() {
  const { route } = useLocation();
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const [isBusy, setBusy] = useState(false);
  const [isWrongDay, setWrongDay] = useState(false);
  const open = async (event: SubmitEvent): Promise<void> => {
    event.preventDefault();
    const data = new FormData(event.currentTarget as HTMLFormElement);
    const day = String(data.get('procedureOn') ?? '').trim();
    setWrongDay(day !== '' && !isDate(day));
    if (day !== '' && !isDate(day)) return;
    setBusy(true);
    const answer = await callApi('openCase', { body: { label: String(data.get('label')).trim(), procedureOn: day === '' ? null : day } });
    setBusy(false);
    if (answer.ok) route(`/case/${answer.value.caseId}/referral`);
    else setFailure(answer.failure);
  };
  return (
    <section class="page" aria-labelledby="open-case">
      <h2 id="open-case">{DESK_EN.openTitle}</h2>
      <p class="soft">{DESK_EN.openHint}</p>
      {failure && <FailureNotice failure={failure} />}
      <form class="row" onSubmit={(e) => void open(e)}>
        <Field label={DESK_EN.caseLabel} help={DESK_EN.caseLabelHelp}>{(p) => <input {...p} name="label" required maxLength={60} autocomplete="off" />}</Field>
        <Field label={DESK_EN.procedureOn} problem={isWrongDay ? DESK_EN.dateWrong : undefined}>{(p) => <input {...p} class="short" name="procedureOn" inputMode="numeric" placeholder={DESK_EN.dateForm} maxLength={10} autocomplete="off" />}</Field>
        <button type="submit" class="main" disabled={isBusy}>{DESK_EN.open}</button>
      </form>
    </section>
  );
}
