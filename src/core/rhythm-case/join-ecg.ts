import type { EcgLine } from '../case/fold-result.ts';
import type { EcgWords } from '../case/result-events.ts';
import { formatText } from '../text/catalogue.ts';
import { ECG_EN } from '../text/ecg-en.ts';
import { RHYTHM_EN } from '../text/rhythm-en.ts';
import { RHYTHM_WATCH_EN } from '../text/rhythm-watch-en.ts';
import type { Fact, Reason } from '../units/fact.ts';
import { readInstantMs } from '../units/iso-time.ts';
import { makeEcgEntry } from '../rhythm/check-entries.ts';
import type { EcgReading } from '../rhythm/ecg-types.ts';
import { makeEntryFromReading } from '../rhythm/entry-from-reading.ts';
import { formatPlain } from '../rhythm/format-rhythm-number.ts';
import type { EcgEntry, EcgMoment } from '../rhythm/rhythm-types.ts';

/** One interval of one ECG: what a person read, what was measured, and which of the two counts. */
export interface JoinedValue {
  readonly used: Fact | null;
  readonly from: 'person' | 'record' | null;
  readonly entered: Fact | null;
  readonly measured: Fact | null;
}
interface Stamp {
  readonly by: string;
  readonly at: string;
}
/** One moment as a column of the page. */
export interface EcgColumn {
  readonly moment: EcgMoment;
  /** As the rules see it; null: there is no ECG of this moment. */
  readonly entry: EcgEntry | null;
  readonly at: string | null;
  readonly words: EcgWords | null;
  readonly enteredBy: Stamp | null;
  readonly joinedBy: (Stamp & { readonly takenAt: string; readonly blobSha256: string }) | null;
  readonly pr: JoinedValue;
  readonly qrs: JoinedValue;
  readonly rate: JoinedValue;
  /** Null: no record, or what was measured in it is not there. */
  readonly reading: (Omit<EcgReading, 'beatsS'> & { readonly beats: number }) | null;
  /** Contradictions and what is open; nothing is averaged away. */
  readonly reasons: readonly Reason[];
}

/** Two readings of one rate of ten seconds differ by this and are the same [P]. */
const RATE_PER_MIN = 5;
/** A record's time and the entered one: further apart they are of two ECGs [P]. */
const SAME_ECG_MS = 10 * 60_000;
const NOTHING: JoinedValue = { used: null, from: null, entered: null, measured: null };

/**
 * What is known of the ECG of one moment: a person's words and, where a record was joined, its intervals. A person's number
 * counts before a measured one; both stay. A record alone has neither a rhythm nor a block: without the rhythm its PR and QRS
 * do not count. `isShared`: the same record stands at another moment too, so that its numbers count at none.
 * Fails     never; entered words that contradict themselves leave the moment without numbers, with the reason
 * Source    docs/methods/rhythm.md
 */
export function joinEcg(moment: EcgMoment, line: EcgLine | null, reading: EcgReading | null, isShared = false): EcgColumn {
  const [entered, joined] = [line?.entered ?? null, line?.joined ?? null];
  const words = entered?.words ?? null;
  const reasons: Reason[] = [];
  const name = RHYTHM_EN[`moment-${moment}`];
  const typed = words && entered ? makeEcgEntry({ moment, ...withoutNull(words) }, { by: entered.by, at: entered.at }) : null;
  if (typed && !typed.ok) reasons.push({ code: typed.failure.code, text: formatText(RHYTHM_WATCH_EN, 'atMoment', { moment: name, text: typed.failure.message }), next: typed.failure.nextStep });
  const said = typed?.ok ? typed.value : null;
  const at = said?.at ?? joined?.takenAt ?? (words && !Number.isNaN(readInstantMs(words.at)) ? words.at : null);
  if (joined && !reading) reasons.push({ code: 'ecg-reading-missing', text: formatText(RHYTHM_WATCH_EN, 'readingGone', { moment: name }), next: RHYTHM_WATCH_EN.readingGoneNext });
  const column = {
    moment, at, words, reading: reading && withoutBeats(reading),
    enteredBy: entered && { by: entered.by, at: entered.at },
    joinedBy: joined && { by: joined.by, at: joined.at, takenAt: joined.takenAt, blobSha256: joined.blobSha256 },
  };
  if (at === null) return { ...column, entry: null, pr: NOTHING, qrs: NOTHING, rate: NOTHING, reasons };

  // Words that contradict themselves say nothing of the record either.
  const usable = joined && reading && !isShared && typed?.ok !== false ? reading : null;
  const from = usable && joined ? makeEntryFromReading(usable, moment, at, { rhythm: said?.rhythm ?? null, bundleBlock: said?.bundleBlock ?? null, avBlock: said?.avBlock ?? null }, { by: joined.by, at: joined.at }) : null;
  const record = from?.ok ? from.value : null;
  if (from && !from.ok) reasons.push({ code: from.failure.code, text: formatText(RHYTHM_WATCH_EN, 'atMoment', { moment: name, text: from.failure.message }), next: from.failure.nextStep });
  if (usable && typed?.ok !== false && (said?.bundleBlock ?? null) === null) reasons.push({ code: 'ecg-bundle-open', text: formatText(RHYTHM_WATCH_EN, 'bundleOpen', { moment: name }), next: RHYTHM_WATCH_EN.bundleOpenNext });
  if (usable && typed?.ok !== false && (said?.avBlock ?? null) === null) reasons.push({ code: 'ecg-av-open', text: formatText(RHYTHM_WATCH_EN, 'avOpen', { moment: name }), next: RHYTHM_WATCH_EN.avOpenNext });
  if (said && reading && joined && !isShared) reasons.push(...listContradictions(said, reading, joined.takenAt, name));

  const choose = (hand: Fact | null, measured: Fact | null, counted: Fact | null): JoinedValue => ({ used: hand ?? counted, from: hand ? 'person' : counted ? 'record' : null, entered: hand, measured });
  const pr = choose(said?.prMs ?? null, reading?.prMs ?? null, record?.prMs ?? null);
  const qrs = choose(said?.qrsMs ?? null, reading?.qrsMs ?? null, record?.qrsMs ?? null);
  const rate = choose(said?.ratePerMin ?? null, reading?.ratePerMin ?? null, usable?.ratePerMin ?? null);
  const entry: EcgEntry = {
    moment, at, rhythm: said?.rhythm ?? null, bundleBlock: said?.bundleBlock ?? null, avBlock: said?.avBlock ?? null, hvMs: said?.hvMs ?? null,
    prMs: pr.used, qrsMs: qrs.used, ratePerMin: rate.used,
  };
  return { ...column, entry, pr, qrs, rate, reasons };
}

/** Where a person and the record do not say the same. Limits of the differences are the record's own bands. */
function listContradictions(said: EcgEntry, reading: EcgReading, takenAt: string, moment: string): readonly Reason[] {
  const found: Reason[] = [];
  const tell = (code: string, text: string, next: string): void => void found.push({ code, text, next });
  for (const [hand, measured, name, unit, least] of [
    [said.prMs, reading.prMs, RHYTHM_EN['name-pr'], 'ms', 0], [said.qrsMs, reading.qrsMs, RHYTHM_EN['name-qrs'], 'ms', 0], [said.ratePerMin, reading.ratePerMin, RHYTHM_EN['name-rate'], '/min', RATE_PER_MIN],
  ] as const) {
    if (hand?.value == null || measured.value === null || measured.low === null || measured.high === null) continue;
    if (hand.value >= Math.min(measured.low, measured.value - least) && hand.value <= Math.max(measured.high, measured.value + least)) continue;
    tell('ecg-entered-differs', formatText(RHYTHM_WATCH_EN, 'numberDiffers', { moment, name, unit, entered: formatPlain(hand.value), measured: formatPlain(Math.round(measured.value)), low: formatPlain(Math.round(measured.low)), high: formatPlain(Math.round(measured.high)) }), RHYTHM_WATCH_EN.numberDiffersNext);
  }
  if (Math.abs(readInstantMs(said.at) - readInstantMs(takenAt)) > SAME_ECG_MS) tell('ecg-times-differ', formatText(RHYTHM_WATCH_EN, 'timesDiffer', { moment }), RHYTHM_WATCH_EN.timesDifferNext);
  if (said.rhythm === 'atrial-fibrillation' && reading.prMs.value !== null) tell('ecg-said-differs', formatText(RHYTHM_WATCH_EN, 'fibrillationWithP', { moment }), RHYTHM_WATCH_EN.saidDiffersNext);
  const has = (code: string): boolean => reading.quality.some((q) => q.code === code);
  if (said.rhythm === 'sinus' && has('ecg-irregular') && has('ecg-p-not-found')) tell('ecg-said-differs', formatText(RHYTHM_WATCH_EN, 'sinusWithoutP', { moment }), RHYTHM_WATCH_EN.saidDiffersNext);
  if (said.rhythm !== null && !said.rhythm.startsWith('paced') && has('ecg-spikes')) tell('ecg-said-differs', formatText(RHYTHM_WATCH_EN, 'spikesUnpaced', { moment }), ECG_EN.spikesNext);
  if (said.avBlock === 'none') for (const { text } of reading.suspicions) tell('ecg-said-differs', formatText(RHYTHM_WATCH_EN, 'noBlockSuspected', { moment, text }), ECG_EN.suspectedNext);
  return found;
}

/** Absent is not known; an entry has null for it. */
function withoutNull({ at, ...words }: EcgWords): { readonly at: string } & { readonly [K in Exclude<keyof EcgWords, 'at'>]?: NonNullable<EcgWords[K]> } {
  return { at, ...Object.fromEntries(Object.entries(words).filter(([, value]) => value !== null)) };
}

function withoutBeats({ beatsS, ...reading }: EcgReading): NonNullable<EcgColumn['reading']> {
  return { ...reading, beats: beatsS.length };
}
