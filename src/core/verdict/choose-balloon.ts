import type { DeviceSize, Rule, RuleSet } from '../device/device-types.ts';
import type { RootSurvey } from '../root/root-types.ts';
import { formatText } from '../text/catalogue.ts';
import { VERDICT_EN } from '../text/verdict-en.ts';
import type { Fact } from '../units/fact.ts';
import { showNumber } from './make-reason.ts';
import { citeRule, findVerdictRule, type VerdictRuleCode } from './read-leak-rules.ts';

export type BalloonLimitCode = 'table' | 'ring' | 'outflow-tract' | 'junction' | 'outflow-calcium';
export interface BalloonLimit {
  readonly code: BalloonLimitCode;
  /** Largest diameter it leaves; null: not known, or known not to limit. */
  readonly mm: number | null;
  /** False: fact or rule is missing, and then no balloon is named. */
  readonly isKnown: boolean;
  /** The limit itself is not allowed. */
  readonly isStrict: boolean;
  readonly because: string;
  readonly isUnverified: boolean;
}
export interface BalloonChoice {
  readonly state: 'fits' | 'NONE FITS' | 'CANNOT SAY';
  /** Largest diameter at hand that every limit leaves. */
  readonly mm: number | null;
  /** The limit that binds. */
  readonly binding: BalloonLimitCode | null;
  /** Limits that are not known. */
  readonly unknown: readonly BalloonLimitCode[];
  readonly limits: readonly BalloonLimit[];
}

/**
 * The largest balloon at hand inside all limits (job.md, D41; hazard 16). The smallest limit binds. A limit that is not known is not
 * skipped: nothing is named then, unless the known ones already leave none.
 * Units    mm
 * Fails    never; diameters that are no positive numbers are not at hand; with none at hand nothing fits
 */
export function chooseBalloon(atHandMm: readonly number[], limits: readonly BalloonLimit[]): BalloonChoice {
  const isSound = (l: BalloonLimit): boolean => l.isKnown && (l.mm === null || (Number.isFinite(l.mm) && l.mm > 0));
  const unknown = limits.filter((l) => !isSound(l)).map((l) => l.code);
  const known = limits.filter((l) => isSound(l) && l.mm !== null);
  const binding = known.reduce<BalloonLimit | null>((a, l) => (a === null || l.mm! < a.mm! || (l.mm === a.mm && l.isStrict && !a.isStrict) ? l : a), null);
  const fitting = atHandMm.filter((mm) => mm > 0 && Number.isFinite(mm) && known.every((l) => (l.isStrict ? mm < l.mm! : mm <= l.mm!)));
  const found = { binding: binding?.code ?? null, unknown, limits };
  if (known.length > 0 && fitting.length === 0) return { ...found, state: 'NONE FITS', mm: null };
  if (unknown.length > 0 || known.length === 0) return { ...found, state: 'CANNOT SAY', mm: null };
  return { ...found, state: 'fits', mm: Math.max(...fitting) };
}

type MeasuredRoot = Pick<RootSurvey, 'basalRing' | 'outflowTract' | 'sinotubularJunction' | 'calcium'>;

/**
 * The limits for a balloon inside this valve in this root: signed table; signed ratio to the ring, to the outflow tract and to the
 * junction, each at the small end of the measured band; where the calcium below the ring may reach the signed volume, the
 * signed smaller ratio to the ring.
 * Units    mm
 * Fails    never; a missing fact or rule leaves a limit without a number
 */
export function listBalloonLimits(size: Pick<DeviceSize, 'balloonMaxMm'> | null, root: MeasuredRoot | null, rules: RuleSet | null): readonly BalloonLimit[] {
  const ring = root?.basalRing.perimeterDiameterMm ?? null;
  const outflow = root === null ? null : root.outflowTract.perimeterMm;
  return [
    { code: 'table', mm: size?.balloonMaxMm ?? null, isKnown: size !== null, isStrict: false, isUnverified: false, because: size ? VERDICT_EN.balloonTable : VERDICT_EN.balloonNoTable },
    limitByRatio('ring', ring?.low ?? null, 'balloon-ring-ratio', rules),
    limitByRatio('outflow-tract', outflow === null || outflow.low === null ? null : outflow.low / Math.PI, 'balloon-outflow-ratio', rules),
    limitByRatio('junction', root?.sinotubularJunction.diameterMm.low ?? null, 'balloon-junction-ratio', rules),
    limitByCalcium(ring?.low ?? null, root?.calcium?.outflowMm3 ?? null, rules),
  ];
}

function limitByRatio(code: BalloonLimitCode, lowMm: number | null, ruleCode: VerdictRuleCode, rules: RuleSet | null): BalloonLimit {
  const rule = findVerdictRule(rules, ruleCode);
  const bare = { code, isStrict: rule?.strict ?? false, isUnverified: rule?.status === 'M' };
  const place = VERDICT_EN[`balloon-${code}`];
  if (rule === null) return { ...bare, mm: null, isKnown: false, because: formatText(VERDICT_EN, 'balloonNoRule', { place }) };
  if (lowMm === null) return { ...bare, mm: null, isKnown: false, because: formatText(VERDICT_EN, 'balloonNoFact', { place }) };
  return { ...bare, mm: lowMm * rule.value, isKnown: true, because: describeRatio(place, lowMm, rule) };
}

/** "May reach": the upper end of the volume's band decides, since too large a balloon is what must not happen. */
function limitByCalcium(ringLowMm: number | null, volume: Fact | null, rules: RuleSet | null): BalloonLimit {
  const [deposit, ratio] = [findVerdictRule(rules, 'outflow-deposit'), findVerdictRule(rules, 'balloon-calcified-ratio')];
  const code = 'outflow-calcium';
  const bare = { code, isStrict: ratio?.strict ?? false, isUnverified: ratio?.status === 'M' || deposit?.status === 'M' } as const;
  const place = VERDICT_EN[`balloon-${code}`];
  if (deposit === null || ratio === null) return { ...bare, mm: null, isKnown: false, because: formatText(VERDICT_EN, 'balloonNoRule', { place }) };
  if (volume === null || volume.high === null || ringLowMm === null) return { ...bare, mm: null, isKnown: false, because: formatText(VERDICT_EN, 'balloonNoFact', { place }) };
  const reaches = deposit.strict ? volume.high > deposit.value : volume.high >= deposit.value;
  if (!reaches) {
    return { ...bare, mm: null, isKnown: true, because: formatText(VERDICT_EN, 'balloonNoCalcium', { mm3: showNumber(volume.high), limit: String(deposit.value) }) };
  }
  return {
    ...bare, mm: ringLowMm * ratio.value, isKnown: true,
    because: formatText(VERDICT_EN, 'balloonCalcium', { mm3: showNumber(volume.high), limit: String(deposit.value), ratio: String(ratio.value), mm: showNumber(ringLowMm), source: citeRule(ratio) }),
  };
}

const describeRatio = (place: string, lowMm: number, rule: Rule): string =>
  formatText(VERDICT_EN, 'balloonRatio', { place, ratio: String(rule.value), mm: showNumber(lowMm), source: citeRule(rule) });
