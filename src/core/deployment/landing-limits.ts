import type { DeviceSize, PatientFacts, Rule, RuleSet } from '../device/device-types.ts';
import { findRule } from '../device/training-table.ts';
import { CUSPS, type Cusp, type RootSurvey } from '../root/root-types.ts';
import type { Fact } from '../units/fact.ts';
import { measureFreeRadius } from './free-frame.ts';
import type { LandingLimit } from './landing-types.ts';

interface Span {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}
const spanOf = (fact: Fact | undefined): Span | null => (fact && fact.value !== null ? { value: fact.value, low: fact.low!, high: fact.high! } : null);

/** Depth at most: cut at the lower end of the bound's interval. */
const mostly = (code: string, at: Span, because: string, rule: Rule | null = null): LandingLimit => ({
  code, lowMm: null, highMm: at.low, atMm: at.value, intervalMm: [at.low, at.high], isKnown: true, excludesAll: false, because, next: null, status: rule?.status ?? null,
});
/** Depth at least: cut at the upper end. */
const leastly = (code: string, at: Span, because: string, rule: Rule | null = null): LandingLimit => ({
  code, lowMm: at.high, highMm: null, atMm: at.value, intervalMm: [at.low, at.high], isKnown: true, excludesAll: false, because, next: null, status: rule?.status ?? null,
});
const open = (code: string, because: string, rule: Rule | null = null): LandingLimit => ({
  code, lowMm: null, highMm: null, atMm: null, intervalMm: null, isKnown: true, excludesAll: false, because, next: null, status: rule?.status ?? null,
});
const missing = (code: string, because: string, next: string): LandingLimit => ({
  code, lowMm: null, highMm: null, atMm: null, intervalMm: null, isKnown: false, excludesAll: false, because, next, status: null,
});
const unsigned = (code: string, rule: string): LandingLimit =>
  missing(code, `No signed rule "${rule}" is in force.`, `Enter "${rule}" among the rules and sign them.`);

const mm = (v: number): string => v.toFixed(1);

/** Depths that the device's own instructions give. */
export function limitDevice({ depthMm }: DeviceSize): LandingLimit {
  return {
    code: 'device-window', lowMm: depthMm.aim[0], highMm: depthMm.aim[1], atMm: null, intervalMm: null, isKnown: true, excludesAll: false,
    because: `The table gives ${mm(depthMm.aim[0])} to ${mm(depthMm.aim[1])} mm for this size.`, next: null, status: null,
  };
}

/**
 * Depth at most septum length + signed overlap.
 * Source    Jorgensen 2022 (checks CT-45): overlap = depth - length; job.md D 26 takes the lower end of the band
 */
export function limitSeptum(root: RootSurvey, patient: PatientFacts | null, rules: RuleSet | null): LandingLimit {
  const code = 'membranous-septum';
  const entered = patient?.membranousSeptumMm;
  const length = entered ? { value: entered.value, low: entered.value - entered.halfWidth95, high: entered.value + entered.halfWidth95 } : spanOf(root.membranousSeptum.lengthMm);
  if (!length) return missing(code, 'The length of the membranous septum is not known.', 'Measure it on a cut through the commissure of R and N and enter it among the values of the patient.');
  const rule = findRule(rules, 'septum-overlap');
  if (!rule) return unsigned(code, 'septum-overlap');
  const shift = (v: number): number => v + rule.value;
  return mostly(code, { value: shift(length.value), low: shift(length.low), high: shift(length.high) }, `Membranous septum ${mm(length.value)} mm (${mm(length.low)} to ${mm(length.high)}), overlap of at most ${mm(rule.value)} mm.`, rule);
}

/**
 * Where the cusp reaches higher than its ostium, the frame must keep its distance there: frame radius at the ostium's
 * height is r_f(height + depth), and the frame narrows upward from the inflow to the waist, so a deeper frame is farther.
 * Whether the cusp reaches is a leg of the rule: when its interval leaves that open, the limit is not known, and the
 * bound that would hold is told.
 * Source    checks CT-48, CT-50 (docs/methods/landing.md)
 */
export function limitCoronary(side: 'left' | 'right', root: RootSurvey, size: DeviceSize, rules: RuleSet | null): LandingLimit {
  const code = `coronary-${side}`;
  const cusp: Cusp = side === 'left' ? 'L' : 'R';
  const ostium = root.coronaries[side];
  const height = spanOf(ostium?.heightMm);
  if (!ostium || !height) return missing(code, `The ${side} ostium was not found.`, 'Mark it by hand and plan again.');
  const rule = findRule(rules, 'valve-to-coronary');
  if (!rule) return unsigned(code, 'valve-to-coronary');
  const leaflet = spanOf(root.leaflets[cusp]?.lengthMm);
  const over = leaflet ? compareSpans(leaflet, height) : null;
  if (over && over.high <= 0) return open(code, `Cusp ${cusp} ${mm(leaflet!.value)} mm ends below its ostium at ${mm(height.value)} mm: it cannot cover it.`, rule);
  const { pointLps: o, normalLps: n } = root.basalPlane;
  const d = ostium.ostiumLps.map((v, k) => v - o[k]!);
  const along = d.reduce((s, v, k) => s + v * n[k]!, 0);
  const axisMm = Math.sqrt(Math.max(0, d.reduce((s, v) => s + v * v, 0) - along * along));
  const bound = boundCoronary(size, axisMm, height, rule);
  const keeps = `${mm(rule.value)} mm from the ${side} ostium (${mm(axisMm)} mm from the axis, ${mm(height.value)} mm high)`;
  if (bound === 'always') return open(code, `The frame keeps ${keeps} at every depth.`, rule);
  const said = bound === 'never' ? `this frame keeps ${keeps} at no depth` : `the frame keeps ${keeps} from ${mm(bound.value)} mm depth on`;
  if (!over || over.low <= 0) {
    const seen = leaflet ? `Cusp ${cusp} ${mm(leaflet.value)} mm (${mm(leaflet.low)} to ${mm(leaflet.high)}) may reach its ostium` : `Cusp ${cusp} could not be followed and may reach its ostium`;
    return missing(code, `${seen}; if it does, ${said}.`, 'Measure this cusp and its ostium on the cut through it.');
  }
  if (bound === 'never') return { ...missing(code, `Cusp ${cusp} reaches its ostium and ${said}.`, 'Look at this ostium on its cut; coronary protection or another valve is for the team to decide.'), isKnown: true, excludesAll: true };
  return leastly(code, bound, `Cusp ${cusp} ${mm(leaflet!.value)} mm reaches its ostium; ${said}.`, rule);
}

/** Difference of two independent measurements, with its interval. */
function compareSpans(a: Span, b: Span): Span {
  const value = a.value - b.value;
  return { value, low: value - Math.hypot(a.value - a.low, b.high - b.value), high: value + Math.hypot(a.high - a.value, b.value - b.low) };
}

const DEPTH_STEP_MM = 0.05;
const SHALLOWEST_MM = -3;

/** Depth from which the free frame keeps the rule's distance at the ostium's height, over the height's interval. */
function boundCoronary(size: DeviceSize, axisMm: number, height: Span, rule: Rule): Span | 'always' | 'never' {
  const keeps = (depth: number, h: number): boolean => {
    const gap = axisMm - measureFreeRadius(size.frame, h + depth);
    return rule.strict ? gap > rule.value : gap >= rule.value;
  };
  const leastDepth = (h: number): number | null => {
    for (let depth = SHALLOWEST_MM; depth <= size.frame.heightMm * 0.6; depth += DEPTH_STEP_MM) if (keeps(depth, h)) return depth;
    return null;
  };
  const [at, atLow, atHigh] = [leastDepth(height.value), leastDepth(height.low), leastDepth(height.high)];
  if (at === null || atLow === null || atHigh === null) return 'never';
  const low = Math.min(at, atLow, atHigh);
  const high = Math.max(at, atLow, atHigh);
  return high <= SHALLOWEST_MM + DEPTH_STEP_MM ? 'always' : { value: at, low, high };
}

/** The inflow edge stays above the upper end of a large outflow deposit. */
export function limitOutflowCalcium(root: RootSurvey, rules: RuleSet | null): LandingLimit {
  const code = 'outflow-calcium';
  if (!root.calcium) return missing(code, 'Calcium was not measured.', 'Look at the outflow tract on the cuts.');
  const rule = findRule(rules, 'outflow-deposit');
  if (!rule) return unsigned(code, 'outflow-deposit');
  const acts = (v: number): boolean => (rule.strict ? v > rule.value : v >= rule.value);
  const large = root.calcium.deposits.filter((d) => d.heightMm < 0 && d.heightMm > -12 && acts(d.volumeMm3));
  if (large.length === 0) return open(code, `No outflow deposit of ${rule.value} mm3 or more.`, rule);
  // Half height of a deposit from its volume, as of a ball; deposits are not taller than that by much [A].
  const top = (d: (typeof large)[number]): number => -d.heightMm - Math.cbrt((3 * d.volumeMm3) / (4 * Math.PI));
  const first = large.reduce((a, b) => (top(a) < top(b) ? a : b));
  const planeMm = Math.max(...CUSPS.map((c) => root.basalPlane.nadirUncertaintyMm[c])) / 1.5;
  return mostly(code, { value: top(first), low: top(first) - planeMm, high: top(first) + planeMm }, `Deposit of ${first.volumeMm3.toFixed(0)} mm3 below ${first.cusp}, its centre ${mm(-first.heightMm)} mm deep.`, rule);
}

export function limitSeptalBulge(root: RootSurvey, rules: RuleSet | null): LandingLimit {
  const code = 'septal-bulge';
  const bulge = spanOf(root.septum.bulgeMm);
  const height = spanOf(root.septum.bulgeHeightMm);
  if (!bulge || !height) return missing(code, 'The septal bulge was not measured.', 'Look at the septum on the cut through R.');
  const rule = findRule(rules, 'septal-bulge');
  if (!rule) return unsigned(code, 'septal-bulge');
  const acts = rule.strict ? bulge.high > rule.value : bulge.high >= rule.value;
  if (!acts) return open(code, `Septal bulge ${mm(bulge.value)} mm (${mm(bulge.low)} to ${mm(bulge.high)}) is below the rule's ${mm(rule.value)} mm.`, rule);
  return mostly(code, { value: -height.value, low: -height.high, high: -height.low }, `Septal bulge ${mm(bulge.value)} mm (${mm(bulge.low)} to ${mm(bulge.high)}), its summit ${mm(-height.value)} mm deep. Evidence on bulges is mixed.`, rule);
}

export function limitMitral(patient: PatientFacts | null, rules: RuleSet | null): LandingLimit {
  const code = 'mitral-clearance';
  const entered = patient?.mitralClearanceMm;
  if (!entered) return missing(code, 'The distance to the anterior mitral leaflet is not known.', 'Measure it on the cut between L and N and enter it among the values of the patient.');
  const rule = findRule(rules, 'mitral-clearance');
  if (!rule) return unsigned(code, 'mitral-clearance');
  const at = entered.value - rule.value;
  return mostly(code, { value: at, low: at - entered.halfWidth95, high: at + entered.halfWidth95 }, `Anterior mitral leaflet ${mm(entered.value)} mm below the plane, ${mm(rule.value)} mm kept.`, rule);
}

/** A tall self-expanding frame must still end above the junction; a short frame need not. */
export function limitJunction(root: RootSurvey, size: DeviceSize, isSelfExpanding: boolean, rules: RuleSet | null): LandingLimit {
  const code = 'junction-height';
  const height = spanOf(root.sinotubularJunction.heightMm);
  if (!height) return missing(code, 'The sinotubular junction was not found.', 'Mark it by hand on the long cuts.');
  const frame = size.frame.heightMm;
  if (!isSelfExpanding) {
    // A short frame is bounded from the other side: its top must not pass a junction narrower than itself.
    const diameter = spanOf(root.sinotubularJunction.diameterMm);
    if (!diameter || diameter.low >= size.frame.outflowMm) return open(code, `The junction is wider than the frame: no bound.`);
    return leastly(code, { value: frame - height.value, low: frame - height.high, high: frame - height.low }, `Junction ${mm(diameter.value)} mm is narrower than the frame, ${mm(height.value)} mm high: the frame's top stays below it.`);
  }
  const rule = findRule(rules, 'frame-above-junction');
  if (!rule) return unsigned(code, 'frame-above-junction');
  const at = (h: number): number => frame - h - rule.value;
  return mostly(code, { value: at(height.value), low: at(height.high), high: at(height.low) }, `Frame ${mm(frame)} mm, junction at ${mm(height.value)} mm: its top stands ${mm(rule.value)} mm above.`, rule);
}
