import type { ComponentChildren } from 'preact';
import { useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks';
import { formatText } from '../../core/text/catalogue.ts';
import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
import { useSide } from '../viewer/use-side.ts';
import { followPoint, isInFrame, movePose, openPose, toFrame, toPicture, zoomPose, type FramePoint, type FrameSize, type PicturePose } from './picture-pose.ts';

/** Grey values from black to white, and whether they are turned round. */
export interface Shade {
  readonly low: number;
  readonly high: number;
  readonly isInverted: boolean;
}
export const AS_IT_CAME: Shade = { low: 0, high: 255, isInverted: false };
export interface FramePictureProps {
  readonly size: FrameSize;
  /** 8 bit, row by row; null while it is fetched, or when marks are entered without a picture. */
  readonly grey: Uint8Array | null;
  readonly shade: Shade;
  readonly onShade: (shade: Shade) => void;
  readonly label: string;
  /** What the next click marks; it stands beside the crosshair. */
  readonly current: string;
  readonly isBusy: boolean;
  /** Draws what is marked; `at` gives the place of a point of the frame in the picture, px. */
  readonly draw: (at: (point: FramePoint) => FramePoint, widthPx: number) => ComponentChildren;
  readonly onMark: (at: FramePoint) => void;
  /** Keys that are not the picture's own; true when it took the key. */
  readonly onKey: (event: KeyboardEvent) => boolean;
}

/** A press that moves less is a click. */
const SLIP_PX = 4;
/** Under a finger nothing is seen: the crosshair stands this far above it. */
const FINGER_PX = 56;
const ARROWS: ReadonlyMap<string, FramePoint> = new Map([['ArrowLeft', [-1, 0]], ['ArrowRight', [1, 0]], ['ArrowUp', [0, -1]], ['ArrowDown', [0, 1]]]);

interface Press {
  readonly id: number;
  readonly from: FramePoint;
  readonly pose: PicturePose;
  readonly shade: Shade;
  readonly button: number;
  readonly isTouch: boolean;
  /** A finger's first tap takes the picture in hand and marks nothing. */
  readonly isFirst: boolean;
  hasMoved: boolean;
}

/** One frame of a run with its marks, and everything a hand or a keyboard does to it. */
export function FramePicture(props: FramePictureProps) {
  const { size, grey, shade, onShade, label, current, isBusy, draw, onMark, onKey } = props;
  const place = useRef<HTMLDivElement>(null);
  const widthPx = useSide(place);
  const [pose, setPose] = useState(() => openPose(size));
  const [aim, setAim] = useState<FramePoint | null>(null);
  const press = useRef<Press | null>(null);
  const sizeOf = `${size.columns} ${size.rows}`;
  useEffect(() => {
    setPose(openPose(size));
    setAim(null);
  }, [sizeOf]);
  useZoomWheel(place, (steps, atPx) => setPose((was) => zoomPose(size, was, steps, toFrame(size, was, place.current!.clientWidth, atPx))));

  const at = (point: FramePoint): FramePoint => toPicture(size, pose, widthPx, point);
  const readPx = (event: PointerEvent): FramePoint => {
    const box = place.current!.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };
  const aimAt = (px: FramePoint, isTouch: boolean): FramePoint => toFrame(size, pose, widthPx, isTouch ? [px[0], px[1] - FINGER_PX] : px);
  const down = (event: PointerEvent): void => {
    if (press.current || event.button > 2) return;
    const isTouch = event.pointerType === 'touch';
    press.current = { id: event.pointerId, from: readPx(event), pose, shade, button: event.button, isTouch, isFirst: isTouch && document.activeElement !== place.current, hasMoved: false };
    if (!press.current.isFirst) place.current!.setPointerCapture(event.pointerId);
    place.current!.focus({ preventScroll: true });
    if (!press.current.isFirst) event.preventDefault();
    if (isTouch) setAim(aimAt(readPx(event), true));
  };
  const slide = (event: PointerEvent): void => {
    const held = press.current;
    const px = readPx(event);
    if (!held || held.id !== event.pointerId) return setAim(aimAt(px, false));
    if (held.isTouch) return setAim(aimAt(px, true));
    const [dx, dy] = [px[0] - held.from[0], px[1] - held.from[1]];
    if (!held.hasMoved && Math.hypot(dx, dy) < SLIP_PX) return;
    held.hasMoved = true;
    if (held.button === 2) return onShade(turnShade(held.shade, dx, dy));
    const perPx = size.columns / widthPx / held.pose.zoom;
    setPose(movePose(size, held.pose, [-dx * perPx, -dy * perPx]));
  };
  const up = (event: PointerEvent): void => {
    const held = press.current;
    if (!held || held.id !== event.pointerId) return;
    press.current = null;
    if (held.button !== 0 || held.isFirst || (held.hasMoved && !held.isTouch)) return;
    const point = aimAt(held.isTouch ? readPx(event) : held.from, held.isTouch);
    if (isInFrame(size, point)) onMark(point);
  };
  const pressKey = (event: KeyboardEvent): void => {
    if (event.target !== place.current || event.ctrlKey || event.metaKey || event.altKey) return;
    if (pressOwnKey(event) || onKey(event)) event.preventDefault();
  };
  const pressOwnKey = (event: KeyboardEvent): boolean => {
    const way = ARROWS.get(event.key);
    if (way) {
      const step = event.shiftKey ? 10 : 1 / Math.max(1, Math.round(pose.zoom));
      const from = aim && isInFrame(size, aim) ? aim : pose.middle;
      const next: FramePoint = [clamp(from[0] + way[0] * step, size.columns), clamp(from[1] + way[1] * step, size.rows)];
      setAim(next);
      setPose(followPoint(size, pose, next));
      return true;
    }
    if (event.key === 'Enter' || event.key === ' ') {
      if (!event.repeat && aim && isInFrame(size, aim)) onMark(aim);
      return true;
    }
    if (event.key === '+' || event.key === '=') setPose(zoomPose(size, pose, 1, aim ?? pose.middle));
    else if (event.key === '-') setPose(zoomPose(size, pose, -1, aim ?? pose.middle));
    else if (event.key === '0') setPose(openPose(size));
    else return false;
    return true;
  };
  const heightPx = (widthPx * size.rows) / size.columns;
  const aimPx = aim && isInFrame(size, aim) ? at(aim) : null;
  return (
    <div
      ref={place} class="frame-picture" style={{ aspectRatio: `${size.columns} / ${size.rows}` }} tabIndex={0} role="application" aria-label={label} aria-roledescription={DEPTH_PAGE_EN.picture} aria-busy={isBusy}
      onPointerDown={down} onPointerMove={slide} onPointerUp={up} onPointerCancel={() => void (press.current = null)} onPointerLeave={() => !press.current && setAim(null)}
      onContextMenu={(e) => e.preventDefault()} onKeyDown={pressKey}
    >
      {grey && <GreyCanvas size={size} grey={grey} shade={shade} pose={pose} />}
      {!grey && <p class="frame-empty">{isBusy ? DEPTH_PAGE_EN.fetching : DEPTH_PAGE_EN.noPicture}</p>}
      {widthPx > 0 && (
        <svg class="overlay" viewBox={`0 0 ${widthPx} ${heightPx}`} aria-hidden="true">
          {draw(at, widthPx)}
          {aimPx && <Crosshair at={aimPx} name={current} widthPx={widthPx} />}
        </svg>
      )}
      <div class="frame-zoom" onPointerDown={(e) => e.stopPropagation()} onPointerUp={(e) => e.stopPropagation()}>
        <button type="button" aria-label={DEPTH_PAGE_EN.zoomIn} title={DEPTH_PAGE_EN.zoomIn} onClick={() => setPose(zoomPose(size, pose, 2))}>+</button>
        <button type="button" aria-label={DEPTH_PAGE_EN.zoomOut} title={DEPTH_PAGE_EN.zoomOut} onClick={() => setPose(zoomPose(size, pose, -2))}>−</button>
      </div>
      <p class="hidden" role="status">{aim && document.activeElement === place.current ? formatText(DEPTH_PAGE_EN, 'aimAt', { column: Math.round(aim[0]), row: Math.round(aim[1]) }) : ''}</p>
    </div>
  );
}
const clamp = (v: number, count: number): number => Math.max(0, Math.min(count - 1, v));

/** Level down and up, width left and right, as readers of pictures are used to. */
function turnShade(from: Shade, dx: number, dy: number): Shade {
  const half = Math.max(1, (from.high - from.low) / 2 + dx / 4);
  const level = (from.low + from.high) / 2 + dy / 2;
  return { ...from, low: level - half, high: level + half };
}

function Crosshair({ at: [x, y], name, widthPx }: { readonly at: FramePoint; readonly name: string; readonly widthPx: number }) {
  const d = `M${x - 18} ${y}h13M${x + 5} ${y}h13M${x} ${y - 18}v13M${x} ${y + 5}v13`;
  const isRight = x > widthPx - 130;
  return (
    <g class="crosshair">
      <path class="case" d={d} /><path class="mark" d={d} />
      <text class={isRight ? 'end' : ''} x={isRight ? x - 14 : x + 14} y={y + 28}>{name}</text>
    </g>
  );
}

function GreyCanvas({ size, grey, shade, pose }: { readonly size: FrameSize; readonly grey: Uint8Array; readonly shade: Shade; readonly pose: PicturePose }) {
  const place = useRef<HTMLCanvasElement>(null);
  useLayoutEffect(() => {
    const canvas = place.current;
    const context = canvas?.getContext('2d');
    if (!canvas || !context || grey.length !== size.columns * size.rows) return;
    canvas.width = size.columns;
    canvas.height = size.rows;
    context.putImageData(new ImageData(paintGrey(grey, shade), size.columns, size.rows), 0, 0);
    canvas.dataset['drawn'] = String(Number(canvas.dataset['drawn'] ?? 0) + 1);
  }, [grey, shade.low, shade.high, shade.isInverted]);
  // Percentages of the canvas itself: no measuring, and right at every width.
  const x = 50 - (100 * pose.zoom * (pose.middle[0] + 0.5)) / size.columns;
  const y = 50 - (100 * pose.zoom * (pose.middle[1] + 0.5)) / size.rows;
  return <canvas ref={place} class="frame-grey" style={{ transformOrigin: '0 0', transform: `translate(${x}%, ${y}%) scale(${pose.zoom})` }} aria-hidden="true" />;
}

/** RGBA of a grey frame under a window. */
export function paintGrey(grey: Uint8Array, { low, high, isInverted }: Shade): Uint8ClampedArray<ArrayBuffer> {
  const table = new Uint8ClampedArray(256);
  for (let v = 0; v < 256; v++) {
    const shown = (255 * (v - low)) / Math.max(1, high - low);
    table[v] = isInverted ? 255 - shown : shown;
  }
  const rgba = new Uint8ClampedArray(4 * grey.length);
  for (let i = 0; i < grey.length; i++) {
    const shown = table[grey[i]!]!;
    rgba[4 * i] = shown;
    rgba[4 * i + 1] = shown;
    rgba[4 * i + 2] = shown;
    rgba[4 * i + 3] = 255;
  }
  return rgba;
}

/** Control and wheel zoom about the pointer; the wheel alone belongs to the page. */
function useZoomWheel(place: { readonly current: HTMLElement | null }, zoom: (steps: number, atPx: FramePoint) => void): void {
  const now = useRef(zoom);
  now.current = zoom;
  useEffect(() => {
    const element = place.current;
    if (!element) return;
    const turn = (event: WheelEvent): void => {
      if (document.activeElement !== element && !event.ctrlKey) return;
      event.preventDefault();
      const box = element.getBoundingClientRect();
      now.current(event.deltaY < 0 ? 1 : -1, [event.clientX - box.left, event.clientY - box.top]);
    };
    element.addEventListener('wheel', turn, { passive: false });
    return () => element.removeEventListener('wheel', turn);
  }, []);
}
