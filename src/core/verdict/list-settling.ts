import { formatText } from '../text/catalogue.ts';
import { VERDICT_EN } from '../text/verdict-en.ts';
import { formatGradeBand } from './format-grade-band.ts';
import type { LowDiastole } from './explain-low-diastole.ts';
import type { LeakVerdict } from './fuse-witnesses.ts';
import type { LeakWitness, WitnessKind } from './verdict-types.ts';

/** What would be measured next, and why. Never a remedy. */
export interface SettlingStep {
  readonly code: 'repeat' | 'take' | 'narrow' | 'sign';
  readonly kind: WitnessKind | null;
  readonly because: string;
  readonly next: string;
}

/**
 * What would settle the verdict, in a fixed order of reasons: a void witness is repeated for what voided it; a missing one is
 * taken; of those that speak, the one with named doubts before the others, then the widest. After AGREE nothing is listed.
 * Where pressures alone say more than another witness and the diastolic pressure is low, what else explains it comes before all.
 * The first is the page's Next. Pure order: no preference between witnesses, since none is the truth.
 * Fails    never
 */
export function listSettling(verdict: LeakVerdict, lowDiastole: LowDiastole | null = null): readonly SettlingStep[] {
  const { word, speaking, silent, missing } = verdict;
  if (word === 'AGREE') return [];
  const others = listOtherCauses(verdict, lowDiastole);
  const unsigned = verdict.reasons.filter((r) => r.code === 'decision-line-missing').map((r): SettlingStep => ({ code: 'sign', kind: null, because: r.text, next: r.next }));
  const repeats = silent.map((w): SettlingStep => {
    const [first] = w.reasons;
    return { code: 'repeat', kind: w.kind, because: formatText(VERDICT_EN, 'repeatBecause', { witness: VERDICT_EN[`kind-${w.kind}`], text: first?.text ?? VERDICT_EN.silent }), next: first?.next ?? VERDICT_EN.silentNext };
  });
  const takes = missing.map((kind): SettlingStep => ({ code: 'take', kind, because: formatText(VERDICT_EN, 'takeBecause', { witness: VERDICT_EN[`kind-${kind}`] }), next: VERDICT_EN[`take-${kind}`] }));
  // One witness alone: another kind first, a better reading of the same does not help.
  const narrows = word === 'ONE WITNESS ONLY' ? [] : [...speaking].sort(compareNeed).map((w) => narrow(verdict, w));
  // Witnesses that exclude one another are looked at themselves before a third is asked; without a contradiction the third comes first.
  const doubted = narrows.filter((s) => word === 'DISAGREE' && speaking.some((w) => w.kind === s.kind && w.reasons.length > 0));
  return [...unsigned, ...others, ...doubted, ...repeats, ...takes, ...narrows.filter((s) => !doubted.includes(s))];
}

/** Of the causes of a low diastolic pressure beside a leak, those that something speaks for and nothing against. */
function listOtherCauses({ speaking, disjoint }: LeakVerdict, lowDiastole: LowDiastole | null): readonly SettlingStep[] {
  const highOf = (kind: WitnessKind): number => speaking.find((w) => w.kind === kind)!.interval![1];
  const pressure = speaking.find((w) => w.kind === 'pressure');
  const saysMore = pressure !== undefined && disjoint.some((pair) => pair.includes('pressure') && pair.some((k) => k !== 'pressure' && highOf(k) < pressure.interval![0]));
  if (!saysMore) return [];
  return (lowDiastole?.rows ?? []).filter((r) => r.cause !== 'leak' && r.weight === 'for').map((r): SettlingStep => ({
    code: 'repeat', kind: 'pressure', because: formatText(VERDICT_EN, 'otherCause', { cause: VERDICT_EN[`cause-${r.cause}`], for: r.for.join(' ') }), next: r.next,
  }));
}

/** Named doubts first, then the wider interval; equal ones keep the fixed order. */
function compareNeed(a: LeakWitness, b: LeakWitness): number {
  const width = (w: LeakWitness): number => w.interval![1] - w.interval![0];
  return Number(b.reasons.length > 0) - Number(a.reasons.length > 0) || width(b) - width(a);
}

function narrow(verdict: LeakVerdict, w: LeakWitness): SettlingStep {
  const holes = { witness: VERDICT_EN[`kind-${w.kind}`], band: formatGradeBand(w.interval!) };
  const excluded = verdict.disjoint.flatMap(([a, b]) => (a === w.kind ? [b] : b === w.kind ? [a] : []));
  const [doubt] = w.reasons;
  const because = excluded.length > 0
    ? formatText(VERDICT_EN, 'excludes', { ...holes, others: excluded.map((k) => VERDICT_EN[`kind-${k}`]).join(VERDICT_EN.and) })
    : formatText(VERDICT_EN, 'wide', holes);
  return { code: 'narrow', kind: w.kind, because: doubt ? `${because} ${doubt.text}` : because, next: doubt?.next ?? (w.kind === 'angiogram' && w.isByEye === true ? VERDICT_EN['measure-angiogram'] : VERDICT_EN[`narrow-${w.kind}`]) };
}
