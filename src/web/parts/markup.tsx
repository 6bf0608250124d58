import { useLayoutEffect, useRef } from 'preact/hooks';
import { DESK_EN } from '../../core/text/desk-en.ts';

/**
 * Puts HTML that formats/report made on the page: the only place that does. Every text in it went through escapeText.
 * What a reader opened stays open, and what had the focus keeps it, when the same section comes with new numbers.
 */
export function Markup({ html, className }: { readonly html: string; readonly className?: string }) {
  const place = useRef<HTMLDivElement>(null);
  useLayoutEffect(() => {
    const element = place.current;
    if (!element) return;
    const kept = noteState(element);
    element.innerHTML = html;
    restoreState(element, kept);
  }, [html]);
  useLayoutEffect(() => {
    const element = place.current;
    element?.addEventListener('toggle', addCopy, true); // toggle does not bubble
    return () => element?.removeEventListener('toggle', addCopy, true);
  }, []);
  return <div {...(className === undefined ? {} : { class: className })} ref={place} />;
}

interface Kept {
  readonly open: ReadonlySet<string>;
  readonly focus: string | null;
  readonly scroll: readonly number[];
}
const keyOf = (details: Element, i: number): string => details.getAttribute('data-path') ?? `${details.className} ${i}`;
const listDetails = (element: HTMLElement): HTMLDetailsElement[] => [...element.querySelectorAll('details')];
const listScrolls = (element: HTMLElement): HTMLElement[] => [...element.querySelectorAll<HTMLElement>('.scroll')];

function noteState(element: HTMLElement): Kept {
  const details = listDetails(element);
  const focused = document.activeElement?.closest('details');
  return {
    open: new Set(details.flatMap((d, i) => (d.open ? [keyOf(d, i)] : []))),
    focus: focused && element.contains(focused) ? keyOf(focused, details.indexOf(focused)) : null,
    scroll: listScrolls(element).map((s) => s.scrollLeft),
  };
}
function restoreState(element: HTMLElement, kept: Kept): void {
  if (kept.open.size > 0 || kept.focus !== null) {
    listDetails(element).forEach((d, i) => {
      if (kept.open.has(keyOf(d, i))) d.open = true;
      if (kept.focus === keyOf(d, i)) d.querySelector('summary')?.focus({ preventScroll: true });
    });
  }
  listScrolls(element).forEach((s, i) => (s.scrollLeft = kept.scroll[i] ?? 0));
}

/** An opened number offers itself for copying. */
function addCopy(event: Event): void {
  const details = event.target as HTMLDetailsElement;
  const inside = details.querySelector(':scope > .inside');
  if (!details.open || !details.classList.contains('fact') || !inside || inside.querySelector('button')) return;
  const button = document.createElement('button');
  button.type = 'button';
  button.className = 'quiet';
  button.textContent = DESK_EN.copy;
  button.addEventListener('click', () => {
    const text = details.querySelector('summary')?.textContent?.replace(/\s+/g, ' ').trim() ?? '';
    void navigator.clipboard.writeText(text).then(() => (button.textContent = DESK_EN.copied), () => undefined);
  });
  inside.append(button);
}
