import type { RefObject } from 'preact';
import { useEffect, useState } from 'preact/hooks';

/** Side of a square element in CSS px, followed while the page changes; 0 until it is laid out. */
export function useSide(place: RefObject<HTMLElement | null>): number {
  const [side, setSide] = useState(0);
  useEffect(() => {
    const element = place.current;
    if (!element) return;
    const observer = new ResizeObserver(() => setSide(Math.round(element.clientWidth)));
    observer.observe(element);
    return () => observer.disconnect();
  }, []);
  return side;
}
