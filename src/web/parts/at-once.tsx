import type { Plan } from '../../core/case/plan-types.ts';
import { nameView } from '../../core/projection/camera-view.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { LANDING_EN } from '../../core/text/landing-en.ts';
import { RELEASE_EN } from '../../core/text/release-en.ts';
import { formatFact, formatShare } from '../../formats/report/format-number.ts';
import { formatWindow } from '../../formats/report/format-window.ts';
import { shownPlan } from '../state/open-case.ts';
import { livePlan, preview } from '../state/live-plan.ts';

const AT_ONCE = ['ring', 'size', 'landing', 'views', 'release'] as const;
type Line = (typeof AT_ONCE)[number];

/** The answers of a plan in a few words each. */
export function sayAnswers(plan: Plan): Readonly<Record<Line, string>> {
  const { root, size, landing, views, release } = plan;
  const ring = root ? formatFact(root.basalRing.perimeterDiameterMm) : null;
  const share = size?.answer ? size.candidates.find((c) => c.device === size.answer!.device && c.size === size.answer!.size) : undefined;
  const window = landing ? formatWindow(landing) : null;
  const start = views?.chosen.find((v) => v.role === 'start');
  const none = DESK_EN.atOnceNone;
  return {
    ring: ring ? `${ring.value} ${ring.interval}` : none,
    size: !size ? none : size.answer && share ? `${size.answer.device} ${size.answer.size} (${formatShare(share.fitProbability)})` : LANDING_EN.sizeNone,
    landing: !landing ? none : window ? formatText(DESK_EN, 'atOnceDepth', { low: window.aimLow, high: window.aimHigh, start: window.start }) + (landing.state === 'incomplete' ? ` ${DESK_EN.atOnceIncomplete}` : '') : DESK_EN.atOnceEmpty,
    views: start ? nameView(start) : none,
    release: !release ? none : release.answer === 'cannot say' ? RELEASE_EN.cannotSay : RELEASE_EN[`verdict-${release.answer}`],
  };
}

/**
 * What each page answers to the marks as they stand, as a strip under the pictures; while marks are moved it stays in
 * sight at the foot of the window and says what each answer was before.
 */
export function AtOnce() {
  const live = livePlan.value;
  const stored = shownPlan.value;
  if (!live || !stored) return null;
  const isMoving = live.isInstant || preview.value !== null;
  const [now, was] = [sayAnswers(live.plan), sayAnswers(stored.plan)];
  const isPending = (line: Line): boolean => line === 'release' && live.pending.includes('release');
  return (
    <div class={isMoving ? 'at-once moving' : 'at-once'} role="group" aria-label={DESK_EN.atOnceTitle}>
      <dl>
        {AT_ONCE.map((line) => (
          <div key={line}>
            <dt>{DESK_EN[`atOnce-${line}`]}</dt>
            <dd>{isPending(line) ? <span class="tag">{DESK_EN.atOncePending}</span> : now[line] !== was[line] ? <b>{now[line]}</b> : now[line]}</dd>
            {isMoving && (now[line] !== was[line] || isPending(line)) && <dd class="soft">{formatText(DESK_EN, 'atOnceWas', { was: was[line] })}</dd>}
          </div>
        ))}
      </dl>
      {live.failure && <div class="notice" role="status"><div><p>{live.failure.message}</p><p class="soft">{formatText(DESK_EN, 'next', { next: live.failure.nextStep })}</p></div></div>}
    </div>
  );
}
