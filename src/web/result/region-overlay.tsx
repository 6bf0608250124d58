import type { ComponentChildren } from 'preact';
import { useRef } from 'preact/hooks';
import { findMiddle, moveRegion, putPoint, type Point, type Polygon, type Size } from './regions.ts';

export type PlacePoint = (point: Point) => Point;
const GRIP = 7;

/**
 * A region on a picture that a hand moves: the whole of it by its inside, one corner by its grip. `at` places a point of the
 * picture; it is a scale and a shift, so that two points tell how far a hand went.
 */
export function RegionOverlay({ name, kind, region, size, at, isChosen, chosenPoint, onChoose, onRegion }: {
  readonly name: string;
  readonly kind: string;
  readonly region: Polygon;
  readonly size: Size;
  readonly at: PlacePoint;
  readonly isChosen: boolean;
  readonly chosenPoint: number;
  readonly onChoose: (point: number | null) => void;
  readonly onRegion: (region: Polygon) => void;
}): ComponentChildren {
  const held = useRef<{ readonly id: number; readonly index: number | null; readonly from: Point; readonly was: Polygon } | null>(null);
  if (region.length === 0) return null;
  const px = at([1, 0])[0] - at([0, 0])[0];
  const grab = (event: PointerEvent, index: number | null): void => {
    if (event.button !== 0) return;
    event.stopPropagation();
    event.preventDefault();
    (event.currentTarget as Element).setPointerCapture(event.pointerId);
    held.current = { id: event.pointerId, index, from: [event.clientX, event.clientY], was: region };
    onChoose(index);
  };
  const move = (event: PointerEvent): void => {
    const now = held.current;
    if (!now || now.id !== event.pointerId) return;
    event.stopPropagation();
    const by: Point = [(event.clientX - now.from[0]) / px, (event.clientY - now.from[1]) / px];
    const was = now.index === null ? null : now.was[now.index]!;
    onRegion(was === null ? moveRegion(now.was, by, size) : putPoint(now.was, now.index!, [was[0] + by[0], was[1] + by[1]], size));
  };
  const release = (event: PointerEvent): void => {
    if (held.current?.id === event.pointerId) event.stopPropagation();
    held.current = null;
  };
  const points = region.map(at);
  const d = points.map(([x, y], i) => `${i === 0 ? 'M' : 'L'}${x.toFixed(1)} ${y.toFixed(1)}`).join('') + 'Z';
  const [mx, my] = at(findMiddle(region));
  const hand = { onPointerMove: move, onPointerUp: release, onPointerCancel: release };
  return (
    <g class={`region region-${kind}${isChosen ? ' chosen' : ''}`}>
      <path class="grab" d={d} onPointerDown={(e) => grab(e, null)} {...hand} />
      <path class="case" d={d} /><path class="mark" d={d} />
      {isChosen && points.map(([x, y], i) => <circle key={i} class={i === chosenPoint ? 'grip chosen-grip' : 'grip'} cx={x} cy={y} r={GRIP} onPointerDown={(e) => grab(e, i)} {...hand} />)}
      <text x={mx} y={my}>{name}</text>
    </g>
  );
}
