import { useEffect } from 'preact/hooks';
import type { CaseState } from '../../core/case/fold-case.ts';
import { listOpenPoints, type OpenPoint } from '../../core/case/list-open-points.ts';
import { findAcceptance, listStanding } from '../../core/room/list-blockers.ts';
import { putChosen } from '../../core/room/read-chosen.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { HUDDLE_PAGE_EN } from '../../core/text/huddle-page-en.ts';
import { PRINTS } from '../../formats/api/api-routes.ts';
import { formatShortCode } from '../../formats/report/format-code.ts';
import { makeHuddleSection, readHuddleCase } from '../../formats/report/make-huddle-section.ts';
import { makeApiPath } from '../api/call-api.ts';
import { sayMoment } from '../parts/days.ts';
import { FreezePanel, readBlockers } from '../parts/freeze-panel.tsx';
import { HuddleEntries } from '../parts/huddle-entries.tsx';
import { IdentityCheck } from '../parts/identity-check.tsx';
import { Markup } from '../parts/markup.tsx';
import { Section } from '../parts/section.tsx';
import { UnplannedSection } from '../parts/unplanned.tsx';
import { nameOf } from '../state/names.ts';
import { addEvents, caseState, shownPlan } from '../state/open-case.ts';
import { chosen, chosenForecast, followForecast } from '../state/rehearsal.ts';
import { may } from '../state/session.ts';
import '../style/huddle.css';

/** Go or not yet: identity, what is decided, every doubt, what stands in the way, and the frozen plan. */
export function HuddlePage() {
  useEffect(followForecast, []);
  const [state, shown] = [caseState.value, shownPlan.value];
  if (!state) return null;
  if (!shown) return <UnplannedSection page="huddle" plan={null} />;
  const { plan, sha256 } = shown;
  const blockers = readBlockers();
  const standing = listStanding(blockers);
  const now = chosen.value;
  const sheet = makeHuddleSection(now ? putChosen(plan, now, chosenForecast.value.forecast) : plan, readHuddleCase(state, sha256, nameOf, { plan, day: new Date().toISOString().slice(0, 10) }));
  const doubts = listOpenPoints(plan);
  const open = doubts.filter((d) => !findAcceptance(state, d));
  const taken = blockers.filter((b) => b.override !== null);
  return (
    <Section
      id="huddle" title={HUDDLE_PAGE_EN.title}
      answer={<Answer state={state} standing={standing.length} />}
      why={<>
        <IdentityCheck />
        <HuddleEntries />
        <details class="sheet-preview"><summary class="act">{HUDDLE_PAGE_EN.aloudTitle}</summary><Markup html={sheet.why} /></details>
      </>}
      doubt={<div id="doubts">
        {taken.length > 0 && <p>{formatText(HUDDLE_PAGE_EN, 'doubtOverrides', { count: taken.length })}</p>}
        {doubts.length === 0 ? <p>{HUDDLE_PAGE_EN.doubtNone}</p> : <>
          <p>{formatText(HUDDLE_PAGE_EN, 'doubtCount', { open: open.length, accepted: doubts.length - open.length })}</p>
          {doubts.map((d) => <DoubtLine key={`${d.section} ${d.code}`} state={state} doubt={d} />)}
        </>}
      </div>}
      next={<>
        <ul class="acts">
          {blockers.some((b) => b.code.startsWith('branch-')) && <li><a href={`/case/${state.caseId}/dry-run`}>{HUDDLE_PAGE_EN.nextDryRun}</a></li>}
          {standing.length > 0 && <li>{HUDDLE_PAGE_EN.nextBlockers}</li>}
          {state.frozen && !state.frozen.isBehind && <li><a href={`/case/${state.caseId}/room`}>{HUDDLE_PAGE_EN.nextRoom}</a></li>}
          {state.frozen?.isBehind && <li>{HUDDLE_PAGE_EN.behindNext}</li>}
        </ul>
        <FreezePanel />
        <p class="prints">
          {PRINTS.map((name) => <a key={name} class="button" href={makeApiPath('print', { params: { caseId: state.caseId, name } })} target="_blank" rel="noopener">{HUDDLE_PAGE_EN[`print-${name}`]}</a>)}
        </p>
      </>}
    />
  );
}

function Answer({ state, standing }: { readonly state: CaseState; readonly standing: number }) {
  const { frozen } = state;
  return (
    <>
      {frozen && <p class={frozen.isBehind ? 'frozen behind' : 'frozen'}><b>{HUDDLE_PAGE_EN.frozen}</b> <span class="code">{formatText(HUDDLE_PAGE_EN, 'frozenCode', { code: formatShortCode(frozen.frozenSha256) })}</span></p>}
      {frozen && <p>{formatText(HUDDLE_PAGE_EN, 'frozenBy', { who: nameOf(frozen.by), at: sayMoment(frozen.at) })} {frozen.amends && formatText(HUDDLE_PAGE_EN, 'amends', { code: formatShortCode(frozen.amends) })}</p>}
      {frozen?.isBehind && <p class="say">{HUDDLE_PAGE_EN.behind}</p>}
      {(!frozen || frozen.isBehind) && <p class={frozen ? '' : 'say'}>{standing === 0 ? HUDDLE_PAGE_EN.ready : standing === 1 ? HUDDLE_PAGE_EN.notReadyOne : formatText(HUDDLE_PAGE_EN, 'notReady', { count: standing })}</p>}
      <p class="soft">{HUDDLE_PAGE_EN.goIsYours}</p>
    </>
  );
}

/** A doubt, and who accepted it why. One accepted before the newest plan counts no more: it needs another look. */
function DoubtLine({ state, doubt }: { readonly state: CaseState; readonly doubt: OpenPoint }) {
  const accepted = findAcceptance(state, doubt);
  const before = accepted ? null : (state.acceptedDoubts.find((a) => a.code === doubt.code && a.section === doubt.section) ?? null);
  const accept = (event: SubmitEvent): void => {
    event.preventDefault();
    const because = String(new FormData(event.currentTarget as HTMLFormElement).get('because')).trim();
    if (because.length >= 3) void addEvents([{ kind: 'doubt.accepted', data: { code: doubt.code, section: doubt.section, because } }]);
  };
  return (
    <div class="note" data-code={doubt.code}>
      <p><b>{DESK_EN[`page-${doubt.section}` as keyof typeof DESK_EN] ?? DESK_EN['page-root']}.</b> {doubt.text}</p>
      {doubt.next !== '' && <p class="soft">{formatText(DESK_EN, 'next', { next: doubt.next })}</p>}
      {accepted && <p>✓ {formatText(HUDDLE_PAGE_EN, 'accepted', { who: nameOf(accepted.by), because: accepted.because })}</p>}
      {before && <p class="tag">{HUDDLE_PAGE_EN.acceptedAgain}</p>}
      {!accepted && may('edit') && (
        <details>
          <summary class="act">{HUDDLE_PAGE_EN.accept}</summary>
          <form class="inline" onSubmit={accept}>
            <label class="inline">{HUDDLE_PAGE_EN.because} <input name="because" required minLength={3} maxLength={400} autocomplete="off" defaultValue={before?.because ?? ''} /></label>
            <button type="submit">{HUDDLE_PAGE_EN.accept}</button>
          </form>
        </details>
      )}
    </div>
  );
}
