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
);
/** What one writer hands in at once. */
export const caseBatches: fc.Arbitrary<readonly (readonly NewCaseEvent[])[]> = fc.tuple(
  one('case.opened', fc.record({ label: text(40).filter((t) => t.trim() !== ''), procedureOn: fc.constantFrom('2026-03-02', null), training: fc.boolean() })),
  fc.array(fc.array(later, { minLength: 1, maxLength: 4 }), { maxLength: 8 }),
).map(([opened, rest]) => [[opened], ...rest]);
