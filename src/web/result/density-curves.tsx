import type { ContrastAnswer } from '../../core/angiogram/contrast-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import { listTicks } from './trace-path.ts';

const [WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM] = [640, 250, 46, 12, 20, 30];

/** Density over time: root as a thick line, outflow tract dashed, the window of the areas shaded. */
export function DensityCurves({ answer, id }: { readonly answer: ContrastAnswer; readonly id: string }) {
  const { timesMs, aorta, outflow } = answer.curves;
  if (timesMs.length < 2) return null;
  const all = [...aorta, ...outflow].filter(Number.isFinite);
  const [low, high] = [Math.min(0, ...all), Math.max(0.1, ...all)];
  const last = timesMs.at(-1)!;
  const x = (ms: number): number => LEFT + (ms / last) * (WIDTH - LEFT - RIGHT);
  const y = (v: number): number => TOP + (1 - (v - low) / (high - low)) * (HEIGHT - TOP - BOTTOM);
  const path = (values: readonly number[]): string => values.map((v, i) => (Number.isFinite(v) ? `${i === 0 || !Number.isFinite(values[i - 1]) ? 'M' : 'L'}${x(timesMs[i]!).toFixed(1)} ${y(v).toFixed(1)}` : '')).join('');
  const end = (values: readonly number[], by: number): number => y(values.at(-1) ?? 0) + by;
  const step = high > 1 ? 0.5 : high > 0.4 ? 0.2 : 0.1;
  const { window } = answer;
  return (
    <figure class="curves">
      <figcaption><b>{RESULT_PAGE_EN.curvesTitle}.</b> {RESULT_PAGE_EN.curvesCaption}</figcaption>
      <svg class="pic" role="img" aria-labelledby={`${id}-curves`} viewBox={`0 0 ${WIDTH} ${HEIGHT}`}>
        <title id={`${id}-curves`}>{formatText(RESULT_PAGE_EN, 'curvesDesc', { frames: timesMs.length, s: (last / 1000).toFixed(1) })}</title>
        {window && <rect class="shade" x={x(window.fromMs)} y={TOP} width={Math.max(0, x(window.toMs) - x(window.fromMs))} height={HEIGHT - TOP - BOTTOM} />}
        {window && <text class="soft mid" x={(x(window.fromMs) + x(window.toMs)) / 2} y={TOP + 14}>{RESULT_PAGE_EN.curvesWindow}</text>}
        {listTicks(low, high, step).map((v) => <g key={v}><path class="faint" d={`M${LEFT} ${y(v)}H${WIDTH - RIGHT}`} /><text class="end soft" x={LEFT - 6} y={y(v) + 5}>{v.toFixed(1)}</text></g>)}
        {listTicks(0, last / 1000, last > 12_000 ? 2 : 1).map((s) => <text key={s} class="mid soft" x={x(s * 1000)} y={HEIGHT - 8}>{s}{s === 0 ? ' s' : ''}</text>)}
        <path class="curve curve-aortic" d={path(aorta)} />
        <path class="curve curve-ventricular" d={path(outflow)} />
        <text class="halo end" x={WIDTH - RIGHT} y={end(aorta, -8)}>{RESULT_PAGE_EN.regionAorta}</text>
        <text class="halo end" x={WIDTH - RIGHT} y={Math.abs(end(outflow, 16) - end(aorta, -8)) < 16 ? end(aorta, -8) + 18 : end(outflow, 16)}>{RESULT_PAGE_EN.regionOutflow}</text>
      </svg>
    </figure>
  );
}
