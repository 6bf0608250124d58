import type { Rule, RuleSet } from '../../src/core/device/device-types.ts';
import type { PressureAnswer, PressureQualityCode, QualityFinding, RhythmWord } from '../../src/core/haemodynamics/pressure-types.ts';
import { makeFact, refuseFact, type Fact, type Ucum } from '../../src/core/units/fact.ts';
import type { WitnessCircumstance } from '../../src/core/verdict/make-witness.ts';
import type { DiastoleEntries } from '../../src/core/verdict/explain-low-diastole.ts';
import type { RoomSigns } from '../../src/core/verdict/remedy-board.ts';
import { VERDICT_PROPOSALS } from '../../src/core/verdict/verdict-rules.ts';
import type { LeakInterval, LeakWitness, WitnessKind } from '../../src/core/verdict/verdict-types.ts';

/** Pressures as the pressure part would answer them; everything invented. */
const STAMP = { by: 'test', at: '2026-03-02T10:14:00.000Z' };
const refusal = { code: 'not-measured', text: 'Not measured.', next: 'Measure it.' };
export const fact = (value: number | null, unit: Ucum = '1', half = 0): Fact =>
  value === null ? refuseFact(unit, 'test', STAMP, refusal) : makeFact(value, value - half, value + half, unit, 'test', [], STAMP);

const extra = (code: string, value: number, unit: string): Rule => ({ code, value, unit, strict: false, definition: 'test', edition: '1', source: 'test', status: 'M' });
/** The proposals signed as training, with the two rules that live with room and landing. */
export const VERDICT_RULES: RuleSet = {
  format: 'trinadir.rules/1', hospital: 'Training', signedBy: 'test', signedAt: '2026-01-05T08:00:00Z', training: true,
  rules: [...VERDICT_PROPOSALS, extra('expansion-wait', 600, 's'), extra('outflow-deposit', 20, 'mm3')],
};
export const withRule = (code: string, change: Partial<Rule> | null, rules: RuleSet = VERDICT_RULES): RuleSet => ({
  ...rules, rules: rules.rules.flatMap((r) => (r.code !== code ? [r] : change === null ? [] : [{ ...r, ...change }])),
});

export interface PressureNumbers {
  readonly systolic: number;
  readonly diastolic: number;
  readonly endDiastolic: number | null;
  readonly ratePerMin: number;
  readonly mean?: number;
  readonly notchShare?: number | null;
  readonly rhythm?: RhythmWord;
  readonly quality?: readonly QualityFinding[];
  readonly before?: number;
  readonly pressureTime?: number | null;
  /** 95 % half-width of the index. */
  readonly half?: number;
}
export const finding = (code: PressureQualityCode, text: string, next: string, weight: QualityFinding['weight'] = 'refuse'): QualityFinding => ({ code, text, next, weight, channel: 'aortic', fromS: null, toS: null });

export function makePressureAnswer(n: PressureNumbers): PressureAnswer {
  const no = fact(null);
  const mmHg = (v: number | null, half = 0): Fact => fact(v, 'mm[Hg]', half);
  const delta = n.endDiastolic === null ? null : n.diastolic - n.endDiastolic;
  const index = delta === null ? null : (delta / n.systolic) * 100;
  return {
    format: 'trinadir.pressure/1', durationS: 12, beats: [],
    aortic: { systolic: mmHg(n.systolic), diastolic: mmHg(n.diastolic), mean: mmHg(n.mean ?? n.diastolic + (n.systolic - n.diastolic) / 3), pulse: mmHg(n.systolic - n.diastolic), notchShare: fact(n.notchShare ?? null), notchProminence: mmHg(null), decay: fact(null, '/s') },
    ventricular: { systolic: mmHg(n.systolic + 6), minimum: mmHg(2), endDiastolic: mmHg(n.endDiastolic), endDiastolicAtExpiration: mmHg(null) },
    gradients: { meanMmHg: mmHg(6), peakToPeakMmHg: mmHg(6), peakInstantaneousMmHg: mmHg(10), ejectionS: fact(0.3, 's'), how: 'simultaneous' },
    leak: {
      arIndex: fact(index, '1', n.half ?? 0), arIndexRatio: n.before === undefined || index === null ? no : fact(index / n.before), diastolicDeltaMmHg: mmHg(delta),
      hrAdjustedMmHg: mmHg(delta === null ? null : (delta / n.ratePerMin) * 80), dptMmHg: no, dptAdjusted: fact(n.pressureTime ?? null), timeIntegrated: no, diastolicDecay: fact(null, '/s'),
    },
    area: { gorlinCm2: no, hakkiCm2: no }, quality: n.quality ?? [],
    rhythm: { word: n.rhythm ?? 'regular', ratePerMin: fact(n.ratePerMin, '/min'), variation: fact(0.02), beats: 15, counted: 13, premature: 0, ecgRatePerMin: fact(null, '/min'), spans: [] },
    breathing: { ratePerMin: no, swingMmHg: no }, line: [],
  };
}

export const CLOCK = { releasedAt: '2026-03-02T10:10:00.000Z', lastManoeuvreAt: null, nowAt: '2026-03-02T10:16:00.000Z' } as const;
export const WHO: WitnessCircumstance = { by: 'Reader One', at: '2026-03-02T10:14:00.000Z', heartRatePerMin: 72, loadingNote: 'no pressor, no pacing', from: ['test'] };
/** A sound witness of a given interval. */
export const witness = (kind: WitnessKind, interval: LeakInterval | null, change: Partial<LeakWitness> = {}): LeakWitness => ({
  kind, interval, isValid: interval !== null, method: 'test', from: ['test'], by: 'Reader One', at: WHO.at, minutesAfterRelease: 4, heartRatePerMin: 72, loadingNote: 'no pressor', reasons: [], ...change,
});

export const NO_SIGNS: RoomSigns = {
  leakPlace: null, framePlace: null, frameOpening: null, isFrameMoving: null, hasEffusion: null, isCoronaryFlowNormal: null, isCirculationStable: null,
  isSnareReady: null, isClosureReady: null, isSurgeryAgreed: null,
};
export const NO_ENTRIES: DiastoleEntries = { isBleeding: null, hasEffusion: null, hasVasodilator: null, pulseBeforeMmHg: null };
