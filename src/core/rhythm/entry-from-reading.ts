import { fail, succeed, type Result } from '../result.ts';
import { ECG_EN } from '../text/ecg-en.ts';
import { RHYTHM_EN } from '../text/rhythm-en.ts';
import { refuseFact, type Fact, type FactStamp, type Reason } from '../units/fact.ts';
import { readInstantMs } from '../units/iso-time.ts';
import type { EcgReading } from './ecg-types.ts';
import type { AvBlock, BundleBlock, EcgEntry, EcgMoment, EcgRhythm } from './rhythm-types.ts';

export type ReadingEntryFailureCode = 'ecg-time-invalid' | 'ecg-rhythm-missing';

/** What a person says of the record. Bundle branch block and AV block have no other source. */
export interface EcgSaid {
  readonly rhythm: EcgRhythm | null;
  readonly bundleBlock: BundleBlock | null;
  readonly avBlock: AvBlock | null;
}

/**
 * An ECG entry from a record that was measured and the words of the person who looked at it. Without the rhythm it is no
 * entry: paced beats would pass for conducted ones. Their intervals are refused here, as PR is in atrial fibrillation.
 * What the record raised as a suspicion stays beside the intervals as a reason.
 * Fails     ecg-time-invalid, ecg-rhythm-missing
 */
export function makeEntryFromReading(reading: EcgReading, moment: EcgMoment, at: string, said: EcgSaid, stamp: FactStamp): Result<EcgEntry, ReadingEntryFailureCode> {
  if (Number.isNaN(readInstantMs(at))) return fail('ecg-time-invalid', RHYTHM_EN.entryTime, RHYTHM_EN.entryTimeNext);
  if (said.rhythm === null) return fail('ecg-rhythm-missing', ECG_EN.rhythmMissing, ECG_EN.rhythmMissingNext);
  const paced: Reason = { code: 'ecg-paced', text: ECG_EN.paced, next: ECG_EN.pacedNext };
  const refuse = (fact: Fact, reason: Reason): Fact => refuseFact(fact.unit, fact.source.method, stamp, reason);
  const isVentricle = said.rhythm === 'paced-ventricle';
  const prMs = isVentricle || said.rhythm === 'paced-atrium' ? refuse(reading.prMs, paced)
    : said.rhythm === 'atrial-fibrillation' || said.avBlock === 'complete' ? refuse(reading.prMs, said.rhythm === 'atrial-fibrillation'
      ? { code: 'ecg-without-pr', text: ECG_EN.fibrillation, next: ECG_EN.fibrillationNext }
      : { code: 'ecg-without-pr', text: ECG_EN.completeBlock, next: ECG_EN.suspectedNext })
      : addReasons(reading.prMs, reading.suspicions);
  const qrsMs = isVentricle ? refuse(reading.qrsMs, paced) : addReasons(reading.qrsMs, []);
  return succeed({ moment, at, rhythm: said.rhythm, bundleBlock: said.bundleBlock, avBlock: said.avBlock, prMs, qrsMs, ratePerMin: reading.ratePerMin, hvMs: null });
}

function addReasons(fact: Fact, more: readonly Reason[]): Fact {
  if (fact.status === 'refused' || more.length === 0) return fact;
  return { ...fact, status: 'doubtful', reasons: [...more.map(({ code, text, next }) => ({ code, text, next })), ...fact.reasons] };
}
