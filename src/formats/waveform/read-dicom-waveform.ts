import type { DataSet } from 'dicom-parser';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { Reason } from '../../core/units/fact.ts';
import type { DicomDataset } from '../dicom/parse-part10.ts';
import { readDecimal, readItem, readItems, readText, readUint16, readUint32 } from '../dicom/read-values.ts';
import { MOST_CHANNELS, MOST_SAMPLES, type DicomWaveformFailureCode, type RawChannel } from './waveform-types.ts';

export type DicomGroupFailureCode = DicomWaveformFailureCode | 'channels-too-many' | 'recording-too-large';

/** One multiplex group: channels sampled together. */
export interface DicomGroup {
  /** From 1, as annotations count. */
  readonly number: number;
  readonly startS: number;
  readonly samplesPerS: number;
  readonly channels: readonly RawChannel[];
}

type Reader = (view: DataView, at: number) => number;
interface Storage {
  readonly bytes: 1 | 2 | 4;
  readonly read: (isLittle: boolean) => Reader;
}
/** Waveform Sample Interpretation (5400,1006) that is linear. */
const STORAGES: Readonly<Record<string, Storage>> = {
  SB: { bytes: 1, read: () => (view, at) => view.getInt8(at) },
  UB: { bytes: 1, read: () => (view, at) => view.getUint8(at) },
  SS: { bytes: 2, read: (isLittle) => (view, at) => view.getInt16(at, isLittle) },
  US: { bytes: 2, read: (isLittle) => (view, at) => view.getUint16(at, isLittle) },
  SL: { bytes: 4, read: (isLittle) => (view, at) => view.getInt32(at, isLittle) },
  UL: { bytes: 4, read: (isLittle) => (view, at) => view.getUint32(at, isLittle) },
};
const EXPLICIT_BIG = '1.2.840.10008.1.2.2';
const MOST_RATE = 1e6;

interface GroupShape {
  readonly channels: number;
  readonly samples: number;
  readonly samplesPerS: number;
  readonly storage: Storage;
  readonly view: DataView;
  readonly isLittle: boolean;
}

interface Scale {
  readonly sensitivity: number;
  readonly correction: number;
  readonly baseline: number;
  readonly unit: string | null;
}

/**
 * Value of a stored sample, in the unit of its channel's sensitivity. The baseline is in that unit too.
 * Source    PS3.3 C.10.9.1.4.2 and (003A,0213); checks HD-25 [V]
 */
export function computeWaveformValue(sample: number, sensitivity: number, correction: number, baseline: number): number {
  return sample * sensitivity * correction + baseline;
}

/**
 * One item of the Waveform Sequence (5400,0100). null with a finding: a derived group, as a median beat, which is no part of
 * the recording's time.
 *
 * Units     as the channel's sensitivity unit; s
 * Equation  value = sample x sensitivity x correction factor + baseline (PS3.3 C.10.9; checks HD-25)
 * Fails     waveform-header-broken (names the field), waveform-format-unsupported, waveform-data-short, channels-too-many,
 *           recording-too-large
 * Source    PS3.3 C.10.9 and A.34; tags checks DX-12; docs/methods/recordings.md
 */
export function readDicomGroup(dataset: DicomDataset, group: DataSet, number: number, samplesLeft: number, findings: Reason[]): Result<DicomGroup | null, DicomGroupFailureCode> {
  if (readText(group, 'x003a0004')?.toUpperCase() === 'DERIVED') {
    findings.push({ code: 'derived-group-left-out', text: `Group ${number} of the object is derived (a mean or median beat) and was left out.`, next: 'Nothing to do: the recording itself was read.' });
    return succeed(null);
  }
  const shape = readShape(dataset, group, number, samplesLeft);
  if (!shape.ok) return shape;
  const { channels, samplesPerS } = shape.value;
  const definitions = readItems(group, 'x003a0200');
  if (definitions.length !== channels) return failField(number, 'Channel Definition Sequence', `has ${definitions.length} items for ${channels} channels`);
  const startS = (readDecimal(group, 'x00181068') ?? 0) / 1000;
  const padding = readPadding(group, shape.value);
  const out: RawChannel[] = [];
  for (const [c, definition] of definitions.entries()) {
    const scale = readScale(definition);
    if (scale === null) return failField(number, 'sensitivity or correction factor', `of channel ${c + 1} is 0 or no number`);
    const skewS = readDecimal(definition, 'x003a0214') ?? (readDecimal(definition, 'x003a0215') ?? 0) / samplesPerS;
    const { label, about } = readSource(definition);
    out.push({ label, about, unit: scale.unit, samplesPerS, startS: startS + skewS, samples: readSamples(shape.value, c, scale, padding) });
  }
  return succeed({ number, startS, samplesPerS, channels: out });
}

function readShape(dataset: DicomDataset, group: DataSet, number: number, samplesLeft: number): Result<GroupShape, DicomGroupFailureCode> {
  const channels = readUint16(group, 'x003a0005') ?? 0;
  const samples = readUint32(group, 'x003a0010') ?? 0;
  const samplesPerS = readDecimal(group, 'x003a001a') ?? 0;
  if (channels < 1) return failField(number, 'Number of Waveform Channels', 'is missing or 0');
  if (channels > MOST_CHANNELS) return fail('channels-too-many', `The recording has ${channels} channels; ${MOST_CHANNELS} are the most that are read.`, 'Export the pressures and the ECG alone.', { channels });
  if (samples < 1) return failField(number, 'Number of Waveform Samples', 'is missing or 0');
  if (!(samplesPerS > 0 && samplesPerS <= MOST_RATE)) return failField(number, 'Sampling Frequency', 'is missing or no rate');
  if (channels * samples > samplesLeft) return fail('recording-too-large', `The recording has more than ${MOST_SAMPLES} samples.`, 'Export the stretch that matters alone.', { mostSamples: MOST_SAMPLES });
  const word = readText(group, 'x54001006')?.toUpperCase() ?? '';
  const bits = readUint16(group, 'x54001004') ?? 0;
  const storage = Object.hasOwn(STORAGES, word) ? STORAGES[word]! : null;
  const isBig = dataset.transferSyntaxUid === EXPLICIT_BIG;
  // Eight-bit samples of a big-endian file are swapped or not by the VR that the writer chose: nobody can tell.
  if (storage === null || bits !== storage.bytes * 8 || (isBig && storage.bytes === 1)) {
    return fail('waveform-format-unsupported', `Group ${number} is stored in a form that is not read: ${bits} bits in a sample, interpretation ${/^[A-Z]{2}$/.test(word) ? word : 'not stated'}.`,
      'Export the recording again with linear samples of 8, 16 or 32 bits.', { group: number, bits });
  }
  const element = group.elements['x54001010'];
  const needed = channels * samples * storage.bytes;
  const there = element === undefined || element.length === 0xffffffff ? 0 : Math.min(element.length, group.byteArray.length - element.dataOffset);
  if (element === undefined || there < needed) {
    return fail('waveform-data-short', `Group ${number} holds ${there} bytes of samples; ${channels} channels of ${samples} samples need ${needed}.`, 'Export the recording again from its source.', { group: number, bytes: there, neededBytes: needed });
  }
  const bytes = group.byteArray as Uint8Array;
  return succeed({ channels, samples, samplesPerS, storage, isLittle: !isBig, view: new DataView(bytes.buffer, bytes.byteOffset + element.dataOffset, needed) });
}

function readSamples(shape: GroupShape, channel: number, scale: Scale, padding: number | null): Float32Array {
  const { channels, samples, storage, view, isLittle } = shape;
  const out = new Float32Array(samples);
  const read = storage.read(isLittle);
  const stride = channels * storage.bytes;
  for (let i = 0, at = channel * storage.bytes; i < samples; i++, at += stride) {
    const value = read(view, at);
    out[i] = value === padding ? NaN : computeWaveformValue(value, scale.sensitivity, scale.correction, scale.baseline);
  }
  return out;
}

/** null: a sensitivity is there and cannot be used. Without one the samples have no unit. */
function readScale(definition: DataSet): Scale | null {
  if (definition.elements['x003a0210'] === undefined) return { sensitivity: 1, correction: 1, baseline: 0, unit: '{unscaled}' };
  const sensitivity = readDecimal(definition, 'x003a0210');
  const hasCorrection = (definition.elements['x003a0212']?.length ?? 0) > 0;
  const correction = hasCorrection ? readDecimal(definition, 'x003a0212') : 1;
  if (sensitivity === null || correction === null || sensitivity * correction === 0 || !Number.isFinite(sensitivity * correction)) return null;
  const unit = readItem(definition, 'x003a0211');
  return { sensitivity, correction, baseline: readDecimal(definition, 'x003a0213') ?? 0, unit: unit === null ? null : readText(unit, 'x00080100') };
}

/** The label, or the coded source's meaning; and all words about the source: meaning and modifiers (side, place). */
function readSource(definition: DataSet): { readonly label: string; readonly about: string } {
  const own = readText(definition, 'x003a0203');
  const source = readItem(definition, 'x003a0208');
  const meaning = source === null ? null : readText(source, 'x00080104');
  const modifiers = readItems(definition, 'x003a0209').slice(0, 8).flatMap((item) => readText(item, 'x00080104') ?? []);
  return { label: own ?? meaning ?? '', about: [meaning ?? '', ...modifiers].join(' ').trim() };
}

/** Waveform Padding Value (5400,100A): one stored sample. */
function readPadding(group: DataSet, shape: GroupShape): number | null {
  const element = group.elements['x5400100a'];
  const { bytes, read } = shape.storage;
  if (element === undefined || element.length < bytes || element.dataOffset + bytes > group.byteArray.length) return null;
  const all = group.byteArray as Uint8Array;
  return read(shape.isLittle)(new DataView(all.buffer, all.byteOffset, all.length), element.dataOffset);
}

function failField(group: number, field: string, what: string) {
  return fail('waveform-header-broken' as const, `${field} of group ${group} ${what}.`, 'Export the recording again from its source.', { group, field });
}
