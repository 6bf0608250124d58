import { signal } from '@preact/signals';

/** Desk: light. Room: dark, high contrast. Auto: as the reader's machine is set. */
export type Theme = 'auto' | 'desk' | 'room';
export const THEMES: readonly Theme[] = ['auto', 'desk', 'room'];
const KEY = 'trinadir.theme';

/** Storage may be switched off; the theme is then that of this visit. */
function readStored(): Theme {
  try {
    const stored = localStorage.getItem(KEY);
    return THEMES.find((t) => t === stored) ?? 'auto';
  } catch {
    return 'auto';
  }
}
export const theme = signal<Theme>('auto');

export function setTheme(next: Theme): void {
  theme.value = next;
  if (next === 'auto') delete document.documentElement.dataset['theme'];
  else document.documentElement.dataset['theme'] = next;
  try {
    localStorage.setItem(KEY, next);
  } catch {
    // see readStored
  }
}
export function restoreTheme(): void {
  setTheme(readStored());
}
