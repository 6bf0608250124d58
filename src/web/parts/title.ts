import { useEffect } from 'preact/hooks';
import { DESK_EN } from '../../core/text/desk-en.ts';

/** Title of the browser's tab. Never a patient's name: titles stand in histories and on shared screens. */
export function useTitle(...parts: readonly string[]): void {
  const title = [...parts.filter((p) => p !== ''), DESK_EN.name].join(' – ');
  useEffect(() => {
    document.title = title;
  }, [title]);
}
