import { judgeDepthAge } from '../../core/room/judge-depth-place.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { ROOM_EN } from '../../core/text/room-en.ts';
import { frozen, isOnline, newsAt, readClockDoubt, room, waiting } from '../state/room-log.ts';
import { formatSpan, useNow } from './times.ts';

/** What would change the answers above, as far as plan and log know it. */
export function RoomDoubts() {
  const now = useNow();
  const plan = frozen.value;
  const state = room.value;
  const { depth } = state;
  const age = depth && plan ? judgeDepthAge(depth.at, now, plan.limits) : null;
  const unverified = plan ? Object.values(plan.limits).filter((rule) => rule?.status === 'M').length : 0;
  const clockMs = readClockDoubt();
  const missing = state.holes.reduce((sum, hole) => sum + hole.missing.length, 0);
  const lines: readonly (string | null)[] = [
    plan && !depth ? ROOM_EN.doubtNoDepth : null,
    depth?.reading.state === 'uncorrected' ? ROOM_EN.doubtUncorrected : null,
    age?.state === 'old' || age?.state === 'gone' ? formatText(ROOM_EN, 'doubtOld', { age: formatSpan((age.ageS ?? 0) * 1000) }) : null,
    state.attempts.at(-1) && state.attempts.at(-1)!.wasPaced === null && state.attempts.at(-1)!.ratio !== null ? ROOM_EN.doubtPacing : null,
    state.wire === null || state.wire.side === null ? ROOM_EN.doubtWire : null,
    unverified > 0 ? formatText(ROOM_EN, 'doubtUnverified', { count: unverified }) : null,
    !isOnline.value ? formatText(ROOM_EN, 'doubtOffline', { age: newsAt.value === null ? '–' : formatSpan(now - newsAt.value) }) : null,
    waiting.value > 0 ? formatText(ROOM_EN, 'doubtWaiting', { count: waiting.value }) : null,
    missing > 0 ? formatText(ROOM_EN, 'holes', { count: missing }) : null,
    clockMs === null ? ROOM_EN.doubtClockNever : clockMs > 1000 ? formatText(ROOM_EN, 'clockWide', { s: Math.ceil(clockMs / 1000) }) : null,
    ...state.clocks.map((clock) => formatText(ROOM_EN, 'says-clock', { name: ROOM_EN[`clockName-${clock.name}`], s: Math.abs(Math.round(clock.aheadS)), ahead: ROOM_EN[clock.aheadS < 0 ? 'clock-behind' : 'clock-ahead'] })),
  ];
  const said = lines.filter((line) => line !== null);
  return said.length === 0 ? <p>{ROOM_EN.doubtNone}</p> : <ul class="plain">{said.map((line) => <li key={line}>{line}</li>)}</ul>;
}
