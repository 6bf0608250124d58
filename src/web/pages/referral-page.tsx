import type { ComponentChildren } from 'preact';
import type { CaseState } from '../../core/case/fold-case.ts';
import { listMissing } from '../../core/case/list-missing.ts';
import { listDerived, type Derived } from '../../core/patient/list-derived.ts';
import { listLonelyLengths } from '../../core/patient/make-patient-facts.ts';
import { isPlanField } from '../../core/case/fold-case.ts';
import { REFERRAL_FIELDS, REFERRAL_GROUPS, type ReferralFieldId, type ReferralGroup } from '../../core/patient/referral-fields.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { REFERRAL_EN } from '../../core/text/referral-en.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { formatNumber } from '../../formats/report/format-number.ts';
import { DayEntry, EntryField } from '../parts/entry-field.tsx';
import { Section } from '../parts/section.tsx';
import { caseState } from '../state/open-case.ts';
import { may } from '../state/session.ts';

const NEEDED: readonly ReferralFieldId[] = ['identity.name', 'identity.birthDate', 'identity.sex'];
const nameEntry = (id: string): string => (id === 'procedureOn' ? REFERRAL_EN.dayOf : (REFERRAL_EN[id as ReferralFieldId] ?? id)).toLowerCase();

/** Is everything here that the plan and the comparison with the CT need? */
export function ReferralPage() {
  const state = caseState.value;
  if (!state) return null;
  const lacks = NEEDED.filter((id) => state.referral[id] === undefined);
  const derived = listDerived(state.referral, state.procedureOn);
  return (
    <Section
      id="referral" title={REFERRAL_EN.title}
      answer={<>
        <p class="say">{sayAnswer(state, lacks)}</p>
        {state.procedureOn === null && <p>{REFERRAL_EN.answerDay}</p>}
        {!may('edit') && <p class="soft">{REFERRAL_EN.mayNotEdit}</p>}
      </>}
      why={<><Entries state={state} /><DerivedTable derived={derived} /></>}
      doubt={<Doubts state={state} derived={derived} />}
      next={<Nexts state={state} lacks={lacks} />}
    />
  );
}

/** "Complete" is said of all entries only: a reader takes the word for the whole page. */
function sayAnswer(state: CaseState, lacks: readonly ReferralFieldId[]): string {
  if (lacks.length > 0) return formatText(REFERRAL_EN, 'answerLacks', { list: lacks.map(nameEntry).join(', ') });
  const further = REFERRAL_FIELDS.filter((f) => !(NEEDED as readonly string[]).includes(f.id));
  const open = further.filter((f) => state.referral[f.id] === undefined).length;
  return open === 0 ? REFERRAL_EN.answerWhole : formatText(REFERRAL_EN, 'answerNeeded', { open, all: further.length });
}

function Entries({ state }: { readonly state: CaseState }) {
  return (
    <div class="entries">
      <DayEntry procedureOn={state.procedureOn} />
      {REFERRAL_GROUPS.map((group) => (
        <fieldset key={group}>
          <legend>{REFERRAL_EN[`group-${group}`]}</legend>
          <p class="help">{REFERRAL_EN[`groupHelp-${group}`]}</p>
          <div class="grid">
            {listPairs(group).map((pair) => (
              <div key={pair[0]!.id} class={pair.length > 1 ? 'pair' : ''}>
                {pair.map((f) => <EntryField key={f.id} field={f} label={REFERRAL_EN[f.id]} />)}
              </div>
            ))}
          </div>
        </fieldset>
      ))}
    </div>
  );
}

/** A length stands beside its half-width and a score beside its version: neither is read without the other. */
function listPairs(group: ReferralGroup): readonly (readonly (typeof REFERRAL_FIELDS)[number][])[] {
  const pairs: (typeof REFERRAL_FIELDS)[number][][] = [];
  for (const field of REFERRAL_FIELDS.filter((f) => f.group === group)) {
    const last = pairs.at(-1);
    if (last && /(HalfWidthMm|Version)$/.test(field.id)) last.push(field);
    else pairs.push([field]);
  }
  return pairs;
}

function DerivedTable({ derived }: { readonly derived: readonly Derived[] }) {
  return (
    <>
      <table class="facts derived stacked">
        <caption>{REFERRAL_EN.whyDerived}</caption>
        <thead><tr>{[REFERRAL_EN.columnWhat, REFERRAL_EN.columnValue, REFERRAL_EN.columnFrom].map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
        <tbody>
          {derived.map((d) => (
            <tr key={d.key}>
              <th scope="row"><abbr title={REFERRAL_EN[`meaning-${d.key}`]}>{REFERRAL_EN[`derived-${d.key}`]}</abbr></th>
              <td data-name={REFERRAL_EN.columnValue}><DerivedValue derived={d} /></td>
              <td class="soft" data-name={REFERRAL_EN.columnFrom}>{d.origin.source}{d.origin.edition === '-' ? '' : `, ${d.origin.edition}`}{d.origin.status === 'M' && <> <span class="tag">{REFERRAL_EN.unverified}</span></>}</td>
            </tr>
          ))}
        </tbody>
      </table>
      <p class="soft">{REFERRAL_EN.derivedNote}</p>
    </>
  );
}

function DerivedValue({ derived: { value, low, high, unit, digits, missing, key } }: { readonly derived: Derived }): ComponentChildren {
  if (value === null) return <span class="soft">{missing.length > 0 ? formatText(REFERRAL_EN, 'missing', { list: missing.map(nameEntry).join(', ') }) : REFERRAL_EN.notAdult}</span>;
  const say = (v: number | null): string => formatNumber(v ?? value, digits);
  return (
    <>
      <span class="value">{say(value)} {unit}</span>{' '}
      {key !== 'age' && <span class="interval">({say(low)}–{say(high)})</span>}
    </>
  );
}

function Doubts({ state, derived }: { readonly state: CaseState; readonly derived: readonly Derived[] }) {
  const { referral } = state;
  const said = [
    ...listLonelyLengths(referral).map((id) => formatText(REFERRAL_EN, 'lonelyLength', { what: REFERRAL_EN[id as ReferralFieldId] })),
    ...(referral['frailty.cannotWalk']?.value === true && referral['frailty.fiveMetresS'] ? [REFERRAL_EN.doubtWalk] : []),
    ...([['risk.stsPercent', 'risk.stsVersion'], ['risk.euroscorePercent', 'risk.euroscoreVersion']] as const)
      .filter(([score, version]) => referral[score] && !referral[version]).map(([score]) => formatText(REFERRAL_EN, 'doubtVersion', { what: REFERRAL_EN[score] })),
    ...(state.plan?.isStale && Object.entries(referral).some(([id, item]) => isPlanField(id) && item.seq > state.plan!.seq) ? [REFERRAL_EN.doubtPlan] : []),
    ...(derived.some((d) => d.origin.status === 'M' && d.value !== null) ? [REFERRAL_EN.doubtUnverified] : []),
  ];
  return said.length === 0 ? <p>{REPORT_EN.doubtNone}</p> : <>{said.map((s) => <div key={s} class="note"><p>{s}</p></div>)}</>;
}

function Nexts({ state, lacks }: { readonly state: CaseState; readonly lacks: readonly ReferralFieldId[] }) {
  const missing = new Set<string>(listMissing(state, null));
  return (
    <ul class="acts">
      {lacks.length > 0 && <li>{formatText(REFERRAL_EN, 'nextEnter', { list: lacks.map(nameEntry).join(', ') })}</li>}
      {missing.has('date') && <li>{REFERRAL_EN.nextDay}</li>}
      {listLonelyLengths(state.referral).length > 0 && <li>{REFERRAL_EN.lonelyLengthNext}</li>}
      {missing.has('scan') && <li><a href={`/case/${state.caseId}/scan`}>{REFERRAL_EN.nextScan}</a></li>}
      {!missing.has('date') && !missing.has('scan') && lacks.length + listLonelyLengths(state.referral).length === 0 && <li>{REPORT_EN.nextNothing}</li>}
    </ul>
  );
}
