import { useEffect, useState } from 'preact/hooks';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { HOUSE_PAGES_EN } from '../../core/text/house-pages-en.ts';
import { callApi, type ApiAnswer, type ApiFailure, type ApiResult } from '../api/call-api.ts';
import { Field } from '../parts/field.tsx';
import { FailureNotice } from '../parts/notice.tsx';
import { useTitle } from '../parts/title.ts';
import { session, type Role } from '../state/session.ts';

type PersonLine = ApiAnswer<'listPeople'>[number];
const ROLES: readonly Role[] = ['viewer', 'planner', 'operator', 'programme', 'admin'];

/** Accounts. Nothing is deleted: an account that ended stays in the events it made. */
export function PeoplePage() {
  useTitle(HOUSE_PAGES_EN.peopleTitle);
  const [people, setPeople] = useState<readonly PersonLine[] | null>(null);
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const read = async (): Promise<void> => {
    const answer = await callApi('listPeople');
    if (answer.ok) setPeople(answer.value);
    else setFailure(answer.failure);
  };
  useEffect(() => void read(), []);
  const settle = async (answer: ApiResult<unknown>): Promise<boolean> => {
    setFailure(answer.ok ? null : answer.failure);
    await read();
    return answer.ok;
  };
  return (
    <div>
      <section class="page">
        <h1>{HOUSE_PAGES_EN.peopleTitle}</h1>
        {failure && <FailureNotice failure={failure} />}
        {!people && !failure && <p role="status">{DESK_EN.loading}</p>}
        {people && (
          <table class="stacked">
            <thead><tr>{[HOUSE_PAGES_EN.columnName, HOUSE_PAGES_EN.columnLogin, HOUSE_PAGES_EN.columnRole, HOUSE_PAGES_EN.columnWays, HOUSE_PAGES_EN.columnActive, HOUSE_PAGES_EN.newPassword].map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
            <tbody>{people.map((p) => <PersonRow key={p.personId} person={p} onDone={settle} />)}</tbody>
          </table>
        )}
        <p class="soft">{HOUSE_PAGES_EN.roleHelp}</p>
      </section>
      <AddPerson onDone={settle} />
    </div>
  );
}

function PersonRow({ person, onDone }: { readonly person: PersonLine; readonly onDone: (answer: ApiResult<unknown>) => Promise<boolean> }) {
  const change = async (body: { role?: Role; isActive?: boolean; password?: string }): Promise<boolean> => onDone(await callApi('changePerson', { params: { personId: person.personId }, body }));
  const isSelf = session.value?.person?.personId === person.personId;
  const ways = [person.hasPassword ? HOUSE_PAGES_EN.waysPassword : '', person.hasOidc ? HOUSE_PAGES_EN.waysOidc : ''].filter((w) => w !== '');
  const setPassword = (event: SubmitEvent): void => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    void change({ password: String(new FormData(form).get('password')) }).then((isDone) => isDone && form.reset());
  };
  return (
    <tr>
      <th scope="row">{person.displayName}</th>
      <td data-name={HOUSE_PAGES_EN.columnLogin}>{person.login}</td>
      <td data-name={HOUSE_PAGES_EN.columnRole}>
        <select aria-label={`${HOUSE_PAGES_EN.columnRole}, ${person.displayName}`} value={person.role} disabled={isSelf} title={isSelf ? HOUSE_PAGES_EN.lastAdmin : undefined} onChange={(e) => void change({ role: e.currentTarget.value as Role })}>
          {ROLES.map((r) => <option key={r} value={r}>{DESK_EN[`role-${r}`]}</option>)}
        </select>
      </td>
      <td data-name={HOUSE_PAGES_EN.columnWays}>{ways.length > 0 ? ways.join(', ') : <span class="soft">{HOUSE_PAGES_EN.waysNone}</span>}</td>
      <td data-name={HOUSE_PAGES_EN.columnActive}>
        {person.isActive ? DESK_EN.yes : <span class="tag">{HOUSE_PAGES_EN.stopped}</span>}{' '}
        {!isSelf && <button type="button" class="quiet" onClick={() => void change({ isActive: !person.isActive })}>{person.isActive ? HOUSE_PAGES_EN.stop : HOUSE_PAGES_EN.letIn}<span class="hidden">, {person.displayName}</span></button>}
      </td>
      <td data-name={HOUSE_PAGES_EN.newPassword}>
        <form class="inline" onSubmit={setPassword}>
          <input name="password" type="password" autocomplete="new-password" required minLength={12} maxLength={200} size={10} aria-label={`${HOUSE_PAGES_EN.newPassword}, ${person.displayName}`} />
          <button type="submit" class="quiet">{HOUSE_PAGES_EN.setPassword}</button>
        </form>
      </td>
    </tr>
  );
}

function AddPerson({ onDone }: { readonly onDone: (answer: ApiResult<unknown>) => Promise<boolean> }) {
  const add = async (event: SubmitEvent): Promise<void> => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const data = new FormData(form);
    const text = (name: string): string => String(data.get(name) ?? '').trim();
    const password = String(data.get('password') ?? '');
    const answer = await callApi('addPerson', { body: { login: text('login'), displayName: text('displayName'), role: text('role') as Role, password: password === '' ? null : password } });
    if (await onDone(answer)) form.reset();
  };
  return (
    <section class="page" aria-labelledby="add-person">
      <h2 id="add-person">{HOUSE_PAGES_EN.addTitle}</h2>
      <form class="row" onSubmit={(e) => void add(e)}>
        <Field label={DESK_EN.displayName}>{(p) => <input {...p} name="displayName" required maxLength={80} autocomplete="off" />}</Field>
        <Field label={DESK_EN.login} help={DESK_EN.loginHelp}>{(p) => <input {...p} name="login" required pattern="[a-z0-9][a-z0-9._\-]{1,39}" autocapitalize="none" spellcheck={false} autocomplete="off" />}</Field>
        <Field label={HOUSE_PAGES_EN.columnRole}>{(p) => <select {...p} name="role">{ROLES.map((r) => <option key={r} value={r}>{DESK_EN[`role-${r}`]}</option>)}</select>}</Field>
        <Field label={HOUSE_PAGES_EN.addPassword} help={HOUSE_PAGES_EN.addPasswordHelp}>{(p) => <input {...p} name="password" type="password" minLength={12} maxLength={200} autocomplete="new-password" />}</Field>
        <button type="submit" class="main">{HOUSE_PAGES_EN.add}</button>
      </form>
    </section>
  );
}
