import { listMissing } from '../../core/case/list-missing.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { HUDDLE_PAGE_EN } from '../../core/text/huddle-page-en.ts';
import { PRINTS } from '../../formats/api/api-routes.ts';
import { listOpenPoints, type OpenPoint } from '../../core/case/list-open-points.ts';
import { makeHuddleSection, readHuddleCase } from '../../formats/report/make-huddle-section.ts';
import { makeApiPath } from '../api/call-api.ts';
import { Markup } from '../parts/markup.tsx';
import { Section } from '../parts/section.tsx';
import { UnplannedSection } from '../parts/unplanned.tsx';
import { nameOf } from '../state/names.ts';
import { addEvents, caseState, shownPlan } from '../state/open-case.ts';
import { may } from '../state/session.ts';

const PAGE_OF = { date: 'referral' } as const;
type Missing = ReturnType<typeof listMissing>[number];
const pageOf = (m: Missing): string => (m === 'date' ? PAGE_OF.date : m);
const nameMissing = (m: Missing): string => (m === 'date' ? HUDDLE_PAGE_EN.noDay : DESK_EN[`page-${m}`]);

/** What the team talks through before the room: one line per page, every doubt, the prints. */
export function HuddlePage() {
  const [state, shown] = [caseState.value, shownPlan.value];
  if (!state) return null;
  if (!shown) return <UnplannedSection page="huddle" plan={null} />;
  const { plan, sha256 } = shown;
  const missing = listMissing(state, plan);
  const lacks = [...missing.map(nameMissing), ...(state.plan?.isStale ? [HUDDLE_PAGE_EN.stale] : [])];
  const sheet = makeHuddleSection(plan, readHuddleCase(state, sha256, nameOf));
  const doubts = listOpenPoints(plan);
  const open = doubts.filter((d) => !findAccepted(state, d));
  return (
    <Section
      id="huddle" title={HUDDLE_PAGE_EN.title}
      answer={<>
        {lacks.length > 0 && <p class="say">{formatText(HUDDLE_PAGE_EN, 'notYet', { list: lacks.join(', ') })}</p>}
        <Markup html={sheet.answer} />
      </>}
      why={<Markup html={sheet.why} />}
      doubt={doubts.length === 0 ? <p>{HUDDLE_PAGE_EN.doubtNone}</p> : <>
        <p>{formatText(HUDDLE_PAGE_EN, 'doubtCount', { open: open.length, accepted: doubts.length - open.length })}</p>
        {doubts.map((d) => <DoubtLine key={`${d.section} ${d.code}`} state={state} doubt={d} />)}
      </>}
      next={<>
        <ul class="acts">
          {missing.map((m) => <li key={m}><a href={`/case/${state.caseId}/${pageOf(m)}`}>{formatText(HUDDLE_PAGE_EN, 'nextPage', { page: nameMissing(m) })}</a></li>)}
          {open.length > 0 && <li>{HUDDLE_PAGE_EN.nextSettle}</li>}
          {lacks.length === 0 && <li>{HUDDLE_PAGE_EN.nextPrint}</li>}
        </ul>
        <p class="prints">
          {PRINTS.map((name) => <a key={name} class="button" href={makeApiPath('print', { params: { caseId: state.caseId, name } })} target="_blank" rel="noopener">{HUDDLE_PAGE_EN[`print-${name}`]}</a>)}
        </p>
      </>}
    />
  );
}

const findAccepted = (state: CaseState, d: OpenPoint) => state.acceptedDoubts.find((a) => a.code === d.code && a.section === d.section) ?? null;

/** A doubt, and who accepted it why. One accepted before the newest plan is said to need another look. */
function DoubtLine({ state, doubt }: { readonly state: CaseState; readonly doubt: OpenPoint }) {
  const accepted = findAccepted(state, doubt);
  const accept = (event: SubmitEvent): void => {
    event.preventDefault();
    const because = String(new FormData(event.currentTarget as HTMLFormElement).get('because')).trim();
    if (because.length >= 3) void addEvents([{ kind: 'doubt.accepted', data: { code: doubt.code, section: doubt.section, because } }]);
  };
  return (
    <div class="note">
      <p><b>{DESK_EN[`page-${doubt.section}` as keyof typeof DESK_EN] ?? DESK_EN['page-root']}.</b> {doubt.text}</p>
      {doubt.next !== '' && <p class="soft">{formatText(DESK_EN, 'next', { next: doubt.next })}</p>}
      {accepted && <p>✓ {formatText(HUDDLE_PAGE_EN, 'accepted', { who: nameOf(accepted.by), because: accepted.because })}</p>}
      {accepted && accepted.seq < (state.plan?.seq ?? 0) && <p class="tag">{HUDDLE_PAGE_EN.acceptedAgain}</p>}
      {!accepted && may('edit') && (
        <details>
          <summary class="act">{HUDDLE_PAGE_EN.accept}</summary>
          <form class="inline" onSubmit={accept}>
            <label class="inline">{HUDDLE_PAGE_EN.because} <input name="because" required minLength={3} maxLength={400} /></label>
            <button type="submit">{HUDDLE_PAGE_EN.accept}</button>
          </form>
        </details>
      )}
    </div>
  );
}
