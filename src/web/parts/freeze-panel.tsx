import { useEffect, useState } from 'preact/hooks';
import { listBlockers, listStanding, type Blocker } from '../../core/room/list-blockers.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { HUDDLE_PAGE_EN } from '../../core/text/huddle-page-en.ts';
import type { Difference } from '../../formats/report/list-differences.ts';
import { freezeFailure, freezePlan, isFreezing, previewDifferences, readFrozen, readLastDifferences } from '../state/freeze.ts';
import { nameOf } from '../state/names.ts';
import { addEvents, caseState, shownPlan } from '../state/open-case.ts';
import { chosenForecast } from '../state/rehearsal.ts';
import { may, session } from '../state/session.ts';
import { FailureNotice } from './notice.tsx';

/** What stands between this case and its frozen plan, from what the page shows now. */
export function readBlockers(): readonly Blocker[] {
  const state = caseState.value;
  return state ? listBlockers(state, shownPlan.value?.plan ?? null, new Date().toISOString().slice(0, 10)) : [];
}

const isDoubt = ({ code }: Blocker): boolean => code.startsWith('doubt-');
/** Where a person settles a blocker. */
function pageOf(code: string, caseId: string): string {
  if (code.startsWith('identity')) return '#identity-name';
  if (code.startsWith('kit-')) return '#group-kit';
  if (code.startsWith('branch-')) return `/case/${caseId}/dry-run`;
  if (code === 'plan-missing' || code === 'plan-stale' || code === 'scan-identity-differs') return `/case/${caseId}/scan`;
  if (code === 'training-sizes') return `/case/${caseId}/size`;
  if (code.startsWith('landing')) return `/case/${caseId}/landing`;
  return '#entries-name';
}

/** Blockers with their overrides, and the freeze itself. */
export function FreezePanel() {
  const state = caseState.value;
  if (!state) return null;
  const blockers = readBlockers();
  const standing = listStanding(blockers);
  const doubts = blockers.filter(isDoubt).length; // each stands above with its own form
  const isAmended = state.frozen !== null;
  return (
    <>
      {blockers.length > 0 && (
        <section class="blockers" aria-labelledby="blockers-name">
          <h3 id="blockers-name">{standing.length > 0 ? HUDDLE_PAGE_EN.blockersTitle : HUDDLE_PAGE_EN.blockersTaken}</h3>
          <ul>
            {doubts > 0 && (
              <li data-code="doubts">
                <p>{doubts === 1 ? HUDDLE_PAGE_EN.blockersDoubt : formatText(HUDDLE_PAGE_EN, 'blockersDoubts', { count: doubts })}</p>
                <p class="soft">{HUDDLE_PAGE_EN.blockersDoubtsNext} <a href="#doubts">{HUDDLE_PAGE_EN.goTo}</a></p>
              </li>
            )}
            {blockers.filter((b) => !isDoubt(b)).map((b) => <BlockerLine key={b.code} blocker={b} caseId={state.caseId} />)}
          </ul>
          <p class="soft">{HUDDLE_PAGE_EN.overrideNote}</p>
        </section>
      )}
      <Amendment />
      {freezeFailure.value && <FailureNotice failure={freezeFailure.value} />}
      {may('edit') && (!isAmended || state.frozen!.isBehind) && (
        <p>
          <button type="button" class="main" disabled={standing.length > 0 || isFreezing.value} onClick={() => void freezePlan()}>
            {isFreezing.value ? HUDDLE_PAGE_EN.freezing : isAmended ? HUDDLE_PAGE_EN.freezeAgain : HUDDLE_PAGE_EN.freeze}
          </button>{' '}
          <span class="soft">{HUDDLE_PAGE_EN.freezeBehind}</span>
        </p>
      )}
    </>
  );
}

function BlockerLine({ blocker: { code, isHard, text, next, override }, caseId }: { readonly blocker: Blocker; readonly caseId: string }) {
  const take = (event: SubmitEvent): void => {
    event.preventDefault();
    const because = String(new FormData(event.currentTarget as HTMLFormElement).get('because')).trim();
    if (because.length >= 3) void addEvents([{ kind: 'blocker.overridden', data: { code, because } }]);
  };
  return (
    <li class={override ? 'taken' : ''} data-code={code}>
      <p>{text} {isHard && <span class="tag">{HUDDLE_PAGE_EN.blockersHard}</span>}</p>
      <p class="soft">{next} <a href={pageOf(code, caseId)}>{HUDDLE_PAGE_EN.goTo}</a></p>
      {override && <p><b>{formatText(HUDDLE_PAGE_EN, 'overridden', { who: nameOf(override.by), because: override.because })}</b></p>}
      {!override && !isHard && may('edit') && (
        <details>
          <summary class="act">{HUDDLE_PAGE_EN.override}</summary>
          <form class="inline" onSubmit={take}>
            <label class="inline">{formatText(HUDDLE_PAGE_EN, 'overrideSay', { who: session.value?.person?.displayName ?? '' })} <input name="because" required minLength={3} maxLength={400} autocomplete="off" /></label>
            <button type="submit">{HUDDLE_PAGE_EN.overrideTake}</button>
          </form>
        </details>
      )}
    </li>
  );
}

/** What freezing again would change; when nothing changed since, what the frozen plan changed against the one before. */
function Amendment() {
  const state = caseState.value;
  const frozen = state?.frozen ?? null;
  const [shown, setShown] = useState<{ readonly title: string; readonly list: readonly Difference[]; readonly isKnown: boolean } | null>(null);
  const [seq, forecast] = [state?.seq ?? 0, chosenForecast.value.forecast];
  useEffect(() => {
    let isCurrent = true;
    setShown(null);
    if (!frozen || !state) return;
    void (async () => {
      const list = frozen.isBehind ? await readFrozen(state.caseId, frozen.frozenSha256).then((before) => before && previewDifferences(before)) : await readLastDifferences();
      if (isCurrent) setShown({ title: frozen.isBehind ? HUDDLE_PAGE_EN.differTitle : HUDDLE_PAGE_EN.differedTitle, list: list ?? [], isKnown: list !== null });
    })();
    return () => (isCurrent = false);
  }, [seq, frozen?.frozenSha256, frozen?.isBehind, forecast]);
  if (shown && shown.list.length === 0 && frozen?.isBehind && shown.isKnown) return <p>{HUDDLE_PAGE_EN.freezeUnchanged}</p>;
  return shown && shown.list.length > 0 ? <DifferenceTable title={shown.title} list={shown.list} /> : null;
}

const MOST_ROWS = 25;
function DifferenceTable({ title, list }: { readonly title: string; readonly list: readonly Difference[] }) {
  const rows = list.slice(0, MOST_ROWS);
  return (
    <table class="differences stacked">
      <caption>{title}</caption>
      <thead><tr>{[HUDDLE_PAGE_EN.differWhat, HUDDLE_PAGE_EN.differWas, HUDDLE_PAGE_EN.differIs].map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
      <tbody>
        {rows.map((d) => <tr key={d.path}><th scope="row">{d.name}</th><td data-name={HUDDLE_PAGE_EN.differWas}>{d.was ?? '…'}</td><td data-name={HUDDLE_PAGE_EN.differIs}>{d.is ?? '…'}</td></tr>)}
        {list.length > rows.length && <tr><th scope="row">{formatText(HUDDLE_PAGE_EN, 'differMore', { count: list.length - rows.length })}</th><td /><td /></tr>}
      </tbody>
    </table>
  );
}
