import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay } from '../../../test/support/seed.ts';
import { fact, makePressureAnswer, VERDICT_RULES } from '../../../test/support/verdict-fixtures.ts';
import type { CaseEvent, CaseEventData, CaseEventKind } from '../case/case-events.ts';
import { foldCase } from '../case/fold-case.ts';
import type { SealedGrade } from '../case/result-events.ts';
import { rateBaseline } from '../haemodynamics/rate-baseline.ts';
import { foldRoom } from '../room/fold-room.ts';
import type { RoomEntry, RoomRecord } from '../room/room-types.ts';
import { assembleVerdict } from './assemble-verdict.ts';
import { checkGradesInLog } from './check-grades-in-log.ts';
import { composeVerdict } from './compose-verdict.ts';
import { placeReader, showResult } from './show-result.ts';
import type { VerdictCase } from './verdict-case.ts';

const at = (s: number): string => new Date(Date.UTC(2026, 2, 2, 10, 0, s)).toISOString();
const hash = (n: number): string => String(n).padStart(64, '0');
const IDENTITY = { verdict: 'not comparable', fields: [], acceptedBecause: 'test' } as const;

/** A log in the making; every event a second after the one in front of it unless it says when. */
function startLog() {
  const events: CaseEvent[] = [];
  const add = <K extends CaseEventKind>(kind: K, data: CaseEventData[K], by = 'one', s = events.length): number => {
    events.push({ caseId: 'case-1', seq: events.length + 1, at: at(s), by, kind, data, supersedes: null, prevSha256: '', sha256: '' } as CaseEvent);
    return events.length;
  };
  let taps = 0;
  return {
    events, add,
    tap(entry: RoomEntry, s: number = events.length): number {
      taps += 1;
      return add('room.logged', { entryId: `tap-${taps}`, clientId: 'page', place: 'desk', count: taps, monotonicMs: taps, clientAt: at(s), happenedAt: at(s), offset: { addedMs: 0, withinMs: 1 }, corrects: null, entry } satisfies RoomRecord, 'one', events.length);
    },
    grade: (by: string, n: number, of: SealedGrade['of'] = 'overall') => add('grade.sealed', { gradeId: `grade-${n}`, of, sealedSha256: hash(n) }, by),
    recording: (n: number, moment: 'baseline' | 'after', s: number) => add('recording.joined', { recordingId: `recording-${n}`, moment, blobSha256: hash(500 + n), answerSha256: hash(n), refusal: null, format: 'csv', channels: null, takenAt: at(s), durationS: 12, identity: IDENTITY }),
  };
}
type Log = ReturnType<typeof startLog>;
function makeCase({ events }: Log, more: Partial<VerdictCase> = {}): VerdictCase {
  const records = events.flatMap((e) => (e.kind === 'room.logged' ? [{ ...(e.data as RoomRecord), by: e.by, seq: e.seq }] : []));
  return { state: foldCase('case-1', events), room: foldRoom(records), frozen: null, plan: null, pressures: new Map(), contrasts: new Map(), grades: new Map(), rules: VERDICT_RULES, nowAt: at(500), ...more };
}
const sealed = (low: number, high = low, of: SealedGrade['of'] = 'overall'): SealedGrade => ({ format: 'trinadir.grade/1', of, low, high, takenAt: at(50), heartRatePerMin: 70, loadingNote: 'awake', nonce: 'n' });

describe('assembleVerdict', () => {
  test('the newest recording after release that was not withdrawn speaks, over the newest baseline', () => {
    const log = startLog();
    log.add('case.opened', { label: 'x', procedureOn: null, training: false });
    log.tap({ is: 'phase', phase: 'released' }, 5);
    log.recording(1, 'baseline', 3);
    log.recording(2, 'after', 60);
    log.recording(3, 'after', 90);
    log.recording(4, 'after', 120);
    log.add('witness.withdrawn', { of: 'recording-4', because: 'other line' });
    log.add('witness.noted', { of: 'recording-3', takenAt: at(91), heartRatePerMin: 70, loadingNote: 'awake' }, 'two');
    const n = { systolic: 130, diastolic: 60, endDiastolic: 20, ratePerMin: 72 };
    const pressures = new Map([[hash(1), makePressureAnswer({ ...n, diastolic: 80 })], [hash(2), makePressureAnswer(n)], [hash(3), makePressureAnswer({ ...n, diastolic: 50 })], [hash(4), makePressureAnswer(n)]]);
    const inputs = assembleVerdict(makeCase(log, { pressures }));
    expect(inputs.witnesses).toMatchObject([{ kind: 'pressure', by: 'two', at: at(91), loadingNote: 'awake', from: [hash(3)] }]);
    expect(inputs.clock).toMatchObject({ releasedAt: at(5), lastManoeuvreAt: at(5) });
    // (50 - 20) / 130 over (80 - 20) / 130.
    expect(inputs.pressure!.leak.arIndexRatio.value).toBeCloseTo(0.5, 12);
    expect(inputs.valve).toEqual({ kind: null, isWaitAllowed: null, size: null });
    expect(composeVerdict(inputs).waiting.state).toBe('cannot say');
  });
  test('an echo is read from its entries; what is not entered is no witness, and says why', () => {
    const log = startLog();
    log.add('echo.begun', { echoId: 'echo-1', takenAt: at(80) });
    expect(assembleVerdict(makeCase(log)).witnesses).toMatchObject([{ kind: 'echo', interval: null, isValid: false }]);
    log.add('echo.entered', { echoId: 'echo-1', field: 'circumference', value: 5, trace: null }, 'two');
    expect(assembleVerdict(makeCase(log)).witnesses).toMatchObject([{ kind: 'echo', by: 'two', at: at(80), interval: [0, 1] }]);
  });
  test('a measured ratio wins over a grade by eye; without one each reader’s grade of this round speaks, as wide as its spread', () => {
    const log = startLog();
    log.tap({ is: 'phase', phase: 'released' }, 0);
    log.grade('one', 1, 'angiogram');
    log.grade('two', 2, 'angiogram');
    log.add('angiogram.measured', { angiogramId: 'angiogram-1', runId: 'run-1', answerSha256: hash(9) });
    const grades = new Map([[hash(1), sealed(2, 2, 'angiogram')], [hash(2), sealed(0, 1, 'angiogram')]]);
    const answer = (ratio: number | null): VerdictCase['contrasts'] => new Map([[hash(9), { ratio: fact(ratio, '1', 0.005), cycle: { ratePerMin: fact(70, '/min') } } as never]]);
    expect(assembleVerdict(makeCase(log, { grades, contrasts: answer(0.3) })).witnesses).toMatchObject([{ kind: 'angiogram', interval: [2, 4] }]);
    expect(assembleVerdict(makeCase(log, { grades, contrasts: answer(null) })).witnesses.map((w) => w.interval)).toEqual([null, [1, 3], [0, 2]]);
    expect(assembleVerdict(makeCase(log, { contrasts: answer(null) })).witnesses.map((w) => w.interval)).toEqual([null]);
  });
});

describe('what one reader may see', () => {
  const begin = (): Log => {
    const log = startLog();
    log.tap({ is: 'phase', phase: 'released' }, 0);
    log.add('readers.present', { personIds: ['one', 'two'] });
    return log;
  };
  const look = (log: Log, who: string, asks: boolean) => {
    const c = makeCase(log, { grades: new Map([[hash(1), sealed(3)], [hash(2), sealed(0)]]) });
    const place = placeReader(c, who);
    return { place, answer: showResult(c, who, place, asks, (id) => `Reader ${id}`) };
  };
  test('closed: their own grade and whom it waits for, by name; nothing else, however they ask', () => {
    const log = begin();
    log.grade('one', 1);
    for (const who of ['one', 'two', 'three']) {
      const { place, answer } = look(log, who, true);
      expect([place.maySee, answer.verdict, answer.remedies]).toEqual([false, null, null]);
      expect(answer.next).toContain('Reader two');
      expect(Object.keys(answer.gate.visibleTo)).toEqual([who]);
      expect(JSON.stringify(answer).includes('[3,3]')).toBe(who === 'one');
    }
  });
  test('open: only on asking, and only for who has a grade', () => {
    const log = begin();
    log.grade('one', 1);
    log.grade('two', 2);
    expect(look(log, 'one', false).answer).toMatchObject({ verdict: null, next: expect.stringMatching(/^Every reader/) });
    expect(look(log, 'one', true).answer.verdict!.word).toBe('CANNOT SAY');
    expect(look(log, 'three', true).answer).toMatchObject({ verdict: null, next: expect.stringMatching(/^Enter your own/) });
  });
});

describe('checkGradesInLog', () => {
  const shownBy = (log: Log, by: string, what: 'verdict' | 'grades' = 'verdict') => log.add('verdict.shown', { what, answerSha256: hash(77) }, by);
  const begin = (): Log => {
    const log = startLog();
    log.tap({ is: 'phase', phase: 'released' }, 0);
    log.add('readers.present', { personIds: ['one', 'two'] });
    return log;
  };
  test('the order that the server keeps has no breach, within one millisecond too', () => {
    const log = begin();
    log.grade('one', 1);
    log.add('grade.sealed', { gradeId: 'grade-2', of: 'overall', sealedSha256: hash(2) }, 'two', 9);
    log.add('verdict.shown', { what: 'verdict', answerSha256: hash(77) }, 'one', 9);
    expect(checkGradesInLog(log.events, [])).toEqual([]);
  });
  test('shown before the own grade, before another’s, to nobody present, or after a manoeuvre: each is named with its event', () => {
    const early = begin();
    early.grade('one', 1);
    expect(checkGradesInLog(early.events.concat(), [])).toEqual([]);
    const seq = shownBy(early, 'one');
    expect(checkGradesInLog(early.events, [])).toMatchObject([{ seq, text: expect.stringContaining('two') }]);
    const nobody = startLog();
    nobody.grade('one', 1);
    shownBy(nobody, 'one');
    expect(checkGradesInLog(nobody.events, [])).toHaveLength(1);
    const later = begin();
    later.grade('one', 1);
    later.grade('two', 2);
    const told = later.tap({ is: 'dilated', balloonMm: 22, when: 'after' });
    const afterwards = shownBy(later, 'one');
    expect(checkGradesInLog(later.events, []).map((b) => b.seq)).toEqual([afterwards, afterwards]);
    // A balloon that was logged while the answer was on its way was not known to it.
    expect(checkGradesInLog(later.events, [{ seq: afterwards, basedOnSeq: told - 1 }])).toEqual([]);
    // But nobody may claim so over anything else than taps of the room.
    expect(checkGradesInLog(later.events, [{ seq: afterwards, basedOnSeq: 3 }])).toHaveLength(2);
  });
  test('a kind’s own grade is no overall grade; other grades shown are a breach like the verdict', () => {
    const log = begin();
    log.grade('one', 1, 'echo');
    shownBy(log, 'one', 'grades');
    expect(checkGradesInLog(log.events, [])).toHaveLength(1);
  });
});

describe('rateBaseline', () => {
  test('index after over before with both bands at their ends; a baseline that holds zero is refused', () => {
    const after = makePressureAnswer({ systolic: 130, diastolic: 50, endDiastolic: 20, ratePerMin: 72, half: 1 });
    const index = after.leak.arIndex;
    const ratio = rateBaseline(after, fact(40, '1', 2)).leak.arIndexRatio;
    expect([ratio.value, ratio.low, ratio.high]).toEqual([index.value! / 40, index.low! / 42, index.high! / 38]);
    expect(rateBaseline(after, fact(1, '1', 2)).leak.arIndexRatio).toMatchObject({ value: null, reasons: [{ code: 'baseline-not-above-zero' }] });
    expect(rateBaseline(after, null)).toBe(after);
  });
  test('a wider baseline never narrows the ratio (seeded)', () => {
    fc.assert(fc.property(fc.double({ min: 1, max: 20, noNaN: true }), fc.double({ min: 0, max: 5, noNaN: true }), fc.double({ min: 0, max: 5, noNaN: true }), (before, half, more) => {
      const after = makePressureAnswer({ systolic: 130, diastolic: 50, endDiastolic: 20, ratePerMin: 72, half: 1 });
      const [narrow, wide] = [half, half + more].map((h) => rateBaseline(after, fact(before + 12, '1', h)).leak.arIndexRatio);
      expect(wide!.low! <= narrow!.low! && wide!.high! >= narrow!.high!).toBe(true);
    }), replay);
  });
});
