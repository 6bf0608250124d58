import type { RefObject } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import type { CutPlane, CutPoint } from '../../core/root/cut-types.ts';
import { OPEN_POSE, zoomAbout, type ViewPose } from '../../core/root/place-view.ts';

const SCROLL_MM = 0.5;
const TURN_DEG = 2;
/** With Shift. */
const FAST = 5;
const ZOOM_STEP = 1.25;
/** A wheel gives some 100 units a notch, a touch pad many small ones. */
const UNITS_A_NOTCH = 50;
const PAGE_REST_MS = 250;
const LOWEST_MM = -30;
const HIGHEST_MM = 60;

/** A view scrolled by whole steps: across the root in height, along it about the axis. */
export function scrollPose(pose: ViewPose, isAcross: boolean, steps: number, isFast: boolean): ViewPose {
  const by = steps * (isFast ? FAST : 1);
  if (isAcross) return { ...pose, heightMm: Math.max(LOWEST_MM, Math.min(HIGHEST_MM, Math.round((pose.heightMm + by * SCROLL_MM) * 100) / 100 + 0)) };
  const turned = pose.turnDeg + by * TURN_DEG;
  return { ...pose, turnDeg: ((((turned + 180) % 360) + 360) % 360) - 180 };
}
export const zoomPose = (pose: ViewPose, plane: CutPlane, steps: number, at?: CutPoint): ViewPose =>
  zoomAbout(pose, ZOOM_STEP ** steps, at ?? [plane.widthMm / 2, plane.heightMm / 2]);

/** What a key does to a view; null for a key that does nothing. */
export function readPoseKey(pose: ViewPose, plane: CutPlane, isAcross: boolean, key: string, isShift: boolean): ViewPose | null {
  const up = key === 'ArrowUp' || key === 'ArrowRight';
  if (up || key === 'ArrowDown' || key === 'ArrowLeft') return scrollPose(pose, isAcross, up ? 1 : -1, isShift);
  if (key === '+' || key === '=') return zoomPose(pose, plane, 1);
  if (key === '-') return zoomPose(pose, plane, -1);
  if (key === '0') return OPEN_POSE;
  return null;
}

/** Wheel over a view: scrolls it, with Control zooms about the pointer. Not passive, so that the page stays where it is. */
export function useWheel(place: RefObject<HTMLElement | null>, isAcross: boolean, pose: ViewPose, plane: CutPlane, setPose: (pose: ViewPose) => void): void {
  const now = useRef({ pose, plane, setPose, rest: 0 });
  now.current = { ...now.current, pose, plane, setPose };
  const pageScrolledAt = useRef(-Infinity);
  useEffect(() => {
    const note = (): void => void (pageScrolledAt.current = performance.now());
    addEventListener('scroll', note, { passive: true });
    return () => removeEventListener('scroll', note);
  }, []);
  useEffect(() => {
    const element = place.current;
    if (!element) return;
    const turn = (event: WheelEvent): void => {
      // A page that is being scrolled goes on when the view comes under the pointer.
      if (performance.now() - pageScrolledAt.current < PAGE_REST_MS && !element.contains(document.activeElement)) return;
      event.preventDefault();
      const held = now.current;
      const units = event.deltaY !== 0 ? event.deltaY : event.deltaX; // Shift turns the wheel sideways on some systems
      held.rest += units * (event.deltaMode === 1 ? 33 : 1);
      const steps = Math.trunc(held.rest / UNITS_A_NOTCH);
      if (steps === 0) return;
      held.rest -= steps * UNITS_A_NOTCH;
      if (event.ctrlKey) {
        const box = element.getBoundingClientRect();
        const perPx = held.plane.widthMm / box.width;
        held.pose = zoomPose(held.pose, held.plane, -steps / 2, [(event.clientX - box.left) * perPx, (event.clientY - box.top) * perPx]);
      } else held.pose = scrollPose(held.pose, isAcross, -steps, event.shiftKey); // several may come before the page is drawn again
      held.setPose(held.pose);
    };
    element.addEventListener('wheel', turn, { passive: false });
    return () => element.removeEventListener('wheel', turn);
  }, [isAcross]);
}
