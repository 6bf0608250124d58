import type { RuleSet } from '../device/device-types.ts';
import { computeBmi, computeBsaMostellerM2 } from '../patient/patient-formulas.ts';
import { formatText } from '../text/catalogue.ts';
import { ECHO_EN } from '../text/echo-en.ts';
import { makeFact, refuseFact, type Fact, type FactStamp, type Reason, type Ucum } from '../units/fact.ts';
import type { SeenLeak } from '../verdict/compare-leak-sites.ts';
import { LEAK_MEASURES, readLeakMeasure, type LeakMeasure } from '../verdict/leak-measures.ts';
import { makeReason } from '../verdict/make-reason.ts';
import { checkEcho, readFact } from './check-echo.ts';
import type { EchoEntries, EchoFieldCode, EchoNumberCode } from './echo-fields.ts';
import {
  computeBernoulli, computeContinuityArea, computeDiscArea, computeEnergyLoss, computeExtendedBernoulli, computeIndexed, computeIsovelocityOrifice, computeOrificeVolume,
  computeRatio, computeRecoveredShare, computeRegurgitantFraction, computeRegurgitantVolume, computeStrokeVolume,
} from './echo-formulas.ts';
import { findEchoRule } from './echo-rules.ts';
import type { EchoAnswer, EchoCheck, EchoContext, EchoLeakCode } from './echo-types.ts';
import { judgeFlow, judgeMismatch } from './judge-words.ts';
import { placeJets, type PlacedJets } from './place-jets.ts';
import { around, propagate, type Reading } from './propagate-error.ts';
import { nameField, readEntries } from './read-entries.ts';

/** Height and weight are entered to the whole number; the formula itself stands off the truth by a few per cent [A]. */
const BODY_STEP = 0.5;
const SURFACE_SHARE = 0.03;

/** A quantity with the ways to it, the first that is complete is taken; none: what the first way lacks is named. */
interface Way {
  readonly readings: readonly (Reading | null | undefined)[];
  readonly needs: readonly string[];
  readonly compute: (...values: number[]) => number;
  readonly method: string;
}

/**
 * What follows from the entries of an echo, each with its 95 % band from reading errors, and where the entries exclude one another.
 *
 * Units     of ECHO_FIELDS in; UCUM on each fact out
 * Equation  EC-01 to EC-09, EC-19, EC-20 (echo-formulas.ts); bands by first-order propagation (propagate-error.ts)
 * Refuses   in the fact: echo-not-entered, echo-not-known, echo-not-possible; checks of weight `refuse` take the measures that rest on
 *           the fields they name out of the witness, and leave the facts doubtful
 * Source    docs/methods/echo.md
 */
export function measureEcho(entries: EchoEntries, context: EchoContext, rules: RuleSet | null, stamp: FactStamp): EchoAnswer {
  const read = readEntries(entries, context.halfWidths ?? {});
  const { numbers: n } = read;
  const body = readBody(context);
  const surface = n['body-surface'] ?? body.surface;
  const aorta = readFact(context.junctionAreaCm2);
  const [diameter, outflowVti, valveVti, velocity, before] = [n['outflow-diameter'], n['outflow-vti'], n['valve-vti'], n['valve-velocity'], n['outflow-velocity']];
  const continuity = [diameter, outflowVti, valveVti];
  const continuityCodes = ['outflow-diameter', 'outflow-vti', 'valve-vti'];
  const areaBy = (readings: readonly (Reading | null | undefined)[], needs: readonly string[], method: string, finish: (area: number, ...rest: number[]) => number): readonly Way[] => [
    { readings: [...continuity, ...readings], needs: [...continuityCodes, ...needs], method: `${method}; area by continuity`, compute: (d, o, v, ...rest) => finish(computeContinuityArea(computeDiscArea(d!), o!, v!), ...rest) },
    { readings: [n['valve-area'], ...readings], needs: ['valve-area', ...needs], method: `${method}; area as entered`, compute: (a, ...rest) => finish(a!, ...rest) },
  ];
  const strokeBy = (readings: readonly (Reading | null | undefined)[], needs: readonly string[], method: string, finish: (stroke: number, ...rest: number[]) => number): readonly Way[] => [
    { readings: [diameter, outflowVti, ...readings], needs: ['outflow-diameter', 'outflow-vti', ...needs], method: `${method}; stroke volume of the outflow tract`, compute: (d, o, ...rest) => finish(computeStrokeVolume(computeDiscArea(d!), o!), ...rest) },
    { readings: [n['stroke-volume'], ...readings], needs: ['stroke-volume', ...needs], method: `${method}; stroke volume as entered`, compute: (s, ...rest) => finish(s!, ...rest) },
  ];
  const jets = placeJets(read.entries, context.commissuresDeg);
  const area = firstOf(areaBy([], [], '', (a) => a));
  const stroke = firstOf(strokeBy([], [], '', (s) => s));
  const checks = [...read.checks, ...checkEcho({ ...read, jets, area, stroke, aorta, catheter: readFact(context.catheterMeanGradient), surface: body.surface })];

  const make = (unit: Ucum, ways: readonly Way[], extra: readonly Reason[] = []): Fact => makeEchoFact(unit, ways, checks, extra, stamp);
  const entered = (code: EchoNumberCode, unit: Ucum, extra: readonly Reason[] = []): Fact => make(unit, [enteredWay(code, n[code])], extra);
  const counts = findEchoRule(rules, 'echo-outflow-velocity-counts');
  const isExtended = counts !== null && before !== undefined && velocity !== undefined && (counts.strict ? before.value > counts.value : before.value >= counts.value) && before.value < velocity.value;

  const areaIndexed = make('cm2/m2', areaBy([surface], ['body-surface'], 'EC-05: area over body surface', computeIndexed));
  const massIndex = make('kg/m2', [{ readings: [body.height, body.weight], needs: ['height', 'weight'], method: 'kg/m2', compute: (cm, kg) => computeBmi(cm!, kg!) }]);
  const strokeIndexed = make('mL/m2', strokeBy([surface], ['body-surface'], 'EC-07: stroke volume over body surface', computeIndexed));
  const leak = measureLeak(n, strokeBy, jets, read.entries, make);
  return {
    format: 'trinadir.echo/1',
    body: { surface: make('m2', [enteredWay('body-surface', n['body-surface']), { readings: [body.surface], needs: ['height', 'weight'], method: 'Mosteller', compute: (s) => s! }]), massIndex },
    valve: {
      peakVelocity: entered('valve-velocity', 'm/s'),
      peakGradient: make('mm[Hg]', [
        isExtended
          ? { readings: [velocity, before], needs: ['valve-velocity', 'outflow-velocity'], method: 'EC-02: 4(V2^2 - V1^2)', compute: (v, b) => computeExtendedBernoulli(v!, b!) }
          : { readings: [velocity], needs: ['valve-velocity'], method: 'EC-01: 4V^2', compute: (v) => computeBernoulli(v!) },
        enteredWay('valve-peak-gradient', n['valve-peak-gradient']),
      ]),
      meanGradient: entered('valve-mean-gradient', 'mm[Hg]'),
      velocityRatio: make('1', [{ readings: [before, velocity], needs: ['outflow-velocity', 'valve-velocity'], method: 'EC-06 of velocities', compute: (o, v) => computeRatio(o!, v!) }]),
      index: make('1', [{ readings: [outflowVti, valveVti], needs: ['outflow-vti', 'valve-vti'], method: 'EC-06: ratio of time integrals', compute: (o, v) => computeRatio(o!, v!) }]),
      area: make('cm2', areaBy([], [], 'EC-04', (a) => a)),
      areaIndexed,
      energyLoss: make('cm2', areaBy([aorta], ['junction'], 'EC-08', (a, t) => computeEnergyLoss(a, t!))),
      energyLossIndexed: make('cm2/m2', areaBy([aorta, surface], ['junction', 'body-surface'], 'EC-08', (a, t, s) => computeIndexed(computeEnergyLoss(a, t!), s!))),
      recoveredShare: make('1', areaBy([aorta], ['junction'], 'EC-09', (a, t) => computeRecoveredShare(a, t!))),
      recoveredGradient: make('mm[Hg]', areaBy([aorta, velocity], ['junction', 'valve-velocity'], 'EC-09', (a, t, v) => computeRecoveredShare(a, t!) * computeBernoulli(v!))),
    },
    flow: {
      outflowArea: make('cm2', [{ readings: [diameter], needs: ['outflow-diameter'], method: 'round outflow tract', compute: (d) => computeDiscArea(d!) }]),
      stroke: make('mL', strokeBy([], [], 'EC-07', (s) => s)), strokeIndexed, heartRate: entered('heart-rate', '/min'), word: judgeFlow(strokeIndexed, rules),
    },
    leak: { ...leak, reversal: read.entries.reversal ?? null, place: read.entries['leak-place'] ?? null, grade: readGrade(read.entries), jets: jets.jets },
    mismatch: judgeMismatch(areaIndexed, massIndex, rules),
    ventricle: {
      ejectionFraction: entered('ejection-fraction', '%'), size: read.entries['ventricle-size'] ?? null, function: read.entries['ventricle-function'] ?? null, hasEffusion: read.entries.effusion ?? null,
    },
    measures: listMeasures(leak, checks), checks, seen: listSeen(read.entries, jets, stamp),
  };
}

const enteredWay = (code: EchoNumberCode, reading: Reading | undefined): Way => ({ readings: [reading], needs: [code], method: 'entered', compute: (v) => v! });

function firstOf(ways: readonly Way[]): Reading | null {
  const way = ways.find(({ readings }) => readings.every((r) => r != null));
  return way ? propagate(way.readings as readonly Reading[], way.compute) : null;
}

function readBody({ heightCm, weightKg }: EchoContext): { readonly height: Reading | null; readonly weight: Reading | null; readonly surface: Reading | null } {
  const isSound = (v: number | null): v is number => v !== null && Number.isFinite(v) && v > 0;
  const height = isSound(heightCm) ? around(heightCm, BODY_STEP, ['height']) : null;
  const weight = isSound(weightKg) ? around(weightKg, BODY_STEP, ['weight']) : null;
  if (height === null || weight === null) return { height, weight, surface: null };
  return { height, weight, surface: propagate([height, weight, around(1, SURFACE_SHARE, ['formula'])], (cm, kg, spread) => computeBsaMostellerM2(cm!, kg!) * spread!) };
}

/** Reasons of the checks that speak of a field; what only tells is no doubt. */
function reasonsOf(codes: readonly string[], checks: readonly EchoCheck[]): readonly Reason[] {
  return checks.filter((c) => c.weight !== 'tell' && c.fields.some((f) => codes.includes(f))).map(({ code, text, next }) => ({ code, text, next }));
}

function makeEchoFact(unit: Ucum, ways: readonly Way[], checks: readonly EchoCheck[], extra: readonly Reason[], stamp: FactStamp): Fact {
  const way = ways.find(({ readings }) => readings.every((r) => r != null));
  if (way === undefined) return refuseMissing(unit, ways[0]!, checks, stamp);
  const found = propagate(way.readings as readonly Reading[], way.compute);
  const method = `${way.method}; ${ECHO_EN.readingError}`;
  const reasons = [...reasonsOf(way.needs, checks), ...extra];
  if (!Number.isFinite(found.value) || !Number.isFinite(found.high - found.low)) {
    return refuseFact(unit, method, stamp, reasons[0] ?? makeReason('echo-not-possible', formatText(ECHO_EN, 'notPossible', { fields: nameAll(way.needs) }), ECHO_EN.notPossibleNext));
  }
  return makeFact(found.value, found.low, found.high, unit, method, way.needs, stamp, reasons, way.method === 'entered' ? 'entered' : 'computed');
}

/** A number of the case that is missing, or a field; a field left out by a check says why. */
function refuseMissing(unit: Ucum, way: Way, checks: readonly EchoCheck[], stamp: FactStamp): Fact {
  const lacks = way.needs.filter((_, i) => way.readings[i] == null);
  const left = reasonsOf(lacks, checks.filter((c) => c.code === 'entry-impossible' || c.code === 'unit-looks-wrong'));
  const ofCase = lacks.every((code) => code === 'junction' || code === 'height' || code === 'weight');
  const reason = left[0] ?? (ofCase
    ? makeReason('echo-not-known', formatText(ECHO_EN, 'noContext', { what: nameAll(lacks) }), ECHO_EN.noContextNext)
    : makeReason('echo-not-entered', formatText(ECHO_EN, 'notEntered', { fields: nameAll(lacks) }), ECHO_EN.notEnteredNext));
  return refuseFact(unit, way.method, stamp, reason);
}

const nameAll = (codes: readonly string[]): string =>
  [...new Set(codes.map((code) => (code === 'junction' ? ECHO_EN.junction : code === 'height' || code === 'weight' ? ECHO_EN.heightWeight : nameField(code as EchoFieldCode))))].join(', ');

type Make = (unit: Ucum, ways: readonly Way[], extra?: readonly Reason[]) => Fact;
type StrokeBy = (readings: readonly (Reading | null | undefined)[], needs: readonly string[], method: string, finish: (stroke: number, ...rest: number[]) => number) => readonly Way[];

function measureLeak(n: { readonly [C in EchoNumberCode]?: Reading }, strokeBy: StrokeBy, jets: PlacedJets, entries: EchoEntries, make: Make): Readonly<Record<EchoLeakCode, Fact>> {
  const converged: Way = {
    readings: [n['isovelocity-radius'], n['isovelocity-alias'], n['leak-velocity']], needs: ['isovelocity-radius', 'isovelocity-alias', 'leak-velocity'], method: 'EC-20: 2 pi r^2 Va / Vmax',
    compute: (r, a, v) => computeIsovelocityOrifice(r!, a!, 100 * v!),
  };
  const orificeWays = [enteredWay('regurgitant-orifice', n['regurgitant-orifice']), converged];
  const timesVti = (way: Way): Way => ({ readings: [...way.readings, n['leak-vti']], needs: [...way.needs, 'leak-vti'], method: `${way.method}; EC-20: orifice times time integral`, compute: (...v) => computeOrificeVolume(way.compute(...v.slice(0, -1)), v.at(-1)!) });
  const twoStrokes = (finish: (volume: number, stroke: number) => number): readonly Way[] => strokeBy([n['reference-stroke']], ['reference-stroke'], 'EC-19: two stroke volumes', (s, r) => finish(computeRegurgitantVolume(s, r!), s));
  const clock: Way = { readings: [jets.extentPercent], needs: jets.extentPercent === null ? [] : [...jets.extentPercent.from], method: 'jets on the clock over the whole round', compute: (p) => p! };
  const isCentral = entries['leak-place'] === 'through the leaflets';
  const width = makeReason('jet-width-not-central', formatText(ECHO_EN, 'jet-width-place', { place: entries['leak-place'] ?? ECHO_EN['place-unknown'] }), ECHO_EN['jet-width-place-next']);
  return {
    circumference: make('%', [enteredWay('circumference', n.circumference), clock]),
    'regurgitant-volume': make('mL', [enteredWay('regurgitant-volume', n['regurgitant-volume']), ...twoStrokes((v) => v), ...orificeWays.map(timesVti)]),
    'regurgitant-fraction': make('%', [
      enteredWay('regurgitant-fraction', n['regurgitant-fraction']),
      ...strokeBy([n['regurgitant-volume']], ['regurgitant-volume'], 'EC-19: volume over stroke volume', (s, v) => computeRegurgitantFraction(v!, s)),
      ...twoStrokes(computeRegurgitantFraction),
    ]),
    'regurgitant-orifice': make('cm2', orificeWays),
    'vena-contracta': make('cm', [enteredWay('vena-contracta', n['vena-contracta'])]),
    'pressure-half-time': make('ms', [enteredWay('half-time', n['half-time'])], [makeReason('half-time-stiff', ECHO_EN['half-time-stiff'], ECHO_EN['half-time-stiff-next'])]),
    'jet-width': make('%', [enteredWay('jet-width', n['jet-width'])], isCentral ? [] : [width]),
  };
}

/** Only numbers that are there; one that a check refuses, or a width that is not of a central jet, goes without its value. */
function listMeasures(leak: Readonly<Record<EchoLeakCode, Fact>>, checks: readonly EchoCheck[]): readonly LeakMeasure[] {
  const refused = new Set<string>(checks.filter((c) => c.weight === 'refuse').flatMap((c) => c.fields));
  return (Object.entries(leak) as readonly (readonly [EchoLeakCode, Fact])[]).flatMap(([code, fact]): readonly LeakMeasure[] => {
    if (fact.value === null && !fact.reasons.some((r) => r.code !== 'echo-not-entered')) return [];
    const isOut = fact.source.from.some((f) => refused.has(f)) || fact.reasons.some((r) => r.code === 'jet-width-not-central');
    if (!isOut) return [readLeakMeasure(code, fact)];
    return [{ code, value: null, low: null, high: null, unit: LEAK_MEASURES[code].unit, reasons: fact.reasons.length > 0 ? fact.reasons : [makeReason('echo-contradicts', ECHO_EN.contradicted, ECHO_EN.contradictsNext)] }];
  });
}

function readGrade(entries: EchoEntries): EchoAnswer['leak']['grade'] {
  const [from, to] = [entries['leak-from'] ?? entries['leak-to'], entries['leak-to'] ?? entries['leak-from']];
  return from != null && to != null ? { from, to } : null;
}

/** Jets with a place on the map or a cusp. A jet with neither cannot be compared; null where no jet was looked for. */
function listSeen(entries: EchoEntries, { jets }: PlacedJets, stamp: FactStamp): readonly SeenLeak[] | null {
  const seen = jets.filter((j) => j.arcDeg !== null || j.cusp !== null).map(({ cusp, arcDeg }): SeenLeak => ({ cusp, arcDeg, by: stamp.by, at: stamp.at }));
  return seen.length > 0 ? seen : entries['leak-place'] === 'none seen' && jets.length === 0 ? [] : null;
}
