import { listOpenPoints } from '../../core/case/list-open-points.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import type { EcgWords } from '../../core/case/result-events.ts';
import type { EchoEntries } from '../../core/echo/echo-fields.ts';
import { TRAINING_RATE_PER_MIN } from '../../core/phantom/training-result.ts';
import type { DepthReading } from '../../core/projection/depth-types.ts';
import type { RoomEntry, RoomRecord } from '../../core/room/room-types.ts';
import { DEMO_EN } from '../../core/text/demo-en.ts';

/** What the invented team of the training case says between huddle and result. */
const SLOTS = ['first', 'spare', 'smaller', 'larger', 'sheath', 'snare', 'drain'] as const;
/** A huddle that lacks nothing on the day `now`. */
export function makeTrainingHuddle(nowMs: number): Readonly<Record<string, string | boolean>> {
  const expires = `${new Date(nowMs).getUTCFullYear() + 3}-01-31`;
  return {
    'team.firstOperator': 'Colleague One', 'team.secondOperator': 'Colleague Two', 'team.decides': 'Colleague One', 'team.nurse': 'Colleague Three', 'team.sedation': 'Colleague Four',
    'rescue.surgery': 'agreed', 'team.surgeon': 'Colleague Five', 'consent.given': true, 'access.site': 'femoral', 'access.side': 'right', 'wire.kind': 'pre-shaped, stiff',
    'pacing.route': 'ventricular-wire', 'views.first': 'start', 'views.second': 'three-cusps', 'stop.when': DEMO_EN.stopWhen,
    ...Object.fromEntries(SLOTS.flatMap((slot) => [[`kit.${slot}.ready`, true], [`kit.${slot}.place`, `shelf ${slot}`], [`kit.${slot}.expires`, expires]])),
  };
}
export const TRAINING_BRANCH = { person: 'Colleague One', item: 'snare', place: 'shelf snare' } as const;
export const BRANCHES = ['moved-up', 'moved-down', 'leaks'] as const;
export const listTrainingDoubts = (plan: Plan) => listOpenPoints(plan).map(({ section, code }) => ({ section, code, because: DEMO_EN.doubtBecause }));

/** Minutes between a tap and the end of the log. */
const listTaps = (depth: DepthReading | null): readonly (readonly [minutes: number, entry: RoomEntry])[] => [
  [34, { is: 'phase', phase: 'access' }], [33, { is: 'heparin', units: 7000 }], [29, { is: 'act', seconds: 284 }], [24, { is: 'phase', phase: 'crossing' }], [17, { is: 'phase', phase: 'valve-in' }],
  [13, { is: 'phase', phase: 'position' }], [11.2, { is: 'pacing', isOn: true, ratePerMin: 120 }], [11, { is: 'phase', phase: 'releasing' }], [9.5, { is: 'phase', phase: 'decision' }],
  [9.2, { is: 'hold', hold: 'B', answer: 'go on', who: 'Colleague One' }], [8, { is: 'phase', phase: 'released' }], [7.9, { is: 'pacing', isOn: false, ratePerMin: null }],
  ...(depth === null ? [] : [[7, { is: 'depth', reading: depth }] as const]), [6, { is: 'phase', phase: 'result' }],
];
/** Minutes before the end of the log. */
export const TRAINING_MINUTES = {
  opened: 120, planned: 110, huddle: 60, frozen: 55, ecgBefore: 24 * 60, pressuresBefore: 22, room: 5.9, pressuresAfter: 5, echo: 4.2, aortogram: 3.4, ecgAfter: 2.5, grades: 1.5,
} as const;
export const sayInstant = (nowMs: number, minutesBefore: number): string => new Date(nowMs - Math.round(minutesBefore * 60_000)).toISOString();

/**
 * Taps of the room up to hold C, each at its minute before `nowMs`; with `isSqueezed` all stand at that time, in their order: a log that
 * is only begun now can hold nothing earlier.
 */
export function listTrainingTaps(nowMs: number, depth: DepthReading | null, isSqueezed = false): readonly RoomRecord[] {
  return listTaps(depth).map(([minutes, entry], k) => {
    const at = sayInstant(nowMs, isSqueezed ? 0 : minutes);
    return { entryId: `training-tap-${k + 1}`, clientId: 'training-desk', place: 'desk', count: k + 1, monotonicMs: Math.round((40 - minutes) * 60_000), clientAt: at, happenedAt: at, offset: { addedMs: 0, withinMs: 1 }, corrects: null, entry };
  });
}

/** An echo that agrees with itself and with the drawn valve; a short jet beside the frame. */
export const TRAINING_ECHO: EchoEntries = {
  'image-quality': 'good', 'heart-rate': TRAINING_RATE_PER_MIN, 'valve-velocity': 1.9, 'valve-mean-gradient': 8, 'valve-vti': 36, 'outflow-diameter': 2.1, 'outflow-velocity': 1, 'outflow-vti': 20,
  'leak-place': 'beside the frame', circumference: 6, 'regurgitant-volume': 9, 'half-time': 560, reversal: 'absent',
  'jet-1-from': 4, 'jet-1-to': 4.5, 'ejection-fraction': 58, 'ventricle-size': 'normal', 'ventricle-function': 'normal', effusion: false,
};
export const TRAINING_BESIDE = { heartRatePerMin: TRAINING_RATE_PER_MIN, loadingNote: DEMO_EN.loading } as const;
/** What a person says of the ECGs; intervals are those that were measured. */
const ECG_WORDS = { rhythm: 'sinus', prMs: null, qrsMs: null, ratePerMin: null, hvMs: null } as const;
export const sayEcgBefore = (at: string): EcgWords => ({ ...ECG_WORDS, at, bundleBlock: 'none', avBlock: 'none' });
export const sayEcgAfter = (at: string): EcgWords => ({ ...ECG_WORDS, at, bundleBlock: 'left', avBlock: 'first-degree' });
export const TRAINING_SIGNS: Readonly<Record<string, string | boolean>> = {
  'signs.frameOpening': 'fully open', 'signs.isFrameMoving': false, 'signs.isCoronaryFlowNormal': true, 'circulation.isStable': true, 'circulation.isBleeding': false, 'breathing.by': 'spontaneous', 'watch.wire': 'in', 'watch.monitor': 'telemetry', 'watch.recorder': 'Training, invented',
};
/** Invented readers of the case folder, each with a grade of their own. */
export const TRAINING_READERS = [{ id: 'colleague-one', low: 1, high: 1 }, { id: 'colleague-two', low: 0, high: 1 }] as const;
/** What is said of the aortogram. */
export const TRAINING_SAID = { breathHeld: true, isPaced: false, tableMoved: false, isOverlapped: false, isInView: true } as const;
