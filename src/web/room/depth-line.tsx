import { nameView } from '../../core/projection/camera-view.ts';
import { isDepthOver, judgeLiveDepth, readDepthWindow } from '../../core/room/judge-depth-place.ts';
import { nameLandingLimit } from '../../core/deployment/find-landing.ts';
import { BOARD_EN } from '../../core/text/board-en.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { ROOM_EN } from '../../core/text/room-en.ts';
import { WALL_ROOM_EN } from '../../core/text/wall-room-en.ts';
import { formatBand, formatDepthMm, roundBeside, roundWindow } from '../../formats/report/format-wall.ts';
import { frozen, room } from '../state/room-log.ts';
import { formatSpan, useNow } from './times.ts';

/** Where the frame stands against the stop window, in the words of the wall; past its age it is no answer any more. */
export function DepthLine() {
  const now = useNow();
  const plan = frozen.value;
  const { depth } = room.value;
  if (!plan) return null;
  const window = readDepthWindow(plan);
  const { place, because, age } = judgeLiveDepth(depth, window, now, plan.limits);
  return (
    <section class="depth-line" aria-labelledby="depth-line-name">
      <h3 id="depth-line-name">{WALL_ROOM_EN['title-depth']}</h3>
      <p class={`big-answer ${place === 'inside' ? '' : 'is-open'} ${age?.state === 'old' ? 'is-old' : ''}`}><b>{WALL_ROOM_EN[`place-${place}`]}</b></p>
      <p>{WALL_ROOM_EN[`why-${because}`]}{window.lowMm !== null && window.highMm !== null && <span class="soft"> ({formatText(ROOM_EN, 'windowIs', roundWindow(window.lowMm, window.highMm))})</span>}</p>
      {window.accepted && <p class="soft">{formatText(BOARD_EN, 'windowAccepted', { list: window.accepted.map(nameLandingLimit).join('; ') })}</p>}
      {depth && age && age.ageS !== null && !isDepthOver({ place, because }) && (
        <p class={age.state === 'fresh' ? '' : 'soft'}>
          {formatText(ROOM_EN, 'depthRead', { depth: formatDepthMm(roundBeside(depth.reading.depthMm, [window.lowMm, window.highMm])), band: formatBand(depth.reading.lowMm, depth.reading.highMm), view: depth.reading.views.map(nameView).join(' + '), age: formatSpan(age.ageS * 1000) })}
        </p>
      )}
    </section>
  );
}
