import type { DataSet } from 'dicom-parser';
import type { PatientIdentity } from '../../core/case/compare-identity.ts';
import type { Recording, RecordingMark } from '../../core/haemodynamics/recording-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { Reason } from '../../core/units/fact.ts';
import { parsePart10 } from '../dicom/parse-part10.ts';
import { readIdentity } from '../dicom/read-identity.ts';
import { readDecimals, readItem, readItems, readText } from '../dicom/read-values.ts';
import { makeChannels } from './make-channels.ts';
import { countDays, formatClockTime } from './read-clock-time.ts';
import { readDicomGroup, type DicomGroup, type DicomGroupFailureCode } from './read-dicom-waveform.ts';
import { cleanWord } from './read-unit.ts';
import { MOST_MARKS, MOST_SAMPLES, type ChannelMapFailureCode, type RawChannel, type RecordingOptions } from './waveform-types.ts';

export type DicomRecordingFailureCode = DicomGroupFailureCode | ChannelMapFailureCode;

const [WAVEFORMS, ANNOTATIONS] = [0x54000100, 0x0040b020];
const SEQUENCES: ReadonlySet<number> = new Set([WAVEFORMS, ANNOTATIONS]);
const LONGEST_MARK = 40;
const MOST_GROUPS = 1024;

/** Preamble and letters of a DICOM file. */
export function looksLikeDicom(bytes: Uint8Array): boolean {
  return bytes.length >= 132 && bytes[128] === 0x44 && bytes[129] === 0x49 && bytes[130] === 0x43 && bytes[131] === 0x4d;
}

/**
 * A DICOM waveform object: hemodynamic, 12-lead or general ECG, arterial pulse; every one that holds a Waveform Sequence.
 *
 * Units     mm[Hg] and mV out; time from the first sample of all groups
 * Fails     DicomRecordingFailureCode
 * Source    PS3.3 A.34, C.10.8, C.10.9, C.10.10; docs/methods/recordings.md
 */
export function parseDicomRecording(bytes: Uint8Array, options: RecordingOptions = {}): Result<Recording, DicomRecordingFailureCode> {
  const dataset = parsePart10(bytes, { sequences: SEQUENCES });
  if (!dataset.ok) return dataset;
  const { values } = dataset.value;
  const items = readItems(values, 'x54000100');
  if (items.length === 0 || items.length > MOST_GROUPS) return fail('no-waveform', 'The DICOM file holds no waveform.', 'Choose the pressure or ECG recording itself, not a picture or a report.', { groups: items.length });
  const findings: Reason[] = [];
  const groups: DicomGroup[] = [];
  let samplesLeft = MOST_SAMPLES;
  for (const [i, item] of items.entries()) {
    const group = readDicomGroup(dataset.value, item, i + 1, samplesLeft, findings);
    if (!group.ok) return group;
    if (group.value === null) continue;
    groups.push(group.value);
    samplesLeft -= group.value.channels.reduce((sum, { samples }) => sum + samples.length, 0);
  }
  if (groups.length === 0) return fail('no-waveform', 'The DICOM file holds derived waveforms only, as a median beat.', 'Choose the recording itself.', { groups: items.length });
  const startS = groups.reduce((least, each) => each.channels.reduce((low, channel) => Math.min(low, channel.startS), least), Infinity);
  const joined = joinGroups(groups.flatMap((group) => group.channels.map((channel) => ({ ...channel, startS: channel.startS - startS }))));
  if (!joined.ok) return joined;
  const made = makeChannels(joined.value, options.choices ?? []);
  if (!made.ok) return made;
  return succeed({
    format: 'dicom', startedAt: readStart(values, startS),
    durationS: made.value.channels.reduce((most, each) => Math.max(most, each.startS + each.samples.length / each.samplesPerS), 0),
    channels: made.value.channels, marks: readMarks(values, groups, startS), findings: [...findings, ...made.value.findings],
  });
}

/**
 * Whom the object says it is of, to be compared with the case; never kept or logged. null: no DICOM file.
 * Other formats do not carry an identity that could be compared.
 */
export function readRecordingIdentity(bytes: Uint8Array): PatientIdentity | null {
  if (!looksLikeDicom(bytes)) return null;
  const dataset = parsePart10(bytes);
  return dataset.ok ? readIdentity(dataset.value.values) : null;
}

/** Groups one after another with the same channels are one recording; what lies between them is a gap. */
function joinGroups(channels: readonly RawChannel[]): Result<readonly RawChannel[], DicomGroupFailureCode> {
  const chains = new Map<string, RawChannel[]>();
  const order: RawChannel[][] = [];
  for (const channel of channels) {
    const key = `${channel.label}\n${channel.about}\n${channel.unit}\n${channel.samplesPerS}`;
    const chain = chains.get(key);
    const last = chain?.at(-1);
    if (chain && last && channel.startS >= last.startS + (last.samples.length - 0.5) / last.samplesPerS) chain.push(channel);
    else {
      const begun = [channel];
      chains.set(key, begun);
      order.push(begun);
    }
  }
  let total = 0;
  const lengths = order.map((chain) => {
    const [first, last] = [chain[0]!, chain.at(-1)!];
    const length = Math.round((last.startS - first.startS) * first.samplesPerS) + last.samples.length;
    total += length;
    return length;
  });
  if (!(total <= MOST_SAMPLES)) return fail('recording-too-large', `With its gaps the recording has more than ${MOST_SAMPLES} samples.`, 'Export the stretch that matters alone.', { mostSamples: MOST_SAMPLES });
  return succeed(order.map((chain, i) => {
    if (chain.length === 1) return chain[0]!;
    const first = chain[0]!;
    const samples = new Float32Array(lengths[i]!).fill(NaN);
    for (const part of chain) samples.set(part.samples, Math.round((part.startS - first.startS) * first.samplesPerS));
    return { ...first, samples };
  }));
}

/** Coded annotations with a place in time; free text may name a person and is not taken. */
function readMarks(values: DataSet, groups: readonly DicomGroup[], startS: number): readonly RecordingMark[] {
  const marks: RecordingMark[] = [];
  for (const item of readItems(values, 'x0040b020')) {
    const concept = readItem(item, 'x0040a043');
    const code = concept === null ? null : (readText(concept, 'x00080104') ?? readText(concept, 'x00080100'));
    if (code === null) continue;
    const place = item.elements['x0040a0b0'];
    const number = place === undefined ? 1 : (item.uint16('x0040a0b0', 0) ?? 1);
    const group = groups.find((each) => each.number === number);
    const positions = item.elements['x0040a132'];
    const offsets = readDecimals(item, 'x0040a138') ?? [];
    const times = [...offsets.map((offset) => offset / 1000)];
    // Sample positions count from 1 (PS3.3 C.10.10.1.1).
    for (let k = 0; group && positions && k < Math.min(Math.floor(positions.length / 4), MOST_MARKS); k++) times.push(((item.uint32('x0040a132', k) ?? 1) - 1) / group.samplesPerS);
    for (const time of times) {
      if (group && marks.length < MOST_MARKS) marks.push({ atS: group.startS - startS + time, code: cleanWord(code, LONGEST_MARK) });
    }
  }
  return marks.sort((a, b) => a.atS - b.atS);
}

/** Acquisition DateTime (0008,002A), YYYYMMDDHHMMSS.F with or without zone; the zone is not applied. */
function readStart(values: DataSet, startS: number): string | null {
  const parts = /^(\d{4})(\d{2})(\d{2})(\d{2})(\d{2})(\d{2})(\.\d{1,6})?/.exec(readText(values, 'x0008002a') ?? '');
  if (!parts) return null;
  const [year, month, day, hour, minute, second] = [1, 2, 3, 4, 5, 6].map((i) => Number(parts[i])) as [number, number, number, number, number, number];
  if (month < 1 || month > 12 || day < 1 || day > 31 || hour > 23) return null;
  return formatClockTime(countDays(year, month, day) * 86_400 + hour * 3600 + minute * 60 + second + Number(parts[7] ?? 0) + startS);
}
