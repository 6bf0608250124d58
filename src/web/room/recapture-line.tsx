import { judgeRecapture, type RecaptureAnswer } from '../../core/room/judge-recapture.ts';
import { BOARD_EN } from '../../core/text/board-en.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { frozen, room } from '../state/room-log.ts';
import './board.css';
import { formatClock, useNow } from './times.ts';

/** Whether the frame can still be taken back, and what it needs before it goes in again. Part of In the room. */
export function RecaptureLine() {
  const now = useNow();
  const plan = frozen.value;
  const answer = plan ? judgeRecapture(plan, room.value, now) : null;
  return (
    <section class="recapture-line" aria-labelledby="recapture-name">
      <h3 id="recapture-name">{BOARD_EN.recaptureTitle}</h3>
      {answer ? <Line answer={answer} /> : <p class="soft">{BOARD_EN.noFrozen}</p>}
    </section>
  );
}

function Line({ answer }: { readonly answer: RecaptureAnswer }) {
  const { state, because, before, attempts, inspectAfter, replaceAfter, ratio } = answer;
  const hasUnverified = [attempts, inspectAfter, replaceAfter].some((r) => r?.status === 'M');
  return (
    <>
      <p class={`big-answer is-${state === 'cannot say' ? 'unsaid' : state}`}><b>{BOARD_EN[`recapture-${state}`]}</b></p>
      <p>{sayBecause(answer)}{ratio && because !== 'released' && <> <span class="soft">{formatText(BOARD_EN, 'ratioAge', { at: formatClock(ratio.at) })}</span></>}</p>
      <p>{sayAttempts(answer)}{hasUnverified && <> <span class="tag">{BOARD_EN.unverified}</span></>}</p>
      {before !== 'nothing' && <p class="notice"><b>{BOARD_EN[`before-${before}`]}</b></p>}
    </>
  );
}

/** A share in words without a percent sign: on the cards of the room a percentage is never shown (job.md, E10). */
const sayShare = (ratio: number): string => ratio.toFixed(2);
function sayBecause({ because, used, attempts, ratio, mostRatio }: RecaptureAnswer): string {
  const most = mostRatio === null ? '' : sayShare(mostRatio);
  const read = ratio === null ? '' : sayShare(ratio.ratio);
  return formatText(BOARD_EN, `because-${because}`, { used, attempts: attempts?.value ?? '', ratio: read, most } as never);
}
function sayAttempts({ used, left, because }: RecaptureAnswer): string {
  if (because === 'released') return formatText(BOARD_EN, 'attemptsDone', { used });
  return left === null ? formatText(BOARD_EN, 'attemptsNoRule', { used }) : formatText(BOARD_EN, 'attemptsLeft', { used, left });
}
