import { useEffect, useState } from 'preact/hooks';
import { PROPOSED_RHYTHM_RULES } from '../../core/rhythm/training-rhythm-rules.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { HOUSE_PAGES_EN } from '../../core/text/house-pages-en.ts';
import { callApi, type ApiAnswer, type ApiFailure } from '../api/call-api.ts';
import { Field } from '../parts/field.tsx';
import { FailureNotice } from '../parts/notice.tsx';
import { useTitle } from '../parts/title.ts';
import { may } from '../state/session.ts';

type TableLine = ApiAnswer<'listTables'>[number];

/** Device tables and rules of this house. */
export function TablesPage() {
  useTitle(HOUSE_PAGES_EN.tablesTitle);
  const [tables, setTables] = useState<readonly TableLine[] | null>(null);
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const [keptCode, setKept] = useState<string | null>(null);
  const read = async (): Promise<void> => {
    const answer = await callApi('listTables');
    if (answer.ok) setTables(answer.value);
    else setFailure(answer.failure);
  };
  useEffect(() => void read(), []);
  const handIn = async (event: SubmitEvent): Promise<void> => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const file = new FormData(form).get('file');
    setKept(null);
    if (!(file instanceof File)) return;
    const body = parse(await file.text());
    if (body === undefined) return setFailure({ status: 0, code: 'not-json', message: HOUSE_PAGES_EN.notJson, nextStep: HOUSE_PAGES_EN.notJsonNext, evidence: {}, newer: [] });
    const answer = await callApi('addTable', { body });
    setFailure(answer.ok ? null : answer.failure);
    if (!answer.ok) return;
    setKept(answer.value.sha256.slice(0, 8));
    form.reset();
    await read();
  };
  return (
    <div>
      <section class="page">
        <h1>{HOUSE_PAGES_EN.tablesTitle}</h1>
        <p>{HOUSE_PAGES_EN.tablesSay}</p>
        {failure && <FailureNotice failure={failure} />}
        {!tables && !failure && <p role="status">{DESK_EN.loading}</p>}
        {tables && (
          <table class="stacked">
            <thead><tr>{[HOUSE_PAGES_EN.columnHospital, HOUSE_PAGES_EN.columnKind, HOUSE_PAGES_EN.columnSigned, HOUSE_PAGES_EN.columnHash, HOUSE_PAGES_EN.dataOf].map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
            <tbody>{tables.map((t) => <TableRow key={t.sha256} table={t} />)}</tbody>
          </table>
        )}
      </section>
      <section class="page" aria-labelledby="proposal-name">
        <h2 id="proposal-name">{HOUSE_PAGES_EN.proposalTitle}</h2>
        <p>{HOUSE_PAGES_EN.proposalRhythm}</p>
        <p><button type="button" onClick={saveProposal}>{HOUSE_PAGES_EN.proposalGet}</button></p>
      </section>
      {may('sign') && (
        <section class="page" aria-labelledby="add-table">
          <h2 id="add-table">{HOUSE_PAGES_EN.addTableTitle}</h2>
          <p>{HOUSE_PAGES_EN.addTableSay}</p>
          {keptCode && <p role="status"><b>{formatText(HOUSE_PAGES_EN, 'handedIn', { code: keptCode })}</b></p>}
          <form class="row" onSubmit={(e) => void handIn(e)}>
            <Field label={HOUSE_PAGES_EN.chooseFile}>{(p) => <input {...p} name="file" type="file" accept=".json,application/json" required />}</Field>
            <button type="submit" class="main">{HOUSE_PAGES_EN.handIn}</button>
          </form>
        </section>
      )}
    </div>
  );
}

/** The proposal as a file of its own; the page holds it, so that no server is asked. */
function saveProposal(): void {
  const url = URL.createObjectURL(new Blob([`${JSON.stringify(PROPOSED_RHYTHM_RULES, null, 1)}\n`], { type: 'application/json' }));
  const link = document.createElement('a');
  link.href = url;
  link.download = 'rhythm-rules.json';
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 10_000); // a slow disk still reads it
}

function parse(text: string): unknown {
  try {
    return JSON.parse(text) as unknown;
  } catch {
    return undefined;
  }
}

function TableRow({ table }: { readonly table: TableLine }) {
  const [content, setContent] = useState<string | null>(null);
  const read = async (isOpen: boolean): Promise<void> => {
    if (!isOpen || content !== null) return;
    const answer = await callApi('readTable', { params: { sha256: table.sha256 } });
    if (answer.ok) setContent(JSON.stringify(parse(await answer.value.text()), null, 1));
  };
  return (
    <tr>
      <th scope="row">{table.hospital}{table.training && <> <span class="soft">{HOUSE_EN.training}</span></>}</th>
      <td data-name={HOUSE_PAGES_EN.columnKind}>{HOUSE_PAGES_EN[`kind-${table.kind}`]}</td>
      <td data-name={HOUSE_PAGES_EN.columnSigned}>{table.isSigned ? formatText(HOUSE_PAGES_EN, 'signedBy', { by: table.signedBy, at: table.signedAt.slice(0, 10) }) : <span class="tag">{HOUSE_PAGES_EN.notSigned}</span>}</td>
      <td data-name={HOUSE_PAGES_EN.columnHash}><code title={table.sha256}>{table.sha256.slice(0, 8)}</code></td>
      <td data-name={HOUSE_PAGES_EN.dataOf}>
        <details onToggle={(e) => void read(e.currentTarget.open)}>
          <summary class="act">{HOUSE_PAGES_EN.readIt}</summary>
          <pre tabIndex={0}>{content ?? DESK_EN.loading}</pre>
        </details>
      </td>
    </tr>
  );
}
