import { useLocation } from 'preact-iso';
import { useEffect, useState } from 'preact/hooks';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { HOUSE_PAGES_EN } from '../../core/text/house-pages-en.ts';
import { callApi, type ApiFailure } from '../api/call-api.ts';
import { sayMoment } from '../parts/days.ts';
import { FailureNotice } from '../parts/notice.tsx';
import { useTitle } from '../parts/title.ts';
import { nameOf } from '../state/names.ts';

/** One line of the audit log as the server keeps it. */
interface AuditLine {
  readonly seq: number;
  readonly at: string;
  readonly by: string;
  readonly kind: string;
  readonly caseId: string | null;
  readonly data: Readonly<Record<string, string | number | boolean | null>>;
}
const LIMIT = 200;

/** Who read or changed what, in its order. */
export function AuditPage() {
  useTitle(HOUSE_PAGES_EN.auditTitle);
  const { query, route } = useLocation();
  const caseId = query['case'] ?? '';
  const [lines, setLines] = useState<readonly AuditLine[] | null>(null);
  const [isEnd, setEnd] = useState(false);
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const read = async (was: readonly AuditLine[]): Promise<void> => {
    const answer = await callApi('listAudit', { query: { after: was.at(-1)?.seq ?? 0, limit: LIMIT, ...(caseId ? { caseId } : {}) } });
    if (!answer.ok) return setFailure(answer.failure);
    setFailure(null);
    setLines([...was, ...(answer.value as readonly AuditLine[])]);
    setEnd(answer.value.length < LIMIT);
  };
  useEffect(() => void read([]), [caseId]);
  return (
    <section class="page">
      <h1>{HOUSE_PAGES_EN.auditTitle}</h1>
      <p>{HOUSE_PAGES_EN.auditSay}</p>
      <div class="filters">
        <label>{HOUSE_PAGES_EN.ofCase}<input type="search" defaultValue={caseId} maxLength={64} spellcheck={false} onChange={(e) => route(e.currentTarget.value.trim() ? `/audit?${new URLSearchParams({ case: e.currentTarget.value.trim() })}` : '/audit')} /></label>
      </div>
      {failure && <FailureNotice failure={failure} onAgain={() => void read([])} />}
      {!lines && !failure && <p role="status">{DESK_EN.loading}</p>}
      {lines && lines.length > 0 && (
        <table class="stacked audit">
          <thead><tr>{[HOUSE_PAGES_EN.columnSeq, HOUSE_PAGES_EN.columnAt, HOUSE_PAGES_EN.columnWho, HOUSE_PAGES_EN.columnWhat, HOUSE_PAGES_EN.columnCaseId, HOUSE_PAGES_EN.columnData].map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
          <tbody>
            {lines.map((l) => (
              <tr key={l.seq}>
                <th scope="row">{l.seq}</th>
                <td data-name={HOUSE_PAGES_EN.columnAt}>{sayMoment(l.at)}</td>
                <td data-name={HOUSE_PAGES_EN.columnWho}>{nameOf(l.by)}</td>
                <td data-name={HOUSE_PAGES_EN.columnWhat}>{l.kind}</td>
                <td data-name={HOUSE_PAGES_EN.columnCaseId}>{l.caseId && <a href={`/case/${l.caseId}`}>{l.caseId.slice(0, 13)}</a>}</td>
                <td data-name={HOUSE_PAGES_EN.columnData} class="soft">{Object.entries(l.data).map(([k, v]) => `${k} ${String(v)}`).join(', ')}</td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
      {lines && <p role="status">{lines.length === 0 ? HOUSE_PAGES_EN.auditNone : isEnd ? HOUSE_PAGES_EN.auditEnd : <button type="button" onClick={() => void read(lines)}>{HOUSE_PAGES_EN.further}</button>}</p>}
    </section>
  );
}
