import type { AngiogramLine, RecordingLine } from '../case/fold-result.ts';
import type { Device, DeviceSize, RuleSet } from '../device/device-types.ts';
import type { PressureAnswer } from '../haemodynamics/pressure-types.ts';
import { rateBaseline } from '../haemodynamics/rate-baseline.ts';
import type { ContactGap } from '../release/release-types.ts';
import { readChosen } from '../room/read-chosen.ts';
import { listSecondValves } from '../room/second-valve.ts';
import { assembleEcho } from './assemble-echo.ts';
import { findRoundStart, type VerdictInputs } from './compose-verdict.ts';
import { makeReason } from './make-reason.ts';
import { makeAngiogramWitness, makeAortographyWitness, makePressureWitness, type WitnessCircumstance } from './make-witness.ts';
import type { OwnGrade } from './own-grade-first.ts';
import type { VerdictCase } from './verdict-case.ts';
import { listBalloonsAtHand, readDiastoleEntries, readRoomSigns } from './read-room-signs.ts';
import { readVerdictClock } from './read-verdict-clock.ts';
import type { LeakInterval, LeakWitness } from './verdict-types.ts';
import { readInstantMs } from '../units/iso-time.ts';

/**
 * What the verdict of a case is composed of: the newest pressures after release, the newest echo and the newest measured run that
 * were not withdrawn, the clock of the room, and what persons said.
 * Shape    pure; readers are named by their ids
 * Fails    never; what is missing is null
 * Source   docs/methods/verdict.md
 */
export function assembleVerdict(c: VerdictCase): VerdictInputs {
  const { state: { result }, room, frozen, rules, nowAt } = c;
  const clock = readVerdictClock(room, nowAt);
  const before = findPressure(c, 'baseline')?.answer ?? null;
  const after = findPressure(c, 'after');
  const pressure = after?.answer ? rateBaseline(after.answer, before?.leak.arIndex ?? null) : null;
  const echo = assembleEcho(c, pressure);
  const valve = findValve(c);
  return {
    clock, present: result.readers?.personIds ?? [], grades: listOverallGrades(c), rules,
    witnesses: [...(after ? [witnessPressure(after.line, pressure, rules)] : []), ...(echo ? [echo.witness] : []), ...witnessAngiograms(c, findRoundStart(clock))],
    valve: { kind: valve.device?.kind ?? null, isWaitAllowed: valve.device?.waitAllowed ?? null, size: valve.size },
    root: (frozen?.plan ?? c.plan)?.root ?? null, balloonsMm: listBalloonsAtHand(room, frozen, clock),
    second: frozen === null ? null : listSecondValves(frozen, room, nowAt.slice(0, 10)), pressure,
    entries: readDiastoleEntries(c.state, before, echo?.signs ?? null), signs: readRoomSigns(c.state, room, frozen, clock, echo?.signs ?? null),
    gaps: valve.gaps, seen: echo?.seen ?? null,
  };
}

/** Overall grades of the log; those that were not opened stand with the whole scale, which nobody reads. */
export function listOverallGrades({ state, grades }: Pick<VerdictCase, 'state' | 'grades'>): readonly OwnGrade[] {
  return state.result.grades.filter((g) => g.of === 'overall').map(({ by, at, seq, sealedSha256 }) => {
    const opened = grades.get(sealedSha256);
    return { by, at, seq, interval: opened ? [opened.low, opened.high] : [0, 4], kind: null };
  });
}

interface FoundPressure {
  readonly line: RecordingLine;
  readonly answer: PressureAnswer | null;
}
function findPressure({ state, pressures }: VerdictCase, moment: RecordingLine['moment']): FoundPressure | null {
  const line = findNewest(state.result.recordings.filter((r) => r.moment === moment));
  return line && { line, answer: line.answerSha256 === null ? null : (pressures.get(line.answerSha256) ?? null) };
}

/** By when it was taken, then by the log. */
function findNewest<L extends RecordingLine | AngiogramLine>(lines: readonly L[]): L | null {
  const takenMs = (line: L): number => readInstantMs(takenAt(line));
  return lines.filter((l) => l.withdrawn === null).reduce<L | null>((a, l) => (a === null || takenMs(l) > takenMs(a) || (takenMs(l) === takenMs(a) && l.seq > a.seq) ? l : a), null);
}
const takenAt = (line: RecordingLine | AngiogramLine): string => line.note?.takenAt ?? ('takenAt' in line ? line.takenAt : line.at);

function witnessPressure(line: RecordingLine, answer: PressureAnswer | null, rules: RuleSet | null): LeakWitness {
  const who: WitnessCircumstance = { by: line.note?.by ?? line.by, at: takenAt(line), heartRatePerMin: null, loadingNote: line.note?.loadingNote ?? null, from: [line.answerSha256 ?? line.blobSha256] };
  return answer ? makePressureWitness(answer, who, rules) : refuseWitness('pressure', who, line.note?.heartRatePerMin ?? null, line.refusal);
}

function refuseWitness(kind: LeakWitness['kind'], who: WitnessCircumstance, heartRatePerMin: number | null, because: RecordingLine['refusal']): LeakWitness {
  const reason = because ?? makeReason('witness-unread', 'What was measured does not read.', 'Hand it in again.');
  return { kind, interval: null, isValid: false, method: kind, ...who, heartRatePerMin, minutesAfterRelease: null, reasons: [reason] };
}

/** The newest measured run; where there is none, or it gave no ratio, the newest grade by eye of this round beside it. */
function witnessAngiograms(c: VerdictCase, sinceAt: string | null): readonly LeakWitness[] {
  const { state: { result }, contrasts, rules } = c;
  const line = findNewest(result.angiograms);
  const answer = line ? (contrasts.get(line.answerSha256) ?? null) : null;
  const measured = line ? [answer ? makeAngiogramWitness(answer.ratio, {
    by: line.note?.by ?? line.by, at: takenAt(line), heartRatePerMin: line.note?.heartRatePerMin ?? answer.cycle.ratePerMin.value, loadingNote: line.note?.loadingNote ?? null, from: [line.answerSha256],
  }, rules) : refuseWitness('angiogram', { by: line.by, at: takenAt(line), heartRatePerMin: null, loadingNote: null, from: [line.answerSha256] }, null, null)] : [];
  return measured.some((w) => w.interval !== null) ? measured : [...measured, ...listByEye(c, sinceAt)];
}

/** Each reader's newest; a reader who wavers between two classes gives the hull of both. */
function listByEye({ state: { result }, grades, rules }: VerdictCase, sinceAt: string | null): readonly LeakWitness[] {
  const of = result.grades.filter((g) => g.of === 'angiogram' && (sinceAt === null || readInstantMs(g.at) > readInstantMs(sinceAt)));
  const newest = new Map(of.map((g) => [g.by, g]));
  return [...newest.values()].flatMap((g): readonly LeakWitness[] => {
    const opened = grades.get(g.sealedSha256);
    if (!opened) return [];
    const who = { by: g.by, at: opened.takenAt, heartRatePerMin: opened.heartRatePerMin, loadingNote: opened.loadingNote, from: [g.sealedSha256] };
    const [low, high] = [makeAortographyWitness(opened.low, who, rules), makeAortographyWitness(opened.high, who, rules)];
    if (low.interval === null) return [low];
    if (high.interval === null) return [high];
    const interval: LeakInterval = [low.interval[0], high.interval[1]];
    return [{ ...low, interval, method: opened.low === opened.high ? low.method : `${low.method} ${high.method}` }];
  });
}

/** The frozen valve; without a frozen plan the one that the plan and the huddle name. */
function findValve({ state, frozen, plan }: VerdictCase): { readonly device: Device | null; readonly size: DeviceSize | null; readonly gaps: readonly ContactGap[] | null } {
  if (frozen) {
    return { device: frozen.device, size: frozen.device.sizes.find((s) => s.label === frozen.choice.size) ?? null, gaps: frozen.plan.release?.expectedFrame?.gaps ?? null };
  }
  const chosen = plan === null ? null : readChosen(state, plan);
  return { device: chosen?.device ?? null, size: chosen?.size ?? null, gaps: chosen?.isForecast === true ? (plan?.release?.expectedFrame?.gaps ?? null) : null };
}
