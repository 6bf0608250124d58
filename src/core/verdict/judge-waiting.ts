import type { Device, RuleSet } from '../device/device-types.ts';
import { formatText } from '../text/catalogue.ts';
import { VERDICT_EN } from '../text/verdict-en.ts';
import { readInstantMs } from '../units/iso-time.ts';
import { showNumber } from './make-reason.ts';
import { citeRule, findVerdictRule } from './read-leak-rules.ts';

export interface Waiting {
  /** `over`: the signed time has passed, so waiting longer is no plan; `not offered`: of this kind of valve; `cannot say`: not released or no signed time. */
  readonly state: 'running' | 'over' | 'not offered' | 'cannot say';
  readonly sinceS: number | null;
  readonly leftS: number | null;
  /** When the witnesses are to be taken again, ISO 8601 UTC is the caller's to make: ms since 1970. */
  readonly dueMs: number | null;
  /** Direction of the change that time brings, in words; no amount, for none is published. */
  readonly expected: string;
  readonly because: string;
  readonly isUnverified: boolean;
}

/**
 * May one wait and measure again? A nitinol frame goes on expanding at body temperature, so its leak may fall in minutes and
 * months; a balloon-expandable frame recoils when the balloon is let down and does not (job.md "Waiting"). For it waiting is
 * offered only where the signed table allows it. Time runs from release, or from the last manoeuvre if that is later.
 * Fails    never
 * Source   docs/methods/verdict.md
 */
export function judgeWaiting(
  valve: { readonly kind: Device['kind'] | null; readonly isWaitAllowed: boolean | null },
  clock: { readonly releasedAt: string | null; readonly lastManoeuvreAt: string | null; readonly nowAt: string },
  rules: RuleSet | null,
): Waiting {
  const rule = findVerdictRule(rules, 'expansion-wait');
  const isSelfExpanding = valve.kind === 'self-expanding';
  const expected = valve.kind === null ? VERDICT_EN.expectUnknown : isSelfExpanding ? VERDICT_EN.expectFall : VERDICT_EN.expectNone;
  const bare = { sinceS: null, leftS: null, dueMs: null, expected, isUnverified: rule?.status === 'M' };
  if (valve.kind === null) return { ...bare, state: 'cannot say', because: VERDICT_EN.waitNoValve };
  if (!isSelfExpanding && valve.isWaitAllowed !== true) return { ...bare, state: 'not offered', because: VERDICT_EN.waitBalloonExpandable };
  const releasedMs = clock.releasedAt === null ? Number.NaN : readInstantMs(clock.releasedAt);
  if (Number.isNaN(releasedMs)) return { ...bare, state: 'cannot say', because: VERDICT_EN.waitNotReleased };
  const manoeuvreMs = clock.lastManoeuvreAt === null ? Number.NaN : readInstantMs(clock.lastManoeuvreAt);
  // A manoeuvre at a time that cannot be read may have been a moment ago.
  if ((clock.lastManoeuvreAt !== null && Number.isNaN(manoeuvreMs)) || Number.isNaN(readInstantMs(clock.nowAt))) return { ...bare, state: 'cannot say', because: VERDICT_EN.waitNoTime };
  const fromMs = manoeuvreMs > releasedMs ? manoeuvreMs : releasedMs;
  const sinceS = Math.max(0, readInstantMs(clock.nowAt) - fromMs) / 1000;
  if (rule === null) return { ...bare, sinceS, state: 'cannot say', because: VERDICT_EN.waitNoRule };
  const leftS = Math.max(0, rule.value - sinceS);
  const source = citeRule(rule);
  return {
    ...bare, sinceS, leftS, dueMs: fromMs + rule.value * 1000, state: leftS > 0 ? 'running' : 'over',
    because: leftS > 0 ? formatText(VERDICT_EN, 'waitRunning', { left: sayLeft(leftS), all: showNumber(rule.value / 60), source }) : formatText(VERDICT_EN, 'waitOver', { all: showNumber(rule.value / 60), source }),
  };
}

/** Minutes and seconds as a clock has them: 7.19 min would be read as 7 min 19 s. */
function sayLeft(leftS: number): string {
  const whole = Math.ceil(leftS);
  return formatText(VERDICT_EN, 'minutesSeconds', { min: Math.floor(whole / 60), s: whole % 60 });
}
