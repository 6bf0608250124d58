import type { DepthAnswer, DepthFailureCode, DepthReading } from '../../core/projection/depth-types.ts';
import { nameView } from '../../core/projection/camera-view.ts';
import type { Failure } from '../../core/result.ts';
import { judgeDepthPlace, type DepthWindow } from '../../core/room/judge-depth-place.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
import { WALL_ROOM_EN } from '../../core/text/wall-room-en.ts';
import { formatNumber } from '../../formats/report/format-number.ts';
import { Notice } from '../parts/notice.tsx';

const mm = (v: number): string => formatNumber(v, 1);
/** Outward, so that what is shown is never narrower than it is. */
const downMm = (v: number): string => formatNumber(Math.floor(v * 10 + 1e-9) / 10, 1);
const upMm = (v: number): string => formatNumber(Math.ceil(v * 10 - 1e-9) / 10, 1);
const sayDepth = (depthMm: number): string => formatText(DEPTH_PAGE_EN, depthMm < -0.05 ? 'above' : 'below', { mm: mm(Math.abs(depthMm)) });
/** Sides in words instead of signs, rounded outward. */
export function sayBand(lowMm: number, highMm: number): string {
  if (highMm < 0) return formatText(DEPTH_PAGE_EN, 'bandAbove', { low: downMm(-highMm), high: upMm(-lowMm) });
  return lowMm < 0 ? formatText(DEPTH_PAGE_EN, 'bandAcross', { low: upMm(-lowMm), high: upMm(highMm) }) : formatText(DEPTH_PAGE_EN, 'bandBelow', { low: downMm(lowMm), high: upMm(highMm) });
}

export function sayWindow({ state, lowMm, highMm }: DepthWindow): string {
  if (state === 'none') return DEPTH_PAGE_EN.windowNone;
  if (state === 'empty' || lowMm === null || highMm === null) return DEPTH_PAGE_EN.windowEmpty;
  const window = formatText(DEPTH_PAGE_EN, 'window', { low: upMm(lowMm), high: downMm(highMm) });
  return state === 'incomplete' ? `${window} ${DEPTH_PAGE_EN.windowIncomplete}` : window;
}

/** The one sentence: where the edge stands, within what, and whether that is inside. */
export function AnswerLine({ reading, separationDeg, window }: { readonly reading: DepthReading | null; readonly separationDeg: number | null; readonly window: DepthWindow }) {
  const { place, because } = judgeDepthPlace(reading, window);
  if (!reading) return <p class="depth-answer" data-place="none"><b>{DEPTH_PAGE_EN.notRead}</b> <span class="soft">{sayWindow(window)}</span></p>;
  return (
    <div class="depth-answer" data-place={place} role="status">
      <p class="depth-value">
        <b class="depth-number">{sayDepth(reading.depthMm)}</b> <span class="depth-band">{sayBand(reading.lowMm, reading.highMm)}</span>
      </p>
      <p><b class="place-word">{WALL_ROOM_EN[`place-${place}`]}</b> {WALL_ROOM_EN[`why-${because}`]}. <span class="soft">{sayWindow(window)}</span></p>
      <p class="soft">{sayState(reading, separationDeg)}</p>
    </div>
  );
}

/** How it was read: corrected or not, in which views, with how many clicks. */
function sayState(reading: DepthReading, separationDeg: number | null): string {
  const views = reading.views.map(nameView).join(' + ');
  const state = reading.by === 'entered' ? DEPTH_PAGE_EN['state-entered']
    : reading.state === 'corrected' ? formatText(DEPTH_PAGE_EN, 'state-corrected', { count: reading.views.length, deg: formatNumber(separationDeg ?? 0, 0) })
      : DEPTH_PAGE_EN['state-uncorrected'];
  const clicks = reading.by === 'entered' ? '' : `; ${reading.clicks === 1 ? DEPTH_PAGE_EN.clickEach : formatText(DEPTH_PAGE_EN, 'clicksEach', { count: reading.clicks })}`;
  return `${formatText(DEPTH_PAGE_EN, 'inView', { view: views })}; ${state}${clicks}`;
}

/** What would change the answer, and by how much. */
export function DepthDoubts({ answer, failure }: { readonly answer: DepthAnswer | null; readonly failure: Failure<DepthFailureCode> | null }) {
  const doubt = answer ? (Object.entries(answer.doubt) as [keyof DepthAnswer['doubt'], number][]).filter(([, half]) => half >= 0.05).sort((a, b) => b[1] - a[1]) : [];
  return (
    <div class="depth-doubt">
      {failure && (
        <Notice title={answer ? DEPTH_PAGE_EN.notJoined : DEPTH_PAGE_EN.fails}>
          <p>{failure.message}</p><p class="soft">{failure.nextStep}</p>
        </Notice>
      )}
      {answer && answer.findings.length > 0 && (
        <Notice title={DEPTH_PAGE_EN.findings}>
          <ul>{answer.findings.map((f) => <li key={f.code}>{f.text} <span class="soft">{f.next}</span></li>)}</ul>
        </Notice>
      )}
      {answer && doubt.length > 0 && <p>{DEPTH_PAGE_EN.doubtTitle}: {doubt.map(([name, half]) => formatText(DEPTH_PAGE_EN, 'doubtPart', { name: DEPTH_PAGE_EN[`doubt-${name}`], mm: mm(half) })).join(', ')}.</p>}
      {answer && answer.reading.state === 'uncorrected' && <p class="soft">{DEPTH_PAGE_EN.singleSay}</p>}
      {answer && (
        <ul class="depth-views">
          {answer.frames.map((f, i) => <li key={i}>{formatText(DEPTH_PAGE_EN, 'offPlane', { view: nameView(f.view), deg: formatNumber(Math.abs(f.offPlaneDeg), 0), share: `${formatNumber(100 * f.visibleShare, 0)} %` })}</li>)}
          <li>{answer.residualTilt.from === 'marks'
            ? formatText(DEPTH_PAGE_EN, 'tiltMarks', { deg: formatNumber(answer.residualTilt.deg, 0), within: formatNumber(answer.residualTilt.withinDeg, 0) })
            : formatText(DEPTH_PAGE_EN, 'tiltPlan', { within: formatNumber(answer.residualTilt.withinDeg, 0) })}</li>
          {answer.frameTiltDeg !== null && <li>{formatText(DEPTH_PAGE_EN, 'frameTilt', { deg: formatNumber(answer.frameTiltDeg, 0) })}</li>}
          {answer.centre && <li>{formatText(DEPTH_PAGE_EN, 'centreDepth', { depth: formatText(DEPTH_PAGE_EN, answer.centre.depthMm < -0.05 ? 'mmAbove' : 'mmBelow', { mm: mm(Math.abs(answer.centre.depthMm)) }), band: sayBand(answer.centre.lowMm, answer.centre.highMm) })}</li>}
        </ul>
      )}
    </div>
  );
}
