import type { DepthReading } from '../../core/projection/depth-types.ts';
import { WORLDS } from '../../core/release/release-types.ts';
import { compareWithForecast, compareWithPlanned } from '../../core/room/compare-depth.ts';
import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import type { RoomState } from '../../core/room/room-state.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
import { RELEASE_EN } from '../../core/text/release-en.ts';
import { formatNumber } from '../../formats/report/format-number.ts';
import { sayBand } from './depth-answer.tsx';

const mm = (v: number): string => formatNumber(v, 1);
const signed = (v: number): string => `${v > 0.05 ? '+' : ''}${mm(v)}`;

/** The reading against the planned start, and against what the forecast says of that start. */
export function DepthCompare({ reading, frozen, room }: { readonly reading: DepthReading; readonly frozen: FrozenDocument; readonly room: RoomState }) {
  const { release } = frozen.plan;
  const attempt = room.attempts.at(-1) ?? null;
  // While the frame is still closed a reading is a start; once it has opened, it is held against the forecast of its start.
  const isOpening = room.releasedAt !== null || attempt?.moved != null || (attempt?.ratio?.ratio ?? 0) > 0;
  const startMm = isOpening ? (attempt?.start?.reading.depthMm ?? frozen.choice.startMm) : reading.depthMm;
  const planned = !isOpening ? compareWithPlanned(reading, frozen.choice.startMm) : null;
  const forecast = compareWithForecast(release, startMm, isOpening ? reading : null);
  return (
    <div class="depth-compare">
      <h4>{DEPTH_PAGE_EN.compareTitle}</h4>
      {planned && (
        <p>
          {formatText(DEPTH_PAGE_EN, 'plannedStart', { mm: mm(planned.plannedMm) })}{' '}
          <b>{formatText(DEPTH_PAGE_EN, `planned-${planned.verdict}`, planned.verdict === 'higher'
            ? { mm: mm(-planned.differenceMm), low: mm(-planned.highMm), high: mm(-planned.lowMm) }
            : { mm: planned.verdict === 'deeper' ? mm(planned.differenceMm) : signed(planned.differenceMm), low: planned.verdict === 'deeper' ? mm(planned.lowMm) : signed(planned.lowMm), high: planned.verdict === 'deeper' ? mm(planned.highMm) : signed(planned.highMm) })}</b>
        </p>
      )}
      {forecast === null ? <p class="soft">{DEPTH_PAGE_EN.forecastNone}</p> : (
        <table>
          <caption>{formatText(DEPTH_PAGE_EN, isOpening ? 'forecastAfter' : 'forecastBefore', { mm: mm(forecast.startMm) })}</caption>
          <thead><tr>{[DEPTH_PAGE_EN.columnWorld, DEPTH_PAGE_EN.columnSays, DEPTH_PAGE_EN.columnFinal, ...(isOpening ? [DEPTH_PAGE_EN.columnFits] : [])].map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
          <tbody>
            {WORLDS.map((world) => {
              const { answer, finalMm, fits } = forecast.worlds[world];
              return (
                <tr key={world}>
                  <th scope="row">{RELEASE_EN[`world-${world}`]}</th>
                  <td>{answer === 'cannot say' ? RELEASE_EN.cannotSay : RELEASE_EN[`verdict-${answer}`]}</td>
                  <td>{finalMm ? sayBand(finalMm.low, finalMm.high) : DEPTH_PAGE_EN.finalLeaves}</td>
                  {isOpening && <td>{fits ? DEPTH_PAGE_EN[`fits-${fits}`] : '–'}</td>}
                </tr>
              );
            })}
          </tbody>
        </table>
      )}
    </div>
  );
}
