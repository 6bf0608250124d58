import { formatText } from '../text/catalogue.ts';
import { citeSource } from '../text/cite-source.ts';
import { RHYTHM_EN } from '../text/rhythm-en.ts';
import type { Reason } from '../units/fact.ts';
import { formatInstant, isIsoTime, readInstantMs } from '../units/iso-time.ts';
import type { EcgEntry, EcgMoment, NextEcg, RhythmAnswer, RhythmRules } from './rhythm-types.ts';

const HOUR_MS = 3_600_000;

/**
 * Which ECG is due next, and when: the first of the signed schedule that is not recorded, or sooner when a rule that holds
 * asks for one. Hours count from release; those of a rule from the ECG that it judged. `now` is handed in.
 * Fails     never; CANNOT SAY without signed rules, release or a clock that runs right
 */
export function findNextEcg(
  entries: readonly EcgEntry[],
  rules: RhythmRules | null,
  releasedAt: string | null,
  now: string,
  answer: RhythmAnswer | null = null,
): NextEcg {
  const released = releasedAt === null ? Number.NaN : readInstantMs(releasedAt);
  const nowMs = readInstantMs(now);
  const latest = Math.max(...entries.filter((e) => e.moment !== 'baseline').map((e) => readInstantMs(e.at)), Number.NEGATIVE_INFINITY);
  if (!rules) return cannotSay({ code: 'rhythm-rules-missing', text: RHYTHM_EN.rulesMissing, next: RHYTHM_EN.rulesMissingNext });
  if (rules.signedBy.trim() === '' || !isIsoTime(rules.signedAt)) return cannotSay({ code: 'rhythm-rules-unsigned', text: RHYTHM_EN.rulesUnsigned, next: RHYTHM_EN.rulesUnsignedNext });
  if (Number.isNaN(released)) return cannotSay({ code: 'release-time-missing', text: RHYTHM_EN.releaseMissing, next: RHYTHM_EN.releaseMissingNext });
  if (Number.isNaN(nowMs)) return cannotSay({ code: 'clock-invalid', text: RHYTHM_EN.clockBroken, next: RHYTHM_EN.clockBrokenNext });
  if (nowMs < released || nowMs < latest) return cannotSay({ code: 'clock-behind', text: RHYTHM_EN.clockBehind, next: RHYTHM_EN.clockBrokenNext });
  if (rules.schedule.length === 0) return cannotSay({ code: 'rhythm-schedule-missing', text: RHYTHM_EN.scheduleMissing, next: RHYTHM_EN.scheduleMissingNext });

  const taken = new Set<EcgMoment>(entries.map((e) => e.moment));
  const planned = rules.schedule.filter((due) => !taken.has(due.moment)).map((due): Due => ({
    moment: due.moment, earliest: released + due.earliestH * HOUR_MS, at: released + due.dueH * HOUR_MS, latest: released + due.latestH * HOUR_MS, isUnverified: due.status === 'M',
    because: formatText(RHYTHM_EN, 'becauseSchedule', { moment: RHYTHM_EN[`moment-${due.moment}`], due: due.dueH, edition: due.edition, source: citeSource(due.source), status: RHYTHM_EN[`status-${due.status}`] }),
  }));
  const judgedAt = answer?.at == null ? Number.NaN : readInstantMs(answer.at);
  const extra = (answer?.steps ?? []).flatMap(({ rule, truth, isUnverified }): Due[] => {
    if (truth !== 'yes' || rule.ecgAfterH === undefined || Number.isNaN(judgedAt)) return [];
    const at = judgedAt + rule.ecgAfterH * HOUR_MS;
    const because = formatText(RHYTHM_EN, 'becauseRule', { code: rule.code, hours: rule.ecgAfterH, edition: rule.edition, source: citeSource(rule.source), status: RHYTHM_EN[`status-${rule.status}`] });
    return [{ moment: 'extra', earliest: at, at, latest: at, because, isUnverified }];
  });
  // At one and the same time the planned one stands first: it fills its place.
  const next = [...planned, ...extra].sort((a, b) => a.at - b.at)[0];
  if (!next) return { state: 'none planned', moment: null, earliestAt: null, dueAt: null, latestAt: null, remainingS: null, because: RHYTHM_EN.noneLeft, isUnverified: false, reasons: [] };
  return {
    state: nowMs > next.latest ? 'overdue' : nowMs >= next.earliest ? 'due' : 'not yet due', moment: next.moment,
    earliestAt: formatInstant(next.earliest), dueAt: formatInstant(next.at), latestAt: formatInstant(next.latest),
    remainingS: (next.at - nowMs) / 1000, because: next.because, isUnverified: next.isUnverified, reasons: [],
  };
}

interface Due {
  readonly moment: EcgMoment | 'extra';
  readonly earliest: number;
  readonly at: number;
  readonly latest: number;
  readonly because: string;
  readonly isUnverified: boolean;
}
function cannotSay(reason: Reason): NextEcg {
  return { state: 'CANNOT SAY', moment: null, earliestAt: null, dueAt: null, latestAt: null, remainingS: null, because: reason.text, isUnverified: false, reasons: [reason] };
}
