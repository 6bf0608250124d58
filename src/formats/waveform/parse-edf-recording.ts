import type { Recording, RecordingMark } from '../../core/haemodynamics/recording-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { Reason } from '../../core/units/fact.ts';
import { makeChannels } from './make-channels.ts';
import { parseEdfHeader, type EdfHeader, type EdfSignal } from './parse-edf-header.ts';
import { formatClockTime, readClockTime } from './read-clock-time.ts';
import { cleanWord } from './read-unit.ts';
import { MOST_MARKS, MOST_SAMPLES, type ChannelMapFailureCode, type EdfFailureCode, type RawChannel, type RecordingOptions } from './waveform-types.ts';

export type EdfRecordingFailureCode = EdfFailureCode | ChannelMapFailureCode | 'recording-empty' | 'recording-too-large' | 'channels-too-many' | 'time-goes-back';

const LONGEST_MARK = 40;
/** Of a sample: how far the start of a data record may lie from where the one before ends, before it is a gap. */
const GAP_SAMPLES = 0.5;

interface TimedList {
  readonly onsetS: number;
  readonly texts: readonly string[];
}

/**
 * EDF and EDF+, continuous or not, with annotations.
 *
 * Units     mm[Hg] and mV out; time from the first data record
 * Fails     EdfRecordingFailureCode. Gaps, a cut file and samples outside the stated range are findings
 * Source    docs/methods/recordings.md
 */
export function parseEdfRecording(bytes: Uint8Array, options: RecordingOptions = {}): Result<Recording, EdfRecordingFailureCode> {
  const header = parseEdfHeader(bytes);
  if (!header.ok) return header;
  const { headerBytes, recordBytes, recordS, kind } = header.value;
  const signals = header.value.signals.filter(({ isAnnotations }) => !isAnnotations);
  const there = Math.floor((bytes.length - headerBytes) / recordBytes);
  const stated = header.value.records;
  const records = Math.min(stated ?? there, there);
  if (records === 0 || signals.length === 0) return fail('recording-empty', 'The file holds no samples.', 'Export the recording again.', { records, signals: signals.length });
  const findings: Reason[] = [];
  if (stated !== null && there < stated) {
    findings.push({ code: 'recording-cut', text: `The file holds ${there} of the ${stated} data records that its header states; what is there was read.`, next: 'Copy the recording again if the end matters.' });
  }
  const timed = readTimes(bytes, header.value, records, findings);
  if (!timed.ok) return timed;
  const { starts, marks } = timed.value;
  const endS = starts[records - 1]! + recordS;
  const perS = signals.reduce((sum, { samplesPerRecord }) => sum + samplesPerRecord / recordS, 0);
  if (!(endS * perS <= MOST_SAMPLES)) return fail('recording-too-large', `With its gaps the recording has more than ${MOST_SAMPLES} samples.`, 'Export the stretch that matters alone.', { seconds: Math.round(endS) });
  const raws = signals.map((signal, i): RawChannel => ({
    label: signal.label, about: '', unit: signal.unit, samplesPerS: signal.samplesPerRecord / recordS, startS: 0,
    samples: readSamples(bytes, header.value, signal, starts, endS, i + 1, findings),
  }));
  const made = makeChannels(raws, options.choices ?? []);
  if (!made.ok) return made;
  return succeed({
    format: 'edf', startedAt: shiftStart(header.value.startedAt, timed.value.firstOnsetS), durationS: endS, channels: made.value.channels,
    marks: kind === 'EDF' ? [] : marks, findings: [...findings, ...made.value.findings],
  });
}

function readSamples(bytes: Uint8Array, header: EdfHeader, signal: EdfSignal, starts: Float64Array, endS: number, number: number, findings: Reason[]): Float32Array {
  const { samplesPerRecord, scale, offset, byteInRecord, digitalMin, digitalMax } = signal;
  const perS = samplesPerRecord / header.recordS;
  const out = new Float32Array(Math.max(starts.length * samplesPerRecord, Math.round(endS * perS))).fill(NaN);
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  let outside = 0;
  for (let r = 0; r < starts.length; r++) {
    const from = header.headerBytes + r * header.recordBytes + byteInRecord;
    const place = Math.round(starts[r]! * perS);
    for (let k = 0; k < samplesPerRecord; k++) {
      const stored = view.getInt16(from + 2 * k, true);
      if (stored < digitalMin || stored > digitalMax) outside++;
      out[place + k] = stored * scale + offset;
    }
  }
  if (outside > 0) {
    findings.push({ code: 'samples-outside-range', text: `${outside} samples of channel ${number} lie outside the range that the header states.`, next: 'Header and data may not belong together; check a known value.' });
  }
  return out;
}

interface Times {
  /** Of each data record, s from the first one. */
  readonly starts: Float64Array;
  readonly firstOnsetS: number;
  readonly marks: readonly RecordingMark[];
}

/** Start of every data record, from the time-keeping lists of EDF+, else one after the other; and the annotations. */
function readTimes(bytes: Uint8Array, header: EdfHeader, records: number, findings: Reason[]): Result<Times, EdfRecordingFailureCode> {
  const { recordS, kind } = header;
  const starts = Float64Array.from({ length: records }, (_, r) => r * recordS);
  const holders = header.signals.filter(({ isAnnotations }) => isAnnotations);
  const marks: RecordingMark[] = [];
  let [firstOnsetS, hidden, gaps, untimed] = [0, 0, 0, 0];
  const finest = header.signals.reduce((most, each) => (each.isAnnotations ? most : Math.max(most, each.samplesPerRecord / recordS)), 1);
  for (let r = 0; r < records && holders.length > 0; r++) {
    const recordStart = header.headerBytes + r * header.recordBytes;
    for (const [h, holder] of holders.entries()) {
      const from = recordStart + holder.byteInRecord;
      const lists = readLists(bytes.subarray(from, from + 2 * holder.samplesPerRecord));
      // The first list of the first holder, with an empty text, keeps the time of the record.
      const keeper = h === 0 && lists[0]?.texts[0] === '' ? lists[0] : null;
      if (h === 0 && keeper === null) untimed++;
      if (keeper !== null) {
        if (r === 0) firstOnsetS = keeper.onsetS;
        if (kind === 'EDF+D') starts[r] = keeper.onsetS - firstOnsetS;
      } else if (h === 0 && kind === 'EDF+D' && r > 0) starts[r] = starts[r - 1]! + recordS;
      for (const { onsetS, texts } of lists) {
        for (const text of texts) {
          if (text === '' || marks.length >= MOST_MARKS) continue;
          const isPersonal = header.patientWords.some((word) => text.toLowerCase().includes(word));
          if (isPersonal) hidden++;
          marks.push({ atS: onsetS - firstOnsetS, code: isPersonal ? 'remark' : cleanWord(text, LONGEST_MARK) });
        }
      }
    }
    if (kind === 'EDF+D' && r > 0) {
      const step = starts[r]! - starts[r - 1]! - recordS;
      if (step < -GAP_SAMPLES / finest) {
        return fail('time-goes-back', `Data record ${r + 1} begins ${Number((-step).toPrecision(4))} s before the one in front of it ends.`, 'Two recordings may be joined: export one at a time.', { record: r + 1 });
      }
      if (step > GAP_SAMPLES / finest) gaps++;
    }
  }
  if (gaps > 0) findings.push({ code: 'recording-gaps', text: `The recording is interrupted ${gaps} times; the pauses hold no samples.`, next: 'Beats that touch a gap are not measured.' });
  if (hidden > 0) findings.push({ code: 'annotation-left-out', text: `${hidden} annotations hold words of the patient field; only their times were taken.`, next: 'Keep names out of annotations.' });
  if (kind === 'EDF+D' && untimed > 0) findings.push({ code: 'record-times-missing', text: `${untimed} of ${records} data records do not say when they begin; they were laid behind the one before.`, next: 'Export the recording again, as continuous where it is.' });
  return succeed({ starts, firstOnsetS, marks });
}

/** Time-stamped annotation lists: +onset[21 duration] 20 text 20 text 20 0. */
function readLists(bytes: Uint8Array): readonly TimedList[] {
  const lists: TimedList[] = [];
  for (let from = 0; from < bytes.length; ) {
    let to = from;
    while (to < bytes.length && bytes[to] !== 0) to++;
    if (to > from) {
      const parts = new TextDecoder('utf-8').decode(bytes.subarray(from, to)).split('\u0014');
      const onset = /^([+-]\d{1,9}(?:\.\d{1,12})?)(?:\u0015\d+(?:\.\d+)?)?$/.exec(parts[0] ?? '');
      if (onset && parts.length >= 3) lists.push({ onsetS: Number(onset[1]), texts: parts.slice(1, -1) });
    }
    from = to + 1;
  }
  return lists;
}

/** The first data record may begin a fraction of a second after the time in the header. */
function shiftStart(startedAt: string | null, byS: number): string | null {
  const time = startedAt === null ? null : readClockTime(startedAt);
  return time === null || byS === 0 ? startedAt : formatClockTime(time.atS + byS);
}
