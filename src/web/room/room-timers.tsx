import { computeRoomTimers, type TotalOf } from '../../core/room/room-timers.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { ROOM_EN } from '../../core/text/room-en.ts';
import { frozen, room } from '../state/room-log.ts';
import { formatSpan, useNow } from './times.ts';

interface Line {
  readonly name: string;
  readonly value: string;
  readonly isPast?: boolean;
}
const brief = (value: number): string => String(Math.round(value * 10) / 10);
const span = (s: number): string => formatSpan(s * 1000);
const mark = (text: string, isUnverified: boolean): string => (isUnverified ? `${text} (${ROOM_EN.unverified})` : text);

/** What was used against its signed limit; without a limit nothing is said against it. */
function sayTotal(name: string, { value, limit, state, unit, isUnverified }: TotalOf): Line {
  const shown = unit === 'Gy.cm2' ? 'Gy·cm²' : unit;
  if (value === null) return { name, value: ROOM_EN.notLogged };
  if (limit === null) return { name, value: formatText(ROOM_EN, unit === 'min' ? 'plainTotal' : 'noLimit', { value: brief(value), unit: shown }) };
  return { name, value: mark(formatText(ROOM_EN, state === 'past' ? 'pastLimit' : 'ofLimit', { value: brief(value), limit: brief(limit), unit: shown }), isUnverified), isPast: state === 'past' };
}

function listLines(nowMs: number): readonly Line[] {
  const { pacing, release, heparin, act, contrast, airKerma, doseArea, fluoroscopy } = computeRoomTimers(room.value, frozen.value, nowMs);
  return [
    { name: ROOM_EN.timerPacing, value: pacing === null ? ROOM_EN.pacingUnknown : formatText(ROOM_EN, pacing.isOn ? 'pacingIsOn' : 'pacingIsOff', { time: span(pacing.forS) }) },
    { name: ROOM_EN.timerRelease, value: release === null ? ROOM_EN.notReleased : span(release.sinceS) },
    ...(release?.leftS == null ? [] : [{ name: ROOM_EN.timerExpansion, value: mark(release.isOver ? ROOM_EN.timeOver : formatText(ROOM_EN, 'timeLeft', { time: span(release.leftS) }), release.isUnverified) }]),
    { name: ROOM_EN.timerHeparin, value: heparin === null ? ROOM_EN.notLogged : formatText(ROOM_EN, 'heparinSum', { total: brief(heparin.totalUnits), time: span(heparin.sinceS) }) },
    sayAct(act),
    sayTotal(ROOM_EN.totalContrast, contrast),
    sayTotal(ROOM_EN.totalAirKerma, airKerma),
    sayTotal(ROOM_EN.totalDoseArea, doseArea),
    sayTotal(ROOM_EN.totalFluoroscopy, fluoroscopy),
  ];
}
function sayAct(act: ReturnType<typeof computeRoomTimers>['act']): Line {
  if (act === null) return { name: ROOM_EN.timerAct, value: ROOM_EN.notLogged };
  const value = act.isBelow ? formatText(ROOM_EN, 'belowLimit', { value: brief(act.seconds), limit: brief(act.leastS ?? 0), unit: 's' }) : `${brief(act.seconds)} s`;
  const said = formatText(ROOM_EN, 'agoOf', { value, time: span(act.sinceS) });
  return { name: ROOM_EN.timerAct, value: mark(act.isBeforeHeparin ? `${said}, ${ROOM_EN.beforeHeparin}` : said, act.isUnverified && act.isBelow !== null), isPast: act.isBelow === true };
}

/** Times that run and totals against the signed limits. */
export function RoomTimers() {
  const now = useNow();
  return (
    <dl class="room-timers" aria-label={ROOM_EN.timers}>
      {listLines(now).map((line) => <div key={line.name}><dt>{line.name}</dt><dd>{line.isPast ? <span class="tag">{line.value}</span> : line.value}</dd></div>)}
    </dl>
  );
}
