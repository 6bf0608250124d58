import { useLocation } from 'preact-iso';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { askLogOut, may, session } from '../state/session.ts';
import { setTheme, theme, THEMES, type Theme } from '../state/theme.ts';
import { LogOutWarning } from './log-out.tsx';

/** The line on top of every page: where else to go, the light, who is logged in. */
export function Head() {
  const { path } = useLocation();
  const person = session.value?.person;
  const link = (href: string, text: string) => <a href={href} {...(path === href ? { 'aria-current': 'page' as const } : {})}>{text}</a>;
  return (
    <header class="head">
      <nav aria-label={DESK_EN.mainLinks}>
        <a class="name" href="/">{DESK_EN.name}</a>
        {link('/', DESK_EN.workList)}
        {link('/tables', DESK_EN.tables)}
        {may('audit') && link('/audit', DESK_EN.audit)}
        {may('people') && link('/people', DESK_EN.people)}
      </nav>
      <div class="who">
        <ThemeChoice />
        {person && <a href="/account">{formatText(DESK_EN, 'loggedInAs', { name: person.displayName, role: DESK_EN[`role-${person.role}`] })}</a>}
        <button type="button" class="quiet" onClick={() => void askLogOut()}>{DESK_EN.logOut}</button>
      </div>
      <LogOutWarning />
    </header>
  );
}

export function ThemeChoice() {
  return (
    <label class="inline">
      <span>{DESK_EN.theme}</span>
      <select value={theme.value} title={DESK_EN.themeChoice} onChange={(e) => setTheme(e.currentTarget.value as Theme)}>
        {THEMES.map((t) => <option key={t} value={t}>{DESK_EN[`theme-${t}`]}</option>)}
      </select>
    </label>
  );
}
