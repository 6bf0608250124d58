import { useLocation } from 'preact-iso';
import { useState } from 'preact/hooks';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { callApi, type ApiFailure } from '../api/call-api.ts';
import { Field } from '../parts/field.tsx';
import { FailureNotice } from '../parts/notice.tsx';
import { useTitle } from '../parts/title.ts';
import { takeSession } from '../state/session.ts';

/** The token stands behind the # of the printed address: that part is never sent, and is wiped once it was read. */
function readToken(): string {
  const token = location.hash.slice(1).replace(/^token=/, '');
  if (token) history.replaceState(null, '', '/');
  return token;
}

export function FirstStartPage() {
  useTitle(DESK_EN.firstTitle);
  const { route } = useLocation();
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const [isBusy, setBusy] = useState(false);
  const [differs, setDiffers] = useState(false);
  const [token] = useState(readToken);
  const make = async (event: SubmitEvent): Promise<void> => {
    event.preventDefault();
    const data = new FormData(event.currentTarget as HTMLFormElement);
    const text = (name: string): string => String(data.get(name) ?? '');
    setDiffers(text('password') !== text('again'));
    if (text('password') !== text('again')) return;
    setBusy(true);
    const answer = await callApi('addFirstPerson', { body: { startToken: text('token').trim(), login: text('login').trim(), displayName: text('displayName').trim(), password: text('password') } });
    setBusy(false);
    if (!answer.ok) return setFailure(answer.failure);
    route('/', true); // the printed address is no page
    takeSession(answer.value);
  };
  return (
    <main class="alone" id="main">
      <p class="name">{DESK_EN.name}</p>
      <h1>{DESK_EN.firstTitle}</h1>
      <p>{DESK_EN.firstSay}</p>
      <div class="notice"><b class="tag">{DESK_EN.intended}</b><p>{HOUSE_EN.caution}</p></div>
      {failure && <FailureNotice failure={failure} />}
      <form onSubmit={(e) => void make(e)}>
        <Field label={DESK_EN.firstToken} help={DESK_EN.firstTokenHelp}>{(p) => <input {...p} name="token" required maxLength={80} defaultValue={token} autocomplete="off" spellcheck={false} />}</Field>
        <Field label={DESK_EN.login} help={DESK_EN.loginHelp}>{(p) => <input {...p} name="login" required pattern="[a-z0-9][a-z0-9._\-]{1,39}" autocomplete="username" autocapitalize="none" spellcheck={false} />}</Field>
        <Field label={DESK_EN.displayName}>{(p) => <input {...p} name="displayName" required maxLength={80} autocomplete="name" />}</Field>
        <Field label={DESK_EN.password} help={DESK_EN.passwordHelp}>{(p) => <input {...p} name="password" type="password" required minLength={12} maxLength={200} autocomplete="new-password" />}</Field>
        <Field label={DESK_EN.passwordAgain} problem={differs ? DESK_EN.passwordDiffers : undefined}>{(p) => <input {...p} name="again" type="password" required maxLength={200} autocomplete="new-password" />}</Field>
        <button type="submit" class="main" disabled={isBusy}>{DESK_EN.makeAccount}</button>
      </form>
    </main>
  );
}
