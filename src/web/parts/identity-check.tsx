import { useState } from 'preact/hooks';
import { formatText } from '../../core/text/catalogue.ts';
import { HUDDLE_PAGE_EN } from '../../core/text/huddle-page-en.ts';
import { REFERRAL_EN } from '../../core/text/referral-en.ts';
import type { ApiFailure } from '../api/call-api.ts';
import { checkIdentity, type IdentityAnswer } from '../state/freeze.ts';
import { nameOf } from '../state/names.ts';
import { caseState } from '../state/open-case.ts';
import { may } from '../state/session.ts';
import { isDate, sayMoment } from './days.ts';
import { Field } from './field.tsx';
import { FailureNotice } from './notice.tsx';

/** Two identifiers read from the patient, compared with the case. Nothing that was typed stays on the page. */
export function IdentityCheck() {
  const check = caseState.value?.identityCheck ?? null;
  const [answer, setAnswer] = useState<IdentityAnswer | null>(null);
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const [problem, setProblem] = useState<{ readonly date?: string; readonly form?: string }>({});
  const compare = (event: SubmitEvent): void => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const read = Object.fromEntries([...new FormData(form)].map(([k, v]) => [k, String(v).trim()] as const).filter(([, v]) => v !== ''));
    if (read['birthDate'] !== undefined && !isDate(read['birthDate'])) return setProblem({ date: REFERRAL_EN['problem-not-a-date'] });
    if (Object.keys(read).length < 2) return setProblem({ form: HUDDLE_PAGE_EN.identityTwo });
    setProblem({});
    void checkIdentity(read).then((told) => {
      setAnswer(told.ok ? told.value : null);
      setFailure(told.ok ? null : told.failure);
      if (told.ok) form.reset();
    });
  };
  return (
    <section class="identity" aria-labelledby="identity-name">
      <h3 id="identity-name">{HUDDLE_PAGE_EN.identityTitle}</h3>
      <p role="status" class={check?.verdict === 'same' ? 'verdict' : 'verdict doubtful'}>
        <b>{check ? HUDDLE_PAGE_EN[`identity-${check.verdict}`] : HUDDLE_PAGE_EN.identityNone}</b>{' '}
        {check && <span class="soft">{formatText(HUDDLE_PAGE_EN, 'identityBy', { who: nameOf(check.by), at: sayMoment(check.at) })}</span>}
      </p>
      {answer && <p>{answer.fields.map((f) => `${HUDDLE_PAGE_EN[`fieldName-${f.field}` as keyof typeof HUDDLE_PAGE_EN] ?? f.field}: ${HUDDLE_PAGE_EN[`field-${f.result}`]}`).join('; ')}.</p>}
      {failure && <FailureNotice failure={failure} />}
      {may('edit') && (
        <form class="row" onSubmit={compare} autocomplete="off">
          <p class="help">{HUDDLE_PAGE_EN.identitySay}</p>
          <Field label={HUDDLE_PAGE_EN.identityNumber}>{(p) => <input {...p} name="patientId" maxLength={64} autocomplete="off" spellcheck={false} />}</Field>
          <Field label={HUDDLE_PAGE_EN.identityBorn} problem={problem.date}>{(p) => <input {...p} name="birthDate" class="short" inputMode="numeric" placeholder={REFERRAL_EN.dateForm} maxLength={10} autocomplete="off" />}</Field>
          <Field label={HUDDLE_PAGE_EN.identityName} problem={problem.form}>{(p) => <input {...p} name="name" maxLength={120} autocomplete="off" spellcheck={false} />}</Field>
          <button type="submit">{HUDDLE_PAGE_EN.identityCompare}</button>
        </form>
      )}
    </section>
  );
}
