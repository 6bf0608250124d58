import fc from 'fast-check';
import type { NewCaseEvent } from '../../src/core/case/case-events.ts';
import type { RoomEntry, RoomRecord } from '../../src/core/room/room-types.ts';

/** Events as people and the tool make them, one of many kinds each; the first of a case is its opening. */
const text = (most: number) => fc.string({ maxLength: most, unit: 'grapheme' }).filter((t) => !t.includes('\u0000') && t.length <= most);
const id = fc.integer({ min: 0, max: 30 }).map((n) => `id-${n}`);
const sha256 = fc.integer({ min: 0, max: 40 }).map((n) => n.toString(16).padStart(64, 'a'));
const length = fc.double({ min: -100, max: 100, noNaN: true });
const xyz = fc.tuple(length, length, length);
const value = fc.oneof(text(60), fc.double({ min: -1e6, max: 1e6, noNaN: true }), fc.boolean(), fc.constant(null));
const instant = fc.integer({ min: 0, max: 9_999_999 }).map((ms) => new Date(1_772_438_400_000 + ms).toISOString());

const entry: fc.Arbitrary<RoomEntry> = fc.oneof(
  fc.record({ is: fc.constant('phase' as const), phase: fc.constantFrom('access', 'position', 'releasing', 'decision', 'released', 'result') }),
  fc.record({ is: fc.constant('pacing' as const), isOn: fc.boolean(), ratePerMin: fc.option(fc.integer({ min: 30, max: 260 })) }),
  fc.record({ is: fc.constant('moved' as const), direction: fc.constantFrom('up', 'down', 'unknown'), mm: fc.option(fc.double({ min: 0, max: 20, noNaN: true })) }),
  fc.record({ is: fc.constant('recaptured' as const), isWhole: fc.boolean() }),
  fc.record({ is: fc.constant('contrast' as const), ml: fc.double({ min: 0, max: 100, noNaN: true }) }),
  fc.record({ is: fc.constant('note' as const), text: text(100).filter((t) => t !== '') }),
);
export const roomRecord: fc.Arbitrary<RoomRecord> = fc.record({
  entryId: fc.uuid(), clientId: id.map((t) => `page-${t}`), place: fc.constantFrom('desk', 'remote', 'wall'), count: fc.integer({ min: 1, max: 500 }), monotonicMs: fc.double({ min: 0, max: 1e7, noNaN: true }),
  clientAt: instant, happenedAt: instant, offset: fc.option(fc.record({ addedMs: fc.integer({ min: -9000, max: 9000 }), withinMs: fc.integer({ min: 0, max: 500 }) })),
  corrects: fc.constant(null), entry,
});
const one = <K extends NewCaseEvent['kind']>(kind: K, data: fc.Arbitrary<Extract<NewCaseEvent, { kind: K }>['data']>): fc.Arbitrary<NewCaseEvent> => data.map((d) => ({ kind, data: d }) as NewCaseEvent);

/** Between release and discharge. */
function ofResult(): fc.Arbitrary<NewCaseEvent>[] {
  const nobody = fc.constant({ verdict: 'not comparable' as const, fields: [], acceptedBecause: null });
  const witness = fc.constantFrom('echo-1', 'echo-2', 'recording-1', 'angiogram-1');
  const echoId = fc.constantFrom('echo-1', 'echo-2');
  const number = fc.double({ min: 0.1, max: 200, noNaN: true });
  const trace = fc.record({ blobSha256: sha256, frame: fc.nat(9), is: fc.constantFrom('envelope' as const, 'clock' as const), points: fc.array(fc.tuple(length, length), { minLength: 2, maxLength: 5 }) });
  const words = fc.record({
    at: instant, rhythm: fc.constantFrom('sinus' as const, null), prMs: fc.option(fc.integer({ min: 100, max: 300 })), qrsMs: fc.option(fc.integer({ min: 60, max: 200 })), ratePerMin: fc.option(fc.integer({ min: 40, max: 120 })),
    hvMs: fc.constant(null), bundleBlock: fc.constantFrom('none' as const, 'left' as const, null), avBlock: fc.constant(null),
  });
  const moment = fc.constantFrom('baseline' as const, 'post' as const, 'h24' as const);
  return [
    one('recording.joined', fc.record({ recordingId: fc.constantFrom('recording-1', 'recording-2'), moment: fc.constantFrom('baseline', 'after'), blobSha256: sha256, answerSha256: fc.option(sha256), refusal: fc.option(fc.constant({ code: 'no-beats', text: 'None.', next: 'Again.' })), format: fc.constantFrom('csv', 'edf'), channels: fc.option(text(20)), takenAt: instant, durationS: number, identity: nobody })),
    one('witness.noted', fc.record({ of: witness, takenAt: instant, heartRatePerMin: fc.option(fc.integer({ min: 40, max: 150 })), loadingNote: fc.option(text(30)) })),
    one('witness.withdrawn', fc.record({ of: witness, because: fc.constant('Of another day.') })),
    one('echo.begun', fc.record({ echoId, takenAt: instant })),
    one('echo.joined', fc.record({ echoId, blobSha256: sha256, is: fc.constantFrom('report', 'picture'), fields: fc.dictionary(fc.constantFrom('valve-velocity', 'circumference'), number), halfWidths: fc.dictionary(fc.constantFrom('valve-velocity', 'circumference'), number), identity: nobody })),
    one('echo.entered', fc.record({ echoId, field: fc.constantFrom('valve-velocity', 'circumference'), value, trace: fc.option(trace), halfWidth: fc.option(number) })),
    one('angiogram.measured', fc.record({ angiogramId: fc.constant('angiogram-1'), runId: id.map((t) => `run-${t}`), answerSha256: sha256 })),
    one('grade.sealed', fc.record({ gradeId: id.map((t) => `grade-${t}`), of: fc.constantFrom('overall', 'echo'), sealedSha256: sha256 })),
    one('readers.present', fc.record({ personIds: fc.uniqueArray(id.map((t) => `person-${t}`), { maxLength: 3 }) })),
    one('verdict.shown', fc.record({ what: fc.constantFrom('verdict', 'grades'), answerSha256: sha256 })),
    one('result.entered', fc.record({ field: fc.constantFrom('signs.hasEffusion', 'watch.wire'), value })),
    one('result.decided', fc.record({ decision: fc.constantFrom('finish', 'wait'), because: fc.constant('As agreed.'), answerSha256: fc.option(sha256) })),
    one('ecg.entered', fc.record({ moment, words: fc.option(words) })),
    one('ecg.joined', fc.record({ moment, blobSha256: sha256, readingSha256: sha256, takenAt: instant, identity: nobody })),
  ];
}

const later: fc.Arbitrary<NewCaseEvent> = fc.oneof(
  one('case.dated', fc.record({ procedureOn: fc.constantFrom('2026-03-02', null) })),
  one('referral.entered', fc.record({ field: fc.constantFrom('identity.name', 'identity.sex', 'plan.pacingPerMin', 'heart.qrsMs'), value, unit: fc.constantFrom('/min', null) })),
  one('scan.joined', fc.record({ scanId: id.map((t) => `scan-${t}`), manifestSha256: sha256, files: fc.nat(500), bytes: fc.nat(1e9), identity: fc.constant({ verdict: 'not comparable' as const, fields: [], acceptedBecause: null }) })),
  one('mark.moved', fc.record({ mark: fc.constantFrom('nadir.R', 'nadir.L', 'ostium.left'), lps: fc.option(xyz), was: fc.option(xyz) })),
  one('plan.made', fc.record({ planSha256: sha256, surveySha256: fc.option(sha256), basedOnSeq: fc.nat(20) })),
  one('plan.refused', fc.record({ code: fc.constant('contrast-too-low'), text: text(80), next: text(80), basedOnSeq: fc.nat(20) })),
  one('doubt.accepted', fc.record({ code: fc.constantFrom('thin', 'thick'), section: fc.constant('root'), because: fc.constant('Looked at.') })),
  one('huddle.entered', fc.record({ field: fc.constantFrom('team.nurse', 'depth.startMm', 'consent.given'), value })),
  one('branch.agreed', fc.record({ branch: fc.constantFrom('moved-up', 'moved-down', 'leaks'), plan: fc.option(fc.constant({ person: 'A', item: 'snare', place: 'shelf' })) })),
  one('identity.checked', fc.record({ verdict: fc.constantFrom('same', 'differs', 'not comparable'), fields: fc.constant([]) })),
  one('blocker.overridden', fc.record({ code: fc.constant('entry-team.nurse'), because: fc.constant('Known to all.') })),
  one('plan.frozen', fc.record({ frozenSha256: sha256, planSha256: sha256, basedOnSeq: fc.nat(20), amends: fc.option(sha256), differences: fc.array(fc.constantFrom('choice.startMm', 'huddle.team.nurse'), { maxLength: 2 }) })),
  one('room.logged', roomRecord),
  ...ofResult(),
);
/** What one writer hands in at once. */
export const caseBatches: fc.Arbitrary<readonly (readonly NewCaseEvent[])[]> = fc.tuple(
  one('case.opened', fc.record({ label: text(40).filter((t) => t.trim() !== ''), procedureOn: fc.constantFrom('2026-03-02', null), training: fc.boolean() })),
  fc.array(fc.array(later, { minLength: 1, maxLength: 4 }), { maxLength: 8 }),
).map(([opened, rest]) => [[opened], ...rest]);
