import { useLocation } from 'preact-iso';
import { useEffect, useState } from 'preact/hooks';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { ROOM_EN } from '../../core/text/room-en.ts';
import { callApi, type ApiFailure } from '../api/call-api.ts';
import { Field } from '../parts/field.tsx';
import { FailureNotice } from '../parts/notice.tsx';
import { useTitle } from '../parts/title.ts';
import { takeSession } from '../state/session.ts';
import '../style/room.css';

/** How a phone or a wall comes in: by the code that the desk shows, typed or scanned. A scanned one is used at once. */
export function PairingEntry() {
  useTitle(ROOM_EN.pairEntryTitle);
  const { route } = useLocation();
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const [isBusy, setBusy] = useState(false);
  const enter = async (code: string): Promise<void> => {
    setBusy(true);
    const answer = await callApi('usePairing', { body: { code } });
    setBusy(false);
    if (!answer.ok) return setFailure(answer.failure);
    takeSession(answer.value);
    const { scope } = answer.value;
    if (scope) route(`/${scope.kind}/${scope.caseId}`, true);
  };
  useEffect(() => {
    const code = decodeURIComponent(location.hash.slice(1)).trim();
    if (code === '' || code.length > 20) return;
    history.replaceState(null, '', location.pathname); // good once: neither a history nor a glance keeps it
    void enter(code);
  }, []);
  const submit = (event: SubmitEvent): void => {
    event.preventDefault();
    const code = String(new FormData(event.currentTarget as HTMLFormElement).get('code')).trim();
    if (code !== '') void enter(code);
  };
  return (
    <main class="alone remote" id="main">
      <p class="name">{DESK_EN.name}</p>
      <h1>{ROOM_EN.pairEntryTitle}</h1>
      <p>{ROOM_EN.pairEntrySay}</p>
      {failure && <FailureNotice failure={failure} />}
      <form onSubmit={submit}>
        <Field label={ROOM_EN.pairCode}>{(p) => <input {...p} class="code" name="code" autocomplete="one-time-code" autocapitalize="characters" spellcheck={false} required maxLength={20} autofocus />}</Field>
        <button type="submit" class="tap main" disabled={isBusy}>{ROOM_EN.pairEnter}</button>
      </form>
      <p class="caution">{HOUSE_EN.caution}</p>
    </main>
  );
}
