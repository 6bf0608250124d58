import { useState } from 'preact/hooks';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';
import { callApi, type ApiFailure } from '../api/call-api.ts';
import { Field } from '../parts/field.tsx';
import { ThemeChoice } from '../parts/head.tsx';
import { FailureNotice } from '../parts/notice.tsx';
import { useTitle } from '../parts/title.ts';
import { takeSession } from '../state/session.ts';

/** Why a log-in by the issuer brought nobody in: its way back carries the code. */
const REFUSED: Readonly<Record<string, readonly [message: string, nextStep: string]>> = {
  'oidc-state-wrong': [SERVER_EN.oidcStateWrong, SERVER_EN.oidcStateWrongNext],
  'oidc-refused': [SERVER_EN.oidcRefused, SERVER_EN.oidcRefusedNext],
  'oidc-nobody': [SERVER_EN.oidcNobody, SERVER_EN.oidcNobodyNext],
  'store-unreachable': [SERVER_EN.storeUnreachable, SERVER_EN.storeUnreachableNext],
};
function readRefusal(): ApiFailure | null {
  const code = new URLSearchParams(location.search).get('refused') ?? '';
  const words = REFUSED[code];
  return words ? { code, message: words[0], nextStep: words[1], status: 0, evidence: {}, newer: [] } : null;
}

export function LogInPage({ oidcLabel }: { readonly oidcLabel: string | null }) {
  useTitle(DESK_EN.logInTitle);
  const [failure, setFailure] = useState<ApiFailure | null>(readRefusal);
  const [isBusy, setBusy] = useState(false);
  const logIn = async (event: SubmitEvent): Promise<void> => {
    event.preventDefault();
    const data = new FormData(event.currentTarget as HTMLFormElement);
    setBusy(true);
    const answer = await callApi('openSession', { body: { login: String(data.get('login')).trim().toLowerCase(), password: String(data.get('password')) } });
    setBusy(false);
    if (answer.ok) takeSession(answer.value);
    else setFailure(answer.failure);
  };
  const here = encodeURIComponent(location.pathname + location.search);
  return (
    <main class="alone" id="main">
      <p class="name">{DESK_EN.name}</p>
      <h1>{DESK_EN.logInTitle}</h1>
      {failure && <FailureNotice failure={failure} />}
      <form onSubmit={(e) => void logIn(e)}>
        <Field label={DESK_EN.login}>{(p) => <input {...p} name="login" autocomplete="username" autocapitalize="none" spellcheck={false} required maxLength={40} autofocus />}</Field>
        <Field label={DESK_EN.password}>{(p) => <input {...p} name="password" type="password" autocomplete="current-password" required maxLength={200} />}</Field>
        <button type="submit" class="main" disabled={isBusy}>{DESK_EN.logIn}</button>
      </form>
      {oidcLabel !== null && <p>{DESK_EN.logInOr} <a href={`/oidc/start?to=${here}`}>{formatText(DESK_EN, 'logInOidc', { label: oidcLabel })}</a></p>}
      <ThemeChoice />
      <p class="caution">{HOUSE_EN.caution}</p>
    </main>
  );
}
