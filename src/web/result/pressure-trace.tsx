import { useEffect, useState } from 'preact/hooks';
import type { PressureAnswer } from '../../core/haemodynamics/pressure-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import type { TraceAnswer } from '../../formats/api/result-schemas.ts';
import { callApi, type ApiFailure } from '../api/call-api.ts';
import { FailureNotice } from '../parts/notice.tsx';
import { drawTracePath, findTop, listTicks } from './trace-path.ts';

const WIDTH = 900;
const [LEFT, RIGHT, TOP, BOTTOM] = [44, 12, 30, 26];
const PRESSURES = 260;
const ECG = 64;
/** What is shown first: long enough for a breath, short enough for single beats. */
const FIRST_S = 8;
const LEAST_S = 2;

type Trace = TraceAnswer;
type Line = Trace['channels'][number];

/** The curves, with each beat marked that counts or was left out. Aorta: thick line; ventricle: dashed; ECG: thin, below. */
export function PressureTrace({ caseId, recordingId, answer, durationS }: { readonly caseId: string; readonly recordingId: string; readonly answer: PressureAnswer | null; readonly durationS: number }) {
  const [span, setSpan] = useState<readonly [number, number]>([0, Math.min(durationS, FIRST_S)]);
  const [trace, setTrace] = useState<Trace | null>(null);
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const [fromS, toS] = span;
  useEffect(() => {
    let isWanted = true;
    void callApi('readTrace', { params: { caseId, recordingId }, query: { fromS, toS, columns: 1200 } }).then((read) => {
      if (!isWanted) return;
      setFailure(read.ok ? null : read.failure);
      if (read.ok) setTrace(read.value);
    });
    return () => void (isWanted = false);
  }, [caseId, recordingId, fromS, toS]);
  const length = toS - fromS;
  const go = (from: number, wide: number): void => {
    const held = Math.min(Math.max(LEAST_S, wide), durationS);
    const at = Math.max(0, Math.min(durationS - held, from));
    setSpan([at, at + held]);
  };
  const says = formatText(RESULT_PAGE_EN, 'traceSpan', { from: fromS.toFixed(1), to: toS.toFixed(1), all: durationS.toFixed(0) });
  return (
    <figure class="trace">
      <figcaption><b>{RESULT_PAGE_EN.traceTitle}.</b> {RESULT_PAGE_EN.traceCaption}</figcaption>
      {failure && <FailureNotice failure={failure} />}
      {trace && <div class="scroll" tabIndex={0} role="region" aria-label={RESULT_PAGE_EN.traceTitle}><Curves trace={trace} answer={answer} id={recordingId} /></div>}
      <div class="row trace-moves">
        <button type="button" class="quiet" disabled={fromS <= 0} onClick={() => go(fromS - length * 0.8, length)}>{RESULT_PAGE_EN.traceBefore}</button>
        <button type="button" class="quiet" disabled={toS >= durationS - 1e-6} onClick={() => go(fromS + length * 0.8, length)}>{RESULT_PAGE_EN.traceAfter}</button>
        <button type="button" class="quiet" disabled={length <= LEAST_S} onClick={() => go(fromS + length / 4, length / 2)}>{RESULT_PAGE_EN.traceCloser}</button>
        <button type="button" class="quiet" disabled={length >= durationS - 1e-6} onClick={() => go(fromS - length / 2, length * 2)}>{RESULT_PAGE_EN.traceWider}</button>
        <button type="button" class="quiet" disabled={length >= durationS - 1e-6} onClick={() => go(0, durationS)}>{RESULT_PAGE_EN.traceWhole}</button>
        <span role="status">{says}</span>
      </div>
    </figure>
  );
}

function Curves({ trace, answer, id }: { readonly trace: Trace; readonly answer: PressureAnswer | null; readonly id: string }) {
  const pressures = trace.channels.filter((c) => c.unit === 'mm[Hg]');
  const ecg = trace.channels.find((c) => c.kind === 'ecg') ?? null;
  const top = findTop(pressures.flatMap((c) => c.highs));
  const bottom = Math.min(0, Math.floor(Math.min(0, ...pressures.flatMap((c) => c.lows.filter((v) => v !== null))) / 20) * 20);
  const height = TOP + PRESSURES + (ecg ? ECG : 0) + BOTTOM;
  const x = (s: number): number => LEFT + ((s - trace.fromS) / (trace.toS - trace.fromS)) * (WIDTH - LEFT - RIGHT);
  const y = (mmHg: number): number => TOP + PRESSURES * (1 - (mmHg - bottom) / (top - bottom));
  const beats = answer?.beats.filter((b) => b.t >= trace.fromS && b.t <= trace.toS) ?? [];
  const count = beats.filter((b) => b.kind === 'counted').length;
  return (
    <svg class="pic trace-picture" role="img" aria-labelledby={`${id}-trace`} viewBox={`0 0 ${WIDTH} ${height}`}>
      <title id={`${id}-trace`}>{formatText(RESULT_PAGE_EN, 'traceDesc', { channels: [...new Set(trace.channels.map(nameLine))].join(', '), beats: count, left: beats.length - count })}</title>
      {listTicks(bottom, top, 20).map((mmHg) => <g key={mmHg}><path class="faint" d={`M${LEFT} ${y(mmHg)}H${WIDTH - RIGHT}`} /><text class="end soft" x={LEFT - 8} y={y(mmHg) + 5}>{mmHg}</text></g>)}
      <text class="soft" x={4} y={TOP - 14}>mmHg</text>
      {listTicks(Math.ceil(trace.fromS), trace.toS, trace.toS - trace.fromS > 40 ? 10 : trace.toS - trace.fromS > 15 ? 5 : 1).map((s) => <g key={s}><path class="rule" d={`M${x(s)} ${height - BOTTOM}v5`} /><text class="mid soft" x={x(s)} y={height - 5}>{s}{s === Math.ceil(trace.fromS) ? ' s' : ''}</text></g>)}
      {pressures.map((line, i) => <path key={i} class={`curve curve-${line.kind}`} d={drawTracePath(line.lows, line.highs, LEFT, WIDTH - RIGHT, y)} />)}
      {ecg && <EcgCurve line={ecg} top={TOP + PRESSURES + 10} />}
      {beats.map((b) => (b.kind === 'counted'
        ? <path key={b.t} class="solid" d={`M${x(b.t) - 5} ${TOP - 12}h10l-5 9z`} />
        : <path key={b.t} class="open" d={`M${x(b.t) - 5} ${TOP - 12}h10l-5 9z`}><title>{RESULT_PAGE_EN[`beat-${b.kind}`]}</title></path>))}
    </svg>
  );
}
const nameLine = (line: Line): string => RESULT_PAGE_EN[`channel-${line.kind}`];

function EcgCurve({ line, top }: { readonly line: Line; readonly top: number }) {
  const all = [...line.lows, ...line.highs].filter((v): v is number => v !== null);
  const [low, high] = [Math.min(...all), Math.max(...all)];
  if (!(high > low)) return null;
  return <path class="curve curve-ecg" d={drawTracePath(line.lows, line.highs, LEFT, WIDTH - RIGHT, (v) => top + (ECG - 16) * (1 - (v - low) / (high - low)))} />;
}
