import { useState } from 'preact/hooks';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { HOUSE_PAGES_EN } from '../../core/text/house-pages-en.ts';
import { callApi, type ApiFailure } from '../api/call-api.ts';
import { Field } from '../parts/field.tsx';
import { FailureNotice } from '../parts/notice.tsx';
import { useTitle } from '../parts/title.ts';
import { session } from '../state/session.ts';

/** One's own account. */
export function AccountPage() {
  useTitle(HOUSE_PAGES_EN.accountTitle);
  const person = session.value?.person;
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const [isDone, setDone] = useState(false);
  const [differs, setDiffers] = useState(false);
  if (!person) return null;
  const change = async (event: SubmitEvent): Promise<void> => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const data = new FormData(form);
    // No control may be called "is": the page's library would take the form's own `is` for a custom element's.
    const [was, is, again] = ['was', 'wanted', 'again'].map((name) => String(data.get(name) ?? ''));
    setDone(false);
    setDiffers(is !== again);
    if (is !== again) return;
    const answer = await callApi('changeOwnPassword', { body: { was: was!, is: is! } });
    setFailure(answer.ok ? null : answer.failure);
    setDone(answer.ok);
    if (answer.ok) form.reset();
  };
  return (
    <section class="page">
      <h1>{HOUSE_PAGES_EN.accountTitle}</h1>
      <p>{formatText(HOUSE_PAGES_EN, 'accountSay', { name: person.displayName, login: person.login, role: DESK_EN[`role-${person.role}`] })}</p>
      {failure && <FailureNotice failure={failure} />}
      {isDone && <p role="status"><b>{HOUSE_PAGES_EN.changed}</b></p>}
      {!person.hasPassword ? <p>{HOUSE_PAGES_EN.noPassword}</p> : (
        <form onSubmit={(e) => void change(e)}>
          <h2>{HOUSE_PAGES_EN.passwordTitle}</h2>
          <input type="text" name="username" autocomplete="username" value={person.login} hidden readOnly />
          <Field label={HOUSE_PAGES_EN.passwordWas}>{(p) => <input {...p} name="was" type="password" required maxLength={200} autocomplete="current-password" />}</Field>
          <Field label={HOUSE_PAGES_EN.passwordIs} help={DESK_EN.passwordHelp}>{(p) => <input {...p} name="wanted" type="password" required minLength={12} maxLength={200} autocomplete="new-password" />}</Field>
          <Field label={DESK_EN.passwordAgain} problem={differs ? DESK_EN.passwordDiffers : undefined}>{(p) => <input {...p} name="again" type="password" required maxLength={200} autocomplete="new-password" />}</Field>
          <button type="submit" class="main">{HOUSE_PAGES_EN.change}</button>
        </form>
      )}
    </section>
  );
}
