import type { ComponentChildren } from 'preact';
import { useRef } from 'preact/hooks';
import type { EchoTrace } from '../../core/case/result-events.ts';
import type { TracePoint, TraceRegion } from '../../core/echo/trace-region.ts';
import type { PlacePoint } from './region-overlay.tsx';
import type { ClockMarks } from './trace-targets.ts';

const pathOf = (points: readonly TracePoint[], isClosed = false): string => points.map(([x, y], i) => `${i === 0 ? 'M' : 'L'}${x.toFixed(1)} ${y.toFixed(1)}`).join('') + (isClosed && points.length > 2 ? 'Z' : '');

/** Calibrated regions, the baseline, and marks with what they join; a mark of an envelope, slope or distance is dragged by hand. */
export function TraceOverlay({ at, regions, kind, points, clock, begun, onPoints }: { readonly at: PlacePoint; readonly regions: readonly TraceRegion[]; readonly kind: EchoTrace['is']; readonly points: readonly TracePoint[]; readonly clock: ClockMarks; readonly begun: TracePoint | null; readonly onPoints: (points: readonly TracePoint[]) => void }): ComponentChildren {
  const held = useRef<{ readonly id: number; readonly index: number; readonly from: TracePoint; readonly was: TracePoint } | null>(null);
  const px = at([1, 0])[0] - at([0, 0])[0];
  const grab = (event: PointerEvent, index: number): void => {
    if (event.button !== 0) return;
    event.stopPropagation();
    event.preventDefault();
    (event.currentTarget as Element).setPointerCapture(event.pointerId);
    held.current = { id: event.pointerId, index, from: [event.clientX, event.clientY], was: points[index]! };
  };
  const move = (event: PointerEvent): void => {
    const now = held.current;
    if (!now || now.id !== event.pointerId) return;
    event.stopPropagation();
    const to: TracePoint = [now.was[0] + (event.clientX - now.from[0]) / px, now.was[1] + (event.clientY - now.from[1]) / px];
    onPoints(points.map((p, i) => (i === now.index ? to : p)));
  };
  const drop = (event: PointerEvent): void => {
    if (held.current?.id === event.pointerId) event.stopPropagation();
    held.current = null;
  };
  const line = kind === 'clock' ? pathOf(clock.ring.map(at), true) : pathOf(points.map(at));
  return (
    <g>
      {regions.map(({ box, baselineRow, fault, space }, i) => {
        const [[l, t], [r, b]] = [at([box.left, box.top]), at([box.right, box.bottom])];
        const y = baselineRow === null ? null : at([0, baselineRow])[1];
        return (
          <g key={i} class={fault === null ? 'calibrated' : 'calibrated faulty'}>
            <path class="frame-line" d={`M${l} ${t}H${r}V${b}H${l}Z`} />
            {y !== null && space === 'spectral' && <path class="base-line" d={`M${l} ${y}H${r}`} />}
          </g>
        );
      })}
      <path class="case" d={line} /><path class={kind === 'clock' ? 'mark ring-line' : 'mark'} d={line} />
      {kind === 'clock' && [...clock.jets, ...(begun ? [[begun, begun] as const] : [])].map(([from, to], i) => {
        const [a, b] = [at(from), at(to)];
        return <g key={i}><path class="case" d={pathOf([a, b])} /><path class="mark" d={pathOf([a, b])} /><text x={a[0] + 8} y={a[1]}>{i + 1}</text></g>;
      })}
      {kind === 'clock'
        ? [...clock.ring, ...clock.jets.flat(), ...(begun ? [begun] : [])].map((p, i) => <circle key={i} class="grip still" cx={at(p)[0]} cy={at(p)[1]} r={4} />)
        : points.map((p, i) => <circle key={i} class="grip" cx={at(p)[0]} cy={at(p)[1]} r={points.length > 12 ? 4.5 : 6} onPointerDown={(e) => grab(e, i)} onPointerMove={move} onPointerUp={drop} onPointerCancel={drop} />)}
    </g>
  );
}
