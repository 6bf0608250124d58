import { useState } from 'preact/hooks';
import { checkEntryKind } from '../../core/case/entry-kinds.ts';
import type { EchoLine } from '../../core/case/fold-result.ts';
import { ECHO_FIELDS, ECHO_FIELD_CODES, ECHO_GROUPS, findMistakenUnit, isEchoField, type EchoEntries, type EchoFieldCode, type EchoGroup, type EchoNumberCode } from '../../core/echo/echo-fields.ts';
import { measureEcho } from '../../core/echo/measure-echo.ts';
import { readHalfWidths } from '../../core/echo/read-half-widths.ts';
import type { EchoAnswer } from '../../core/echo/echo-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { ECHO_EN } from '../../core/text/echo-en.ts';
import { REFERRAL_EN } from '../../core/text/referral-en.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import type { EchoFileAnswer } from '../../formats/api/result-schemas.ts';
import { BECAUSE_HEADER } from '../../formats/api/run-schemas.ts';
import { sendFile, type ApiResult } from '../api/call-api.ts';
import { sayMoment } from '../parts/days.ts';
import { Field } from '../parts/field.tsx';
import { addEvents, caseState } from '../state/open-case.ts';
import { canSeeIndices } from '../state/result.ts';
import { may, session } from '../state/session.ts';
import { EchoDerived } from './echo-derived.tsx';
import { EchoPicture } from './echo-picture.tsx';
import { EntryControl } from '../parts/entry-control.tsx';
import { FilePlace } from './file-place.tsx';
import { findCounting, readTakenAt } from './find-counting.ts';
import { readMoment } from './moments.ts';
import { readEchoKnown } from './read-echo-known.ts';
import { sayUnit } from './say-unit.ts';
import { WitnessCare } from './witness-care.tsx';

/** Groups whose values read as a grade: a colleague's are hidden until one's own is stored. */
const SEALED_GROUPS: ReadonlySet<EchoGroup> = new Set(['leak', 'isovelocity', 'jets']);
/** Opened when asked for: few studies need them. */
const FOLDED: ReadonlySet<EchoGroup> = new Set(['isovelocity', 'jets', 'clock']);
const me = (): string => session.value?.person?.personId ?? '';

export function isSealed(echo: EchoLine, code: EchoFieldCode): boolean {
  const item = echo.entries[code];
  return item !== undefined && item.by !== me() && SEALED_GROUPS.has(ECHO_FIELDS[code].group) && !canSeeIndices();
}

/** Echo: the study that counts, its entries with what they contradict, reports, pictures and what follows from it all. */
export function EchoPanel() {
  const state = caseState.value;
  const [opened, setOpened] = useState<string | null>(null);
  if (!state) return null;
  const { echoes } = state.result;
  const counts = findCounting(echoes)?.echoId ?? null;
  const shown = echoes.find((e) => e.echoId === opened) ?? echoes.find((e) => e.echoId === counts) ?? echoes.at(-1) ?? null;
  return (
    <section class="witness-panel" id="result-echo" aria-labelledby="echo-name">
      <h4 id="echo-name">{RESULT_PAGE_EN.echoTitle}</h4>
      {may('edit') && <BeginEcho hasOne={echoes.length > 0} onBegun={setOpened} />}
      {echoes.length > 1 && (
        <ul class="witness-list">
          {echoes.slice().reverse().map((e) => (
            <li key={e.echoId}>
              <button type="button" class="quiet" aria-expanded={shown?.echoId === e.echoId} onClick={() => setOpened(e.echoId)}>{formatText(RESULT_PAGE_EN, 'echoLine', { at: sayMoment(readTakenAt(e)), count: Object.keys(e.entries).length })}</button>{' '}
              {e.echoId === counts && <b>{RESULT_PAGE_EN.counts}</b>}{e.withdrawn && <span class="tag">{RESULT_PAGE_EN.withdrawnTag}</span>}
            </li>
          ))}
        </ul>
      )}
      {shown ? <EchoView key={shown.echoId} echo={shown} /> : <p class="soft">{RESULT_PAGE_EN.noEcho}</p>}
    </section>
  );
}

function BeginEcho({ hasOne, onBegun }: { readonly hasOne: boolean; readonly onBegun: (echoId: string) => void }) {
  const [at, setAt] = useState('');
  const [isWrong, setWrong] = useState(false);
  const begin = async (event: SubmitEvent): Promise<void> => {
    event.preventDefault();
    const takenAt = at.trim() === '' ? new Date().toISOString() : readMoment(at, new Date());
    setWrong(takenAt === null);
    if (takenAt === null) return;
    const echoId = `echo-${crypto.randomUUID()}`;
    const answer = await addEvents([{ kind: 'echo.begun', data: { echoId, takenAt } }]);
    if (answer.ok) onBegun(echoId);
  };
  const form = (
    <form class="row" onSubmit={(e) => void begin(e)}>
      <Field label={RESULT_PAGE_EN.moment} problem={isWrong ? RESULT_PAGE_EN.momentWrong : undefined}>{(p) => <input {...p} class="moment" placeholder={RESULT_PAGE_EN.momentNow} maxLength={19} autocomplete="off" value={at} onInput={(e) => setAt(e.currentTarget.value)} />}</Field>
      <button type="submit" class={hasOne ? '' : 'main'}>{RESULT_PAGE_EN.beginEcho}</button>
    </form>
  );
  return hasOne ? <details><summary class="act">{RESULT_PAGE_EN.beginAnotherEcho}</summary>{form}</details> : form;
}

/** The entries measured as they stand; the page needs no server for it. */
function measure(echo: EchoLine): EchoAnswer {
  const entries = Object.fromEntries(Object.entries(echo.entries).map(([code, item]) => [code, item.value])) as EchoEntries;
  const { context, rules } = readEchoKnown();
  return measureEcho(entries, { ...context, halfWidths: readHalfWidths(echo) }, rules, { by: me(), at: echo.takenAt });
}

function EchoView({ echo }: { readonly echo: EchoLine }) {
  const state = caseState.value!;
  const [opened, setOpened] = useState<string | null>(null);
  const [findings, setFindings] = useState<EchoFileAnswer['findings']>([]);
  const answer = measure(echo);
  const checks = answer.checks.filter((c) => !c.fields.some((code) => isSealed(echo, code)));
  const sealed = ECHO_FIELD_CODES.filter((code) => isSealed(echo, code)).length;
  const send = async (files: readonly File[], because: string | null, tell: (ratio: number) => void): Promise<ApiResult<unknown>> => {
    const sent = await sendFile('addEchoFile', { params: { caseId: state.caseId, echoId: echo.echoId } }, files[0]!, tell, because === null ? {} : { [BECAUSE_HEADER]: encodeURIComponent(because) });
    if (sent.ok) {
      setFindings(sent.value.findings);
      if (sent.value.is === 'picture') setOpened(sent.value.blobSha256);
    }
    return sent;
  };
  const pictures = echo.files.filter((f) => f.is === 'picture');
  const picture = pictures.find((f) => f.blobSha256 === opened) ?? null;
  return (
    <div class="witness-view">
      <FilePlace label={RESULT_PAGE_EN.handEcho} help={RESULT_PAGE_EN.handEchoHelp} send={send} />
      {findings.length > 0 && <ul class="plain">{findings.map((f, i) => <li key={`${f.code} ${i}`}>{f.text} <span class="soft">{f.next}</span></li>)}</ul>}
      {pictures.length > 0 && (
        <p class="row">
          {pictures.map((f, i) => <button key={f.blobSha256} type="button" aria-pressed={opened === f.blobSha256} onClick={() => setOpened(opened === f.blobSha256 ? null : f.blobSha256)}>{formatText(RESULT_PAGE_EN, 'pictureNumber', { number: i + 1 })}</button>)}
        </p>
      )}
      {picture && <EchoPicture key={picture.blobSha256} caseId={state.caseId} echo={echo} blobSha256={picture.blobSha256} />}
      {checks.length > 0 && (
        <section class="contradictions" aria-label={RESULT_PAGE_EN.contradictions} aria-live="polite">
          <h5>{RESULT_PAGE_EN.contradictions}</h5>
          {checks.map((c, i) => <div key={`${c.code} ${i}`} class="note" data-code={c.code}><p>{c.weight !== 'tell' && <span class="tag">{RESULT_PAGE_EN[`weight-${c.weight}`]}</span>} {c.text}</p><p class="soft">{c.next}</p></div>)}
        </section>
      )}
      {sealed > 0 && <p class="sealed">{formatText(RESULT_PAGE_EN, 'echoSealed', { count: sealed })}</p>}
      <div class="entries">
        {ECHO_GROUPS.map((group) => <EchoFieldset key={group} group={group} echo={echo} answer={answer} />)}
      </div>
      <EchoDerived answer={answer} canSeeLeak={sealed === 0} />
      <WitnessCare key={`${echo.echoId} ${echo.note?.seq ?? 0}`} of={echo.echoId} takenAt={echo.takenAt} ratePerMin={answer.flow.heartRate.value} witness={echo} />
    </div>
  );
}

function EchoFieldset({ group, echo, answer }: { readonly group: EchoGroup; readonly echo: EchoLine; readonly answer: EchoAnswer }) {
  const codes = ECHO_FIELD_CODES.filter((c) => ECHO_FIELDS[c].group === group);
  const grid = <div class="grid">{codes.map((code) => <div key={code}><EchoEntryControl code={code} echo={echo} answer={answer} /></div>)}</div>;
  const entered = codes.filter((c) => echo.entries[c] !== undefined).length;
  if (!FOLDED.has(group)) return <fieldset><legend>{ECHO_EN[`group-${group}`]}</legend>{grid}</fieldset>;
  return (
    <details class="fieldset">
      <summary class="act">{ECHO_EN[`group-${group}`]}{entered > 0 && ` (${entered})`}</summary>
      {grid}
    </details>
  );
}

function EchoEntryControl({ code, echo, answer }: { readonly code: EchoFieldCode; readonly echo: EchoLine; readonly answer: EchoAnswer }) {
  const field = ECHO_FIELDS[code];
  const label = ECHO_EN[`field-${code}`];
  if (isSealed(echo, code)) return <div class="field"><span class="sealed-label">{label}</span><p class="help">{RESULT_PAGE_EN.sealedShort}</p></div>;
  const item = echo.entries[code];
  const remark = answer.checks.find((c) => c.weight !== 'tell' && c.fields.includes(code) && !c.fields.some((other) => isSealed(echo, other)));
  return (
    <EntryControl
      field={field} label={label} unit={field.kind === 'number' ? sayUnit(field.unit) : undefined} remark={remark ? RESULT_PAGE_EN.contradicted : undefined} isLocked={echo.withdrawn !== null}
      readItem={() => caseState.peek()?.result.echoes.find((e) => e.echoId === echo.echoId)?.entries[code] ?? null}
      check={(value) => {
        const wrong = checkEntryKind(field, value);
        if (wrong === null) return null;
        if (wrong !== 'out-of-bounds' || field.kind !== 'number') return formatText(REFERRAL_EN, `problem-${wrong}` as 'problem-not-a-number');
        const bounds = formatText(REFERRAL_EN, 'problem-out-of-bounds', { low: field.low, high: field.high, unit: sayUnit(field.unit) });
        const meant = isEchoField(code) ? findMistakenUnit(code as EchoNumberCode, value) : null;
        return meant === null ? bounds : `${bounds} ${formatText(RESULT_PAGE_EN, 'mistakenUnit', { unit: sayUnit(meant) })}`;
      }}
      makeEvent={(value) => ({ kind: 'echo.entered', data: { echoId: echo.echoId, field: code, value, trace: null } })}
      key={`${code} ${item?.from ?? ''}`}
    />
  );
}
