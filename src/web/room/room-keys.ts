import { signal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { findNextPhase, makePacingTap } from './next-taps.ts';
import { tap, undoLast } from './taps.ts';

const STORED = 'trinadir.roomKeys';
/** Single keys can be switched off (WCAG 2.1.4): voice control and tremor press letters that nobody means. */
export const areKeysOn = signal(true);
export function setKeys(isOn: boolean): void {
  areKeysOn.value = isOn;
  try {
    localStorage.setItem(STORED, isOn ? 'on' : 'off');
  } catch {
    // storage may be switched off: it holds for this visit
  }
}
function restoreKeys(): void {
  try {
    areKeysOn.value = localStorage.getItem(STORED) !== 'off';
  } catch {
    // see above
  }
}

const WORK: Readonly<Record<string, () => void>> = {
  n: () => {
    const phase = findNextPhase();
    if (phase !== null) tap({ is: 'phase', phase });
  },
  p: () => tap(makePacingTap()),
  u: () => tap({ is: 'moved', direction: 'up', mm: null }),
  d: () => tap({ is: 'moved', direction: 'down', mm: null }),
  r: () => tap({ is: 'recaptured', isWhole: true }),
  z: undoLast,
};

/** While the page is shown. Not while somebody types, not with Ctrl or Alt, and a held key is one tap. */
export function useRoomKeys(): void {
  useEffect(() => {
    restoreKeys();
    const press = (event: KeyboardEvent): void => {
      if (!areKeysOn.value || event.repeat || event.ctrlKey || event.altKey || event.metaKey || event.defaultPrevented) return;
      if (event.target instanceof Element && event.target.closest('input:not([type=radio]):not([type=checkbox]), select, textarea, [contenteditable], .depth-panel')) return;
      const work = WORK[event.key.toLowerCase()];
      if (!work) return;
      event.preventDefault();
      work();
    };
    addEventListener('keydown', press);
    return () => removeEventListener('keydown', press);
  }, []);
}
