import { listMissing } from '../../core/case/list-missing.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { HUDDLE_PAGE_EN } from '../../core/text/huddle-page-en.ts';
import { REFERRAL_EN } from '../../core/text/referral-en.ts';
import { PRINTS } from '../../formats/api/api-routes.ts';
import { makeApiPath } from '../api/call-api.ts';
import { sayAnswers } from '../parts/at-once.tsx';
import { Section } from '../parts/section.tsx';
import { UnplannedSection } from '../parts/unplanned.tsx';
import { listOpenDoubts, type OpenDoubt } from '../state/list-doubts.ts';
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
  const doubts = listOpenDoubts(plan);
  const open = doubts.filter((d) => !findAccepted(state, d));
  return (
    <Section
      id="huddle" title={HUDDLE_PAGE_EN.title}
      answer={<>
        <p class="say">{lacks.length === 0 ? HUDDLE_PAGE_EN.ready : formatText(HUDDLE_PAGE_EN, 'notYet', { list: lacks.join(', ') })}</p>
        <p class="soft">{formatText(HUDDLE_PAGE_EN, 'code', { code: sha256.slice(0, 8), seq: state.plan?.seq ?? 0 })}</p>
      </>}
      why={<Glance state={state} plan={plan} />}
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

const GLANCE = [['root', 'ring'], ['size', 'size'], ['landing', 'landing'], ['views', 'views'], ['release', 'release']] as const;

function Glance({ state, plan }: { readonly state: CaseState; readonly plan: Plan }) {
  const said = sayAnswers(plan);
  const pacing = state.referral['plan.pacingPerMin']?.value;
  const seconds = plan.size?.byDevice.map((d) => [d.device, [d.second.same, ...d.second.neighbours].filter((s) => s !== null).join(', ')] as const).filter(([, sizes]) => sizes !== '') ?? [];
  return (
    <table class="facts glance">
      <caption>{HUDDLE_PAGE_EN.glance}</caption>
      <tbody>
        {GLANCE.map(([page, line]) => <tr key={page}><th scope="row"><a href={`/case/${state.caseId}/${page}`}>{DESK_EN[`atOnce-${line}`]}</a></th><td>{said[line]}</td></tr>)}
        <tr><th scope="row">{HUDDLE_PAGE_EN.second}</th><td>{seconds.length === 0 ? DESK_EN.atOnceNone : seconds.map(([device, sizes]) => <p key={device}>{device}: {sizes}</p>)}</td></tr>
        <tr><th scope="row">{HUDDLE_PAGE_EN.pacing}</th><td>{typeof pacing === 'number' ? formatText(HUDDLE_PAGE_EN, 'beats', { count: pacing }) : <span class="tag">{HUDDLE_PAGE_EN.notEntered}</span>}</td></tr>
        <tr><th scope="row">{REFERRAL_EN['heart.conduction']}</th><td>{sayEntry(state, 'heart.conduction')}</td></tr>
      </tbody>
    </table>
  );
}
function sayEntry(state: CaseState, id: 'heart.conduction') {
  const value = state.referral[id]?.value;
  return value === undefined ? <span class="tag">{HUDDLE_PAGE_EN.notEntered}</span> : (REFERRAL_EN[`choice-${String(value)}` as keyof typeof REFERRAL_EN] ?? String(value));
}

const findAccepted = (state: CaseState, d: OpenDoubt) => state.acceptedDoubts.find((a) => a.code === d.code && a.section === d.section) ?? null;

/** A doubt, and who accepted it why. One accepted before the newest plan is said to need another look. */
function DoubtLine({ state, doubt }: { readonly state: CaseState; readonly doubt: OpenDoubt }) {
  const accepted = findAccepted(state, doubt);
  const accept = (event: SubmitEvent): void => {
    event.preventDefault();
    const because = String(new FormData(event.currentTarget as HTMLFormElement).get('because')).trim();
    if (because.length >= 3) void addEvents([{ kind: 'doubt.accepted', data: { code: doubt.code, section: doubt.section, because } }]);
  };
  return (
    <div class="note">
      <p><b>{DESK_EN[`page-${doubt.section}`]}.</b> {doubt.text}</p>
      <p class="soft">{formatText(DESK_EN, 'next', { next: doubt.next })}</p>
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
