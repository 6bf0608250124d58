import type { FrozenDocument } from '../../src/core/room/frozen-types.ts';
import { makeWallBoard } from '../../src/core/room/make-wall-board.ts';
import type { RoomEntry, RoomPhase } from '../../src/core/room/room-types.ts';
import type { WallAsk, WallBoard, WallSettings } from '../../src/core/room/wall-types.ts';
import { makeFrozenFixture } from './frozen-fixture.ts';
import { depthEntry, logTime, makeRoom } from './room-log.ts';

/** Moments of a case, with the second they are looked at, for everything that shows a wall. */
export interface WallScene {
  readonly name: string;
  readonly log: readonly (readonly [second: number, entry: RoomEntry])[];
  readonly atS: number;
  readonly change?: Partial<FrozenDocument>;
  readonly ask?: Partial<Omit<WallAsk, 'settings'>>;
  readonly settings?: Partial<WallSettings>;
}
/** Frozen in memory as well: whoever writes to it fails. */
export const BASE = freezeDeep(makeFrozenFixture());
function freezeDeep<T>(value: T): T {
  if (value !== null && typeof value === 'object') for (const inner of Object.values(Object.freeze(value))) freezeDeep(inner);
  return value;
}
const phase = (name: RoomPhase): RoomEntry => ({ is: 'phase', phase: name });
const begun = [[0, phase('position')], [2, { is: 'view', view: { primaryDeg: -19, secondaryDeg: -26 } }], [10, depthEntry(3, 0.5, { unsheathedRatio: 0 })]] as const satisfies WallScene['log'];
const opening = [...begun, [40, phase('releasing')], [41, { is: 'pacing', isOn: true, ratePerMin: 120 }], [50, { is: 'fraction', ratio: 0.6 }]] as const satisfies WallScene['log'];
/** A verdict with its longest words; everything invented. */
export const makeVerdict = (change: Partial<Extract<RoomEntry, { is: 'verdict' }>> = {}): Extract<RoomEntry, { is: 'verdict' }> => ({
  is: 'verdict', answerSha256: 'ab'.repeat(32), word: 'AGREE', side: 'below', waitUntil: null,
  witnesses: [{ kind: 'pressure', low: 0, high: 1 }, { kind: 'echo', low: 0.5, high: 1.5 }, { kind: 'angiogram', low: 1, high: 1 }],
  remedies: [
    { code: 'wait', state: 'open', detail: '' }, { code: 'post-dilate', state: 'closed', detail: 'Leak not above the line. 22 mm at most, bound by sinotubular junction (22.5 mm).' },
    { code: 'second-valve', state: 'closed', detail: 'Leak not above the line. At hand: 26, 29.' }, { code: 'snare', state: 'closed', detail: 'Leak not above the line. Pull toward the aorta.' },
    { code: 'closure', state: 'closed', detail: 'Leak not above the line. A plug beside the frame.' }, { code: 'surgery', state: 'closed', detail: 'Leak not above the line. As written in the bail-out plan.' },
  ],
  next: 'The operator decides whether to close; the grade goes into the report with its interval.', ...change,
});
const unsettledRemedies = [
  { code: 'wait', state: 'cannot say', detail: 'Circulation stable?' }, { code: 'post-dilate', state: 'cannot say', detail: 'AGAINST: calcium below the ring, frame moves. Leak beside the frame? Leak above the line? 22 mm at most, bound by sinotubular junction (22.5 mm). Some limits are unverified.' },
  { code: 'second-valve', state: 'cannot say', detail: 'Wrong height, leaflets? Leak above the line? At hand: 26, 29.' }, { code: 'snare', state: 'closed', detail: 'Not for this frame. Pull toward the aorta.' },
  { code: 'closure', state: 'cannot say', detail: 'Leak beside the frame? Frame still? Plug ready? Leak above the line? A plug beside the frame.' }, { code: 'surgery', state: 'open', detail: 'As written in the bail-out plan.' },
] as const;
const out = [...opening, [60, depthEntry(3.4, 0.6, { unsheathedRatio: 0.6 })], [70, phase('released')], [72, { is: 'pacing', isOn: false, ratePerMin: null }]] as const satisfies WallScene['log'];

const result = [...out, [90, phase('result')]] as const satisfies WallScene['log'];

export const WALL_SCENES: readonly WallScene[] = [
  { name: 'identity', log: [[0, phase('identity')]], atS: 20 },
  { name: 'access-not-ready', log: [[0, phase('access')], [5, { is: 'kit', item: 'larger', isReady: false }]], atS: 30 },
  { name: 'access-cut-off', log: [[0, phase('access')], ...(['larger', 'smaller', 'spare', 'snare', 'drain'] as const).map((item, i) => [i, { is: 'kit', item, isReady: false }] as const)], atS: 30, ask: { isOnline: false } },
  { name: 'crossing-wire', log: [[0, phase('crossing')], [20, { is: 'wire', did: 'moved', side: 'outer curve' }]], atS: 40 },
  { name: 'valve-in', log: [[0, phase('valve-in')]], atS: 15 },
  { name: 'view-far', log: [[0, phase('position')], [5, { is: 'view', view: { primaryDeg: 8, secondaryDeg: -10 } }]], atS: 9 },
  { name: 'start-inside', log: begun, atS: 14 },
  { name: 'start-straddles', log: [[0, phase('position')], [10, depthEntry(4.4, 0.6)]], atS: 14 },
  { name: 'start-above', log: [[0, phase('position')], [10, depthEntry(-1.2, 0.6)]], atS: 14 },
  { name: 'start-answered', log: [...begun, [12, { is: 'hold', hold: 'A', answer: 'go on', who: 'first operator' }]], atS: 14 },
  { name: 'opening-deeper', log: [...opening, [52, depthEntry(6.04, 0.5, { unsheathedRatio: 0.6 })]], atS: 58 },
  { name: 'opening-old', log: opening, atS: 100 },
  { name: 'opening-gone', log: opening, atS: 400 },
  { name: 'opening-no-depth', log: [[0, phase('releasing')]], atS: 9 },
  { name: 'decision', log: [...opening, [52, depthEntry(12.3, 0.5, { unsheathedRatio: 0.7 })], [55, phase('decision')], [60, { is: 'hold', hold: 'B', answer: 'recapture', who: 'first operator' }]], atS: 66 },
  { name: 'jump', log: [...opening, [52, depthEntry(-1.2, 0.5, { unsheathedRatio: 0.7 })], [53, { is: 'moved', direction: 'up', mm: 4.2 }]], atS: 66 },
  { name: 'jump-not-measured', log: [...opening, [53, { is: 'moved', direction: 'unknown', mm: null }]], atS: 66 },
  { name: 'rescue', log: [...opening, [53, { is: 'rescue', card: 'tamponade', did: 'opened', line: null }], [55, { is: 'rescue', card: 'tamponade', did: 'ticked', line: 0 }], [58, { is: 'rescue', card: 'tamponade', did: 'ticked', line: 1 }]], atS: 66 },
  { name: 'released', log: [...out, [80, depthEntry(3.4, 0.6, { unsheathedRatio: 1 })]], atS: 105 },
  { name: 'waited', log: out, atS: 70 + 1500 },
  { name: 'result-open', log: [...out, [90, phase('result')]], atS: 105 },
  { name: 'result-wait', log: [...out, [85, depthEntry(3.4, 0.6, { unsheathedRatio: 1 })], [90, phase('result')], [92, { is: 'pressure', systolicMmHg: 132, diastolicMmHg: 61, endDiastolicMmHg: 18, heartRatePerMin: 72 }], [99, { is: 'hold', hold: 'C', answer: 'wait', who: 'first operator' }]], atS: 120 },
  { name: 'verdict-below', log: [...result, [95, makeVerdict()]], atS: 105 },
  { name: 'verdict-above', log: [...result, [95, makeVerdict({ side: 'above', witnesses: [{ kind: 'pressure', low: 2.5, high: 4 }, { kind: 'echo', low: 2.5, high: 3 }], next: 'Read the remedy board together; the operator picks.' })], [99, { is: 'hold', hold: 'C', answer: 'wait', who: 'first operator' }]], atS: 105 },
  { name: 'verdict-disagree', log: [...result, [95, makeVerdict({ word: 'DISAGREE', side: null, waitUntil: logTime(295), witnesses: [{ kind: 'pressure', low: 0, high: 1 }, { kind: 'echo', low: 2.2, high: 3 }, { kind: 'angiogram', low: null, high: null }], next: 'Zero and flush the lines, then record ten beats again; give the AR index from before any balloon if it was taken.' })]], atS: 105 },
  { name: 'verdict-not-settled', log: [...result, [95, makeVerdict({ word: 'NOT SETTLED', side: null, waitUntil: logTime(295), witnesses: [{ kind: 'pressure', low: 1, high: 2.5 }, { kind: 'echo', low: 1.5, high: 3 }], next: 'One aortogram: catheter just above the frame, outflow tract free of the descending aorta and the probe, breath held, table still.' })]], atS: 105 },
  { name: 'verdict-wait-over', log: [...result, [95, makeVerdict({ word: 'NOT SETTLED', side: null, waitUntil: logTime(295), witnesses: [{ kind: 'pressure', low: 1, high: 2.5 }, { kind: 'echo', low: 1.5, high: 3 }], next: 'Record aortic and ventricular pressure together, zeroed, over ten beats without pacing.' })]], atS: 400 },
  { name: 'verdict-one-witness', log: [...result, [95, makeVerdict({ word: 'ONE WITNESS ONLY', side: null, witnesses: [{ kind: 'echo', low: 1, high: 2 }], next: 'Record aortic and ventricular pressure together, zeroed, over ten beats without pacing.' })]], atS: 105 },
  { name: 'verdict-cannot-say', log: [...result, [95, makeVerdict({ word: 'CANNOT SAY', side: null, witnesses: [{ kind: 'pressure', low: null, high: null }], remedies: [], next: 'Stop pacing and record ten beats of the own rhythm.' })]], atS: 105 },
  { name: 'verdict-void', log: [...result, [95, makeVerdict()], [99, { is: 'dilated', balloonMm: 22, when: 'after' }], [100, { is: 'show', card: 'verdict' }]], atS: 105 },
  { name: 'verdict-none', log: [...result, [100, { is: 'show', card: 'remedies' }]], atS: 105 },
  { name: 'result-void', log: [...result, [95, makeVerdict()], [99, { is: 'dilated', balloonMm: 22, when: 'after' }]], atS: 105 },
  { name: 'verdict-longest', log: [...result, [95, makeVerdict({ word: 'ONE WITNESS ONLY', side: null, waitUntil: logTime(295), witnesses: [{ kind: 'angiogram', low: 4, high: 4 }], next: 'W'.repeat(299) })], [99, { is: 'hold', hold: 'C', answer: 'cannot say', who: 'the second operator and the anaesthetist, both of them here' }]], atS: 105, ask: { isBehind: true, isOnline: false, newsMs: Date.parse(logTime(10)) } },
  { name: 'remedies', log: [...result, [95, makeVerdict({ word: 'NOT SETTLED', side: null, waitUntil: logTime(295), remedies: unsettledRemedies })], [99, { is: 'hold', hold: 'C', answer: 'act', who: 'first operator' }]], atS: 105 },
  { name: 'remedies-below', log: [...result, [95, makeVerdict({ waitUntil: logTime(100) })], [99, { is: 'show', card: 'remedies' }]], atS: 105 },
  { name: 'remedies-longest', log: [...result, [95, makeVerdict({ word: 'NOT SETTLED', side: null, waitUntil: logTime(295), remedies: unsettledRemedies.map((r, i) => ({ ...r, state: 'cannot say' as const, detail: i % 2 === 0 ? 'W'.repeat(200) : 'Leak not above the line. '.repeat(6) })) })], [99, { is: 'hold', hold: 'C', answer: 'act', who: 'the second operator and the anaesthetist, both of them here' }]], atS: 105, ask: { isBehind: true, isOnline: false, newsMs: Date.parse(logTime(10)) } },
  { name: 'totals', log: [...out, [90, phase('closing')], [91, { is: 'contrast', ml: 162.5 }], [92, { is: 'heparin', units: 5000 }], [93, { is: 'act', seconds: 262 }], [94, { is: 'radiation', airKermaMGy: 2900, doseAreaGyCm2: 41.5, fluoroscopyMin: 18 }]], atS: 120 },
  { name: 'handover', log: [...out, [85, depthEntry(3.4, 0.6, { unsheathedRatio: 1 })], [99, { is: 'hold', hold: 'C', answer: 'finish', who: 'first operator' }], [110, phase('handover')]], atS: 130 },
  { name: 'screen', log: [[0, phase('access')], [1, { is: 'show', card: 'screen' }]], atS: 20, settings: { isScreenMeasured: false } },
  { name: 'no-connection', log: opening, atS: 58, ask: { isOnline: false, newsMs: Date.parse(logTime(10)) } },
  { name: 'plan-behind', log: [[0, phase('identity')]], atS: 20, ask: { isBehind: true } },
  { name: 'limits-not-known', log: opening, atS: 52, change: makeUnknownLimits() },
  { name: 'limits-not-known-old', log: [[0, phase('position')], [10, depthEntry(3, 0.5, { state: 'uncorrected' })]], atS: 95, change: makeUnknownLimits() },
  { name: 'all-warnings', log: opening, atS: 58, ask: { isBehind: true, isOnline: false, newsMs: Date.parse(logTime(10)) }, settings: { isScreenMeasured: false, mayScreenSleep: true, isClockUnsure: true, isRefused: true } },
  { name: 'balloon-frame', log: [[0, phase('releasing')], [5, depthEntry(3, 0.5)]], atS: 9, change: { device: { ...BASE.document.device, kind: 'balloon-expandable' } } },
  { name: 'other-patient', log: opening, atS: 58, ask: { isBehind: true, isOfAnother: true } },
  { name: 'mismatch', log: opening, atS: 58, ask: { frozenState: 'mismatch', frozen: null } },
  { name: 'not-frozen', log: [], atS: 58, ask: { frozenState: 'none', frozen: null, frozenSha256: null } },
  { name: 'reading', log: [], atS: 58, ask: { frozenState: 'reading', frozen: null } },
  { name: 'nothing-logged', log: [], atS: 0 },
];

/** The frozen training plan with two limits that nobody knows and that the huddle accepted so. */
export function makeUnknownLimits(): Partial<FrozenDocument> {
  const { plan } = BASE.document;
  const landing = plan.landing!;
  const codes = ['membranous-septum', 'mitral-clearance'] as const;
  const limits = [...landing.limits.filter((l) => !codes.some((c) => c === l.code)), ...codes.map((code) => ({ ...landing.limits[0]!, code, isKnown: false, lowMm: null, highMm: null }))];
  return { plan: { ...plan, landing: { ...landing, state: 'incomplete', limits } }, acceptedDoubts: codes.map((code) => ({ section: 'landing', code: `landing-${code}-unknown`, because: 'not seen', by: 'One' })) };
}

/** The frozen training plan whose landing window has no depth left. */
export function makeEmptyWindow(): Partial<FrozenDocument> {
  const { plan } = BASE.document;
  const landing = plan.landing!;
  const limits = [{ ...landing.limits[0]!, code: 'outflow-calcium', lowMm: 5.2, highMm: null }, { ...landing.limits[0]!, code: 'membranous-septum', lowMm: null, highMm: 3.1 }];
  return { plan: { ...plan, landing: { ...landing, state: 'empty', empty: true, aimLowMm: null, aimHighMm: null, stopMm: null, startMm: null, limits, conflict: { low: 'outflow-calcium', high: 'membranous-septum', gapMm: 2.1, gapAtValuesMm: 1 } } } };
}

export const SETTINGS: WallSettings = { glance: null, wall: 'K7', utcOffsetMin: 60, isScreenMeasured: true, mayScreenSleep: false, isClockUnsure: false, isRefused: false };
export function makeAsk(scene: WallScene): WallAsk {
  const document = scene.change ? { ...BASE.document, ...scene.change } : BASE.document;
  const nowMs = Date.parse(logTime(scene.atS));
  return { frozenState: 'ready', frozen: document, frozenSha256: BASE.sha256, room: makeRoom(...scene.log), isBehind: false, isOfAnother: false, nowMs, isOnline: true, newsMs: nowMs - 900, ...scene.ask, settings: { ...SETTINGS, ...scene.settings } };
}
export const makeBoard = (scene: WallScene): WallBoard => makeWallBoard(makeAsk(scene));
export const ALL_SCENES: readonly WallScene[] = [...WALL_SCENES, { name: 'empty-window', log: begun, atS: 14, change: makeEmptyWindow() }];
