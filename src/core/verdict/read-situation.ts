import type { CaseState } from '../case/fold-case.ts';
import { EMPTY_RESULT } from '../case/fold-result.ts';
import type { RuleSet } from '../device/device-types.ts';
import { NO_CONTEXT } from '../echo/echo-types.ts';
import { makeEchoWitness } from '../echo/make-echo-witness.ts';
import { measureEcho } from '../echo/measure-echo.ts';
import { computeArIndex, computeDiastolicDelta, computeRateAdjustedDelta } from '../haemodynamics/pressure-formulas.ts';
import type { PressureAnswer, QualityFinding } from '../haemodynamics/pressure-types.ts';
import { rateBaseline } from '../haemodynamics/rate-baseline.ts';
import { emptyRoom } from '../room/fold-room.ts';
import { SITUATION_EN } from '../text/situation-en.ts';
import { makeFact, refuseFact, type Fact, type FactStamp, type Ucum } from '../units/fact.ts';
import type { VerdictInputs } from './compose-verdict.ts';
import type { VerdictClock } from './judge-witness.ts';
import { makeReason } from './make-reason.ts';
import { makeAngiogramWitness, makeAortographyWitness, makePressureWitness } from './make-witness.ts';
import { readDiastoleEntries, readRoomSigns, type EchoSigns } from './read-room-signs.ts';
import type { Measured, Situation } from './situation-types.ts';
import type { LeakWitness } from './verdict-types.ts';

/**
 * A described situation as inputs of the verdict. Indices follow from its pressures by the published formulas, each at the worst
 * ends of the bands.
 * Units    mm[Hg], /min, mm
 * Fails    never: what is not described is not known
 * Source   docs/situation.md
 */
export function readSituation(s: Situation, rules: RuleSet | null): VerdictInputs {
  const clock: VerdictClock = { releasedAt: s.releasedAt, lastManoeuvreAt: s.manoeuvreAt ?? s.releasedAt, nowAt: s.nowAt };
  const pressure = s.pressures ? makePressures(s.pressures) : null;
  const echo = s.echo ? readEcho(s.echo, rules) : null;
  const state = { huddle: {}, result: { ...EMPTY_RESULT, entries: Object.fromEntries(Object.entries(s.entries ?? {}).map(([id, value]) => [id, { value, by: '', at: s.nowAt, seq: 0 }])) } } satisfies Pick<CaseState, 'huddle' | 'result'>;
  return {
    clock, present: s.present, rules,
    grades: s.grades.filter((g) => g.of === undefined).map(({ by, at, low, high }) => ({ by, at, interval: [low, high], kind: null })),
    witnesses: [
      ...(pressure && s.pressures ? [makePressureWitness(pressure, { by: s.pressures.by, at: s.pressures.at, loadingNote: s.pressures.loadingNote, from: ['situation'] }, rules)] : []),
      ...(echo ? [echo.witness] : []), ...(s.angiogram ? witnessAngiogram(s.angiogram, rules) : []),
    ],
    valve: { kind: s.valve.kind, isWaitAllowed: s.valve.waitAllowed ?? null, size: s.valve.balloonMaxMm === undefined ? null : { balloonMaxMm: s.valve.balloonMaxMm } },
    root: s.root ? makeRoot(s.root, { by: 'situation', at: s.nowAt }) : null, balloonsMm: s.balloonsMm ?? [], second: null, pressure,
    entries: readDiastoleEntries(state, null, echo?.signs ?? null), signs: readRoomSigns(state, emptyRoom(), null, clock, echo?.signs ?? null), gaps: null, seen: echo?.seen ?? null,
  };
}

const known = ({ value, halfWidth95 }: Measured, unit: Ucum, stamp: FactStamp): Fact => makeFact(value, value - halfWidth95, value + halfWidth95, unit, 'described', [], stamp, [], 'entered');
const missing = (unit: Ucum, stamp: FactStamp): Fact => refuseFact(unit, 'described', stamp, makeReason('not-described', SITUATION_EN.notDescribed, SITUATION_EN.notDescribedNext));

/** A formula over numbers with half-widths: value, and its least and most over the ends of all bands. */
function combine(parts: readonly Measured[], unit: Ucum, stamp: FactStamp, compute: (...values: number[]) => number): Fact {
  const ends = parts.reduce<readonly (readonly number[])[]>((all, { value, halfWidth95: h }) => all.flatMap((row) => [[...row, value - h], [...row, value + h]]), [[]]).map((row) => compute(...row));
  return makeFact(compute(...parts.map((p) => p.value)), Math.min(...ends), Math.max(...ends), unit, 'described', [], stamp);
}

function makePressures(p: NonNullable<Situation['pressures']>): PressureAnswer {
  const stamp: FactStamp = { by: p.by, at: p.at };
  const mmHg = (m: Measured | undefined): Fact => (m ? known(m, 'mm[Hg]', stamp) : missing('mm[Hg]', stamp));
  const [no, noMmHg] = [missing('1', stamp), missing('mm[Hg]', stamp)];
  const [systolic, diastolic, endDiastolic, ratePerMin] = [p.systolic, p.diastolic, p.endDiastolic, p.ratePerMin];
  const answer: PressureAnswer = {
    format: 'trinadir.pressure/1', durationS: 0, beats: [],
    aortic: {
      systolic: mmHg(systolic), diastolic: mmHg(diastolic), mean: mmHg(p.mean), pulse: combine([systolic, diastolic], 'mm[Hg]', stamp, (s, d) => s! - d!),
      notchShare: p.notchShare ? known(p.notchShare, '1', stamp) : no, notchProminence: noMmHg, decay: missing('/s', stamp),
    },
    ventricular: { systolic: noMmHg, minimum: noMmHg, endDiastolic: mmHg(endDiastolic), endDiastolicAtExpiration: noMmHg },
    gradients: { meanMmHg: noMmHg, peakToPeakMmHg: noMmHg, peakInstantaneousMmHg: noMmHg, ejectionS: missing('s', stamp), how: 'none' },
    leak: {
      arIndex: endDiastolic ? combine([systolic, diastolic, endDiastolic], '1', stamp, (s, d, e) => computeArIndex(s!, d!, e!)) : no, arIndexRatio: no,
      diastolicDeltaMmHg: endDiastolic ? combine([diastolic, endDiastolic], 'mm[Hg]', stamp, (d, e) => computeDiastolicDelta(d!, e!)) : noMmHg,
      hrAdjustedMmHg: endDiastolic ? combine([diastolic, endDiastolic, ratePerMin], 'mm[Hg]', stamp, (d, e, r) => computeRateAdjustedDelta(d!, e!, r!)) : noMmHg,
      dptMmHg: noMmHg, dptAdjusted: no, timeIntegrated: no, diastolicDecay: missing('/s', stamp),
    },
    area: { gorlinCm2: missing('cm2', stamp), hakkiCm2: missing('cm2', stamp) },
    quality: (p.findings ?? []).map((code): QualityFinding => ({ code, text: SITUATION_EN[code], next: SITUATION_EN[`${code}-next`], weight: code === 'zero-doubtful' ? 'doubt' : 'refuse', channel: 'aortic', fromS: null, toS: null })),
    rhythm: { word: p.rhythm, ratePerMin: known(ratePerMin, '/min', stamp), variation: no, beats: 0, counted: 0, premature: 0, ecgRatePerMin: missing('/min', stamp), spans: [] },
    breathing: { ratePerMin: missing('/min', stamp), swingMmHg: noMmHg }, line: [],
  };
  return p.arIndexBefore ? rateBaseline(answer, known(p.arIndexBefore, '1', stamp)) : answer;
}

function readEcho(echo: NonNullable<Situation['echo']>, rules: RuleSet | null): { readonly witness: LeakWitness; readonly signs: EchoSigns; readonly seen: VerdictInputs['seen'] } {
  const answer = measureEcho(echo.entries, NO_CONTEXT, rules, { by: echo.by, at: echo.at });
  const who = { by: echo.by, at: echo.at, heartRatePerMin: echo.ratePerMin, loadingNote: echo.loadingNote, from: ['situation'] };
  return { witness: makeEchoWitness(answer, who, rules), signs: { place: answer.leak.place, hasEffusion: answer.ventricle.hasEffusion }, seen: answer.seen };
}

function witnessAngiogram(a: NonNullable<Situation['angiogram']>, rules: RuleSet | null): readonly LeakWitness[] {
  const who = { by: a.by, at: a.at, heartRatePerMin: a.ratePerMin, loadingNote: a.loadingNote, from: ['situation'] };
  const measured = a.ratio === undefined ? [] : [makeAngiogramWitness(a.ratio === null
    ? refuseFact('1', 'described', who, makeReason('run-not-analysable', SITUATION_EN.runUnread, SITUATION_EN.runUnreadNext)) : known(a.ratio, '1', who), who, rules)];
  const isRead = measured.some((w) => w.interval !== null);
  return [...measured, ...(a.grade === undefined || isRead ? [] : [makeAortographyWitness(a.grade, who, rules)])];
}

function makeRoot(r: NonNullable<Situation['root']>, stamp: FactStamp): VerdictInputs['root'] {
  const mm = (m: Measured): Fact => known(m, 'mm', stamp);
  // Only what the limits of a balloon read of a root is described; the rest of a survey is not needed for them.
  return {
    basalRing: { perimeterDiameterMm: mm(r.ringDiameterMm) }, outflowTract: { perimeterMm: mm(r.outflowPerimeterMm) }, sinotubularJunction: { diameterMm: mm(r.junctionDiameterMm) },
    calcium: r.outflowCalciumMm3 ? { outflowMm3: known(r.outflowCalciumMm3, 'mm3', stamp) } : undefined,
  } as unknown as VerdictInputs['root'];
}
