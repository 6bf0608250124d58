import { useState } from 'preact/hooks';
import { formatText } from '../../core/text/catalogue.ts';
import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
import { formatNumber } from '../../formats/report/format-number.ts';
import { Field } from '../parts/field.tsx';
import type { FramePoint } from './picture-pose.ts';
import { readNumber } from './read-number.ts';
import { NEEDED, POINTS, type PointMean, type PointName, type Shot } from './shot.ts';

export interface PointsTableProps {
  readonly shot: Shot;
  readonly means: readonly PointMean[];
  readonly current: PointName;
  /** mm at the isocentre a pixel; null: not calibrated. */
  readonly mmPerPx: number | null;
  readonly onChoose: (point: PointName) => void;
  readonly onClear: (point: PointName) => void;
  readonly onMark: (point: PointName, at: FramePoint) => void;
}

/** Every point with its clicks and their spread: one chooses, clears, or types what was clicked elsewhere. */
export function PointsTable({ shot, means, current, mmPerPx, onChoose, onClear, onMark }: PointsTableProps) {
  return (
    <>
      <table class="points">
        <caption>{DEPTH_PAGE_EN.marks}</caption>
        <thead><tr>{[DEPTH_PAGE_EN.columnPoint, DEPTH_PAGE_EN.columnClicks, DEPTH_PAGE_EN.columnSpread, DEPTH_PAGE_EN.columnPlace].map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
        <tbody>
          {POINTS.map((point) => {
            const mean = means.find((m) => m.point === point);
            const name = DEPTH_PAGE_EN[`point-${point}`];
            if (!mean && !NEEDED.includes(point) && point !== current) return null;
            return (
              <tr key={point} data-row={point} class={point === current ? 'current' : ''}>
                <th scope="row">
                  <button type="button" class="quiet" aria-pressed={point === current} aria-label={formatText(DEPTH_PAGE_EN, 'markThis', { point: name })} onClick={() => onChoose(point)}>{name}</button>
                  {!NEEDED.includes(point) && <span class="soft"> {DEPTH_PAGE_EN.optional}</span>}
                </th>
                <td>{mean?.clicks.length ?? 0}</td>
                <td>{mean?.sdPx == null ? '–' : saySpread(mean.sdPx, mmPerPx)}</td>
                <td class="place">
                  <span class="spot">{mean ? `${formatNumber(mean.at[0], 1)}, ${formatNumber(mean.at[1], 1)} ` : '– '}</span>
                  {mean && <button type="button" class="quiet" aria-label={formatText(DEPTH_PAGE_EN, 'clearThis', { point: name })} onClick={() => onClear(point)}>{DEPTH_PAGE_EN.clear}</button>}
                </td>
              </tr>
            );
          })}
        </tbody>
      </table>
      <p class="more-points">
        {POINTS.filter((p) => !NEEDED.includes(p) && p !== current && !means.some((m) => m.point === p)).filter((p) => !p.endsWith('B')).map((p) => (
          <button key={p} type="button" class="quiet" onClick={() => onChoose(p)}>+ {DEPTH_PAGE_EN[`point-${p}`]}</button>
        ))}
      </p>
      <TypedMark current={current} shot={shot} onMark={onMark} />
    </>
  );
}
const saySpread = (px: number, mmPerPx: number | null): string => (mmPerPx === null
  ? formatText(DEPTH_PAGE_EN, 'spreadPx', { px: formatNumber(px, 1) })
  : formatText(DEPTH_PAGE_EN, 'spreadMm', { px: formatNumber(px, 1), mm: formatNumber(px * mmPerPx, 1) }));

/** A mark read off another screen. Open by itself when there is no picture to click. */
function TypedMark({ current, shot, onMark }: { readonly current: PointName; readonly shot: Shot; readonly onMark: PointsTableProps['onMark'] }) {
  const [text, setText] = useState({ column: '', row: '' });
  const [isAsked, setAsked] = useState(false);
  const { columns, rows } = shot.size;
  const at = [readNumber(text.column, -0.5, columns - 0.5), readNumber(text.row, -0.5, rows - 0.5)] as const;
  const add = (event: SubmitEvent): void => {
    event.preventDefault();
    setAsked(true);
    if (at[0] === null || at[1] === null) return;
    onMark(current, [at[0], at[1]]);
    setText({ column: '', row: '' });
    setAsked(false);
    (event.currentTarget as HTMLFormElement).querySelector('input')?.focus();
  };
  const problem = (value: number | null, count: number): string | undefined => (isAsked && value === null ? formatText(DEPTH_PAGE_EN, 'numberNeeded', { low: 0, high: count - 1 }) : undefined);
  return (
    <details class="typed" open={shot.run === null}>
      <summary>{DEPTH_PAGE_EN.typeMark}: {DEPTH_PAGE_EN[`point-${current}`]}</summary>
      <form class="row" onSubmit={add} noValidate>
        <Field label={DEPTH_PAGE_EN.column} problem={problem(at[0], columns)}>{(p) => <input {...p} class="short" name="column" inputMode="decimal" value={text.column} onInput={(e) => setText({ ...text, column: e.currentTarget.value })} />}</Field>
        <Field label={DEPTH_PAGE_EN.row} problem={problem(at[1], rows)}>{(p) => <input {...p} class="short" name="row" inputMode="decimal" value={text.row} onInput={(e) => setText({ ...text, row: e.currentTarget.value })} />}</Field>
        <button type="submit">{DEPTH_PAGE_EN.addMark}</button>
      </form>
    </details>
  );
}
