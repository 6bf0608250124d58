import { fail, succeed, type Result } from '../result.ts';
import { formatText } from '../text/catalogue.ts';
import { RHYTHM_EN } from '../text/rhythm-en.ts';
import { makeFact, type Fact, type FactStamp, type Reason, type Ucum } from '../units/fact.ts';
import { readInstantMs } from '../units/iso-time.ts';
import { formatPlain } from './format-rhythm-number.ts';
import { ECG_MOMENTS, type AvBlock, type BundleBlock, type EcgEntry, type EcgMoment, type EcgRhythm } from './rhythm-types.ts';

export type EcgEntryFailureCode =
  | 'ecg-moment-unknown' | 'ecg-time-invalid' | 'ecg-number-impossible' | 'ecg-pr-too-long' | 'ecg-qrs-too-long' | 'ecg-pr-in-fibrillation' | 'ecg-pr-in-complete-block';

/** What a person reads off an ECG. Absent is not known. */
export interface EcgNumbers {
  readonly moment: EcgMoment;
  readonly at: string;
  readonly rhythm?: EcgRhythm | undefined;
  readonly prMs?: number | undefined;
  readonly qrsMs?: number | undefined;
  readonly ratePerMin?: number | undefined;
  readonly hvMs?: number | undefined;
  /** 95 % half-width of an interval, when it is known. */
  readonly halfWidth95Ms?: number | undefined;
  readonly bundleBlock?: BundleBlock | undefined;
  readonly avBlock?: AvBlock | undefined;
}

/** Outside these a unit or a key was mistaken (0.18 for 180); they are no clinical limits [P]. */
const POSSIBLE = {
  prMs: ['name-pr', 'ms', 40, 800], qrsMs: ['name-qrs', 'ms', 30, 400], ratePerMin: ['name-rate', '/min', 10, 350], hvMs: ['name-hv', 'ms', 10, 400],
} as const;

/**
 * An ECG as a person enters it, each number a fact. What contradicts itself is refused by name, never corrected.
 * Fails     ecg-moment-unknown, ecg-time-invalid, ecg-number-impossible, ecg-pr-too-long, ecg-qrs-too-long, ecg-pr-in-fibrillation,
 *           ecg-pr-in-complete-block
 */
export function makeEcgEntry(read: EcgNumbers, stamp: FactStamp): Result<EcgEntry, EcgEntryFailureCode> {
  if (!ECG_MOMENTS.includes(read.moment)) return fail('ecg-moment-unknown', RHYTHM_EN.entryMoment, RHYTHM_EN.entryMomentNext);
  if (Number.isNaN(readInstantMs(read.at))) return fail('ecg-time-invalid', RHYTHM_EN.entryTime, RHYTHM_EN.entryTimeNext);
  for (const [key, [name, unit, low, high]] of Object.entries(POSSIBLE)) {
    const value = read[key as keyof typeof POSSIBLE];
    if (value === undefined || (value >= low && value <= high)) continue;
    return fail('ecg-number-impossible', formatText(RHYTHM_EN, 'entryNumber', { name: RHYTHM_EN[name], value: Number.isFinite(value) ? value : 'no number', unit, low, high }), RHYTHM_EN.entryNumberNext, { field: key });
  }
  const { prMs, qrsMs } = read;
  const rrMs = read.ratePerMin === undefined ? Infinity : 60_000 / read.ratePerMin;
  if (prMs !== undefined && prMs >= rrMs) return fail('ecg-pr-too-long', formatText(RHYTHM_EN, 'entryPrLong', { pr: prMs, rr: formatPlain(rrMs) }), RHYTHM_EN.entryPrLongNext, { prMs, rrMs });
  if (qrsMs !== undefined && qrsMs >= rrMs) return fail('ecg-qrs-too-long', formatText(RHYTHM_EN, 'entryQrsLong', { qrs: qrsMs, rr: formatPlain(rrMs) }), RHYTHM_EN.entryQrsLongNext, { qrsMs, rrMs });
  if (prMs !== undefined && read.rhythm === 'atrial-fibrillation') return fail('ecg-pr-in-fibrillation', RHYTHM_EN.entryPrInAf, RHYTHM_EN.entryPrInAfNext, { prMs });
  if (prMs !== undefined && read.avBlock === 'complete') return fail('ecg-pr-in-complete-block', formatText(RHYTHM_EN, 'entryBlocks', { pr: prMs }), RHYTHM_EN.entryBlocksNext, { prMs });
  const half = read.halfWidth95Ms !== undefined && read.halfWidth95Ms >= 0 && Number.isFinite(read.halfWidth95Ms) ? read.halfWidth95Ms : null;
  const bare: readonly Reason[] = half === null ? [{ code: 'ecg-no-band', text: RHYTHM_EN.notExact, next: RHYTHM_EN.notExactNext }] : [];
  const take = (value: number | undefined, unit: Ucum, band: number, reasons: readonly Reason[]): Fact | null => (
    value === undefined ? null : makeFact(value, value - band, value + band, unit, 'rhythm.entered/1', [], stamp, reasons, 'entered'));
  return succeed({
    moment: read.moment, at: read.at, rhythm: read.rhythm ?? null, bundleBlock: read.bundleBlock ?? null, avBlock: read.avBlock ?? null,
    prMs: take(prMs, 'ms', half ?? 0, bare), qrsMs: take(qrsMs, 'ms', half ?? 0, bare), hvMs: take(read.hvMs, 'ms', half ?? 0, bare),
    ratePerMin: take(read.ratePerMin, '/min', 0, []),
  });
}

const sayInstant = (iso: string): string => `${iso.slice(0, 10)} ${iso.slice(11, 16)} UTC`;

/**
 * ECGs in order of moment, with what is wrong between them: one moment twice, an order in time that cannot be. Then
 * `isBroken`: nothing is said on such a row.
 */
export function checkEntries(
  entries: readonly EcgEntry[],
  releasedAt: string | null,
): { readonly entries: readonly EcgEntry[]; readonly isBroken: boolean; readonly reasons: readonly Reason[] } {
  const reasons: Reason[] = [];
  const sorted = [...entries].sort((a, b) => ECG_MOMENTS.indexOf(a.moment) - ECG_MOMENTS.indexOf(b.moment));
  const released = releasedAt === null ? Number.NaN : readInstantMs(releasedAt);
  if (releasedAt !== null && Number.isNaN(released)) reasons.push({ code: 'release-time-missing', text: RHYTHM_EN.releaseMissing, next: RHYTHM_EN.releaseMissingNext });
  for (const [k, entry] of sorted.entries()) {
    const moment = RHYTHM_EN[`moment-${entry.moment}`];
    const [at, before] = [readInstantMs(entry.at), k > 0 ? readInstantMs(sorted[k - 1]!.at) : -Infinity];
    if (sorted[k - 1]?.moment === entry.moment) {
      reasons.push({ code: 'ecg-moment-twice', text: formatText(RHYTHM_EN, 'momentTwice', { moment }), next: RHYTHM_EN.momentTwiceNext });
    } else if (!(at > before)) {
      const last = sorted[k - 1];
      reasons.push({ code: 'ecg-order', text: formatText(RHYTHM_EN, 'momentOrder', { moment, at: sayInstant(entry.at), before: last ? RHYTHM_EN[`moment-${last.moment}`] : '', beforeAt: sayInstant(last?.at ?? '') }), next: RHYTHM_EN.momentOrderNext });
    } else if (entry.moment === 'baseline' ? at > released : at < released) {
      const key = entry.moment === 'baseline' ? 'momentBaseline' : 'momentRelease';
      reasons.push({ code: 'ecg-order', text: formatText(RHYTHM_EN, key, { moment, at: sayInstant(entry.at), released: sayInstant(releasedAt ?? '') }), next: RHYTHM_EN.momentOrderNext });
    }
  }
  return { entries: sorted, isBroken: reasons.length > 0, reasons };
}
