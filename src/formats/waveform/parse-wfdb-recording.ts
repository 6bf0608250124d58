import type { Recording } from '../../core/haemodynamics/recording-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { Reason } from '../../core/units/fact.ts';
import { countWfdbSamples, decodeWfdbSamples, getInvalidSample } from './decode-wfdb-samples.ts';
import { findChannelKind } from './find-channel-kind.ts';
import { makeChannels } from './make-channels.ts';
import { parseWfdbAnnotations } from './parse-wfdb-annotations.ts';
import { parseWfdbHeader } from './parse-wfdb-header.ts';
import { MOST_SAMPLES, type ChannelMapFailureCode, type NamedBytes, type RawChannel, type RecordingOptions, type WfdbFailureCode } from './waveform-types.ts';
import type { WfdbHeader, WfdbSegment, WfdbSignal } from './wfdb-types.ts';

export type WfdbRecordingFailureCode = WfdbFailureCode | ChannelMapFailureCode | 'recording-empty' | 'recording-too-large' | 'channels-too-many';

/** A signal of one piece of the record, with its skew taken off: the first sample lies at the first frame. */
interface PieceSignal {
  readonly signal: WfdbSignal;
  readonly samples: Float32Array;
}

/** Samples that all pieces together may still take: one signal file named a thousand times costs no more than once. */
interface Budget {
  left: number;
}
type Broken = Result<never, WfdbRecordingFailureCode>;

/**
 * A WFDB record: header with its signal files, one piece or segments, and one annotation file, among `companions`.
 *
 * Units     mm[Hg] and mV out: (value - baseline) / gain
 * Fails     WfdbRecordingFailureCode. A checksum that differs and a file that ends early are findings; what is there is read
 * Source    docs/methods/recordings.md
 */
export function parseWfdbRecording(bytes: Uint8Array, companions: readonly NamedBytes[], options: RecordingOptions = {}): Result<Recording, WfdbRecordingFailureCode> {
  const header = parseWfdbHeader(bytes);
  if (!header.ok) return header;
  const findings: Reason[] = [];
  const files = new Map(companions.map((each) => [each.name.toLowerCase(), each.bytes]));
  const budget = { left: MOST_SAMPLES };
  const whole = header.value.segments === null
    ? readPiece(header.value, files, budget, findings)
    : readSegments(header.value, header.value.segments, files, budget, findings);
  if (!whole.ok) return whole;
  const { framesPerS } = header.value;
  const raws = whole.value.map(({ signal, samples }): RawChannel => ({
    label: signal.label, about: '', unit: signal.isCalibrated ? (signal.unit ?? 'mV') : findUnscaledUnit(signal.label), samplesPerS: framesPerS * signal.samplesPerFrame, startS: 0, samples,
  }));
  for (const [i, { signal }] of whole.value.entries()) {
    if (!signal.isCalibrated) findings.push({ code: 'channel-uncalibrated', text: `Channel ${i + 1} has no gain in the header; its scale is not known.`, next: 'Do not read values from it; shape and times hold.' });
  }
  if (raws.length === 0 || raws.every(({ samples }) => samples.length === 0)) return fail('recording-empty', 'The record holds no samples.', 'Export the recording again.');
  const made = makeChannels(raws, options.choices ?? []);
  if (!made.ok) return made;
  const durationS = made.value.channels.reduce((most, each) => Math.max(most, each.samples.length / each.samplesPerS), 0);
  return succeed({
    format: 'wfdb', startedAt: header.value.startedAt, durationS, channels: made.value.channels,
    marks: readMarks(header.value, files, options.annotator ?? 'atr', durationS, findings), findings: [...findings, ...made.value.findings],
  });
}

/** Plain names of the files that a header asks for: its signal files, or the headers of its segments; and the annotations. */
export function listWfdbCompanions(bytes: Uint8Array, annotator = 'atr'): readonly string[] {
  const header = parseWfdbHeader(bytes);
  if (!header.ok) return [];
  const { record, signals, segments } = header.value;
  const names = segments === null
    ? signals.flatMap(({ file }) => (file === '~' ? [] : [file]))
    : segments.flatMap(({ name }) => (name === '~' ? [] : [`${name}.hea`]));
  return [...new Set(/^[a-zA-Z0-9_]{1,32}$/.test(annotator) ? [...names, `${record}.${annotator}`] : names)];
}

/** Without a gain a pressure is no number of mmHg; an ECG keeps its beats, whatever its scale. */
function findUnscaledUnit(label: string): string | null {
  return findChannelKind(label, '', null).kind === 'ecg' ? null : '{unscaled}';
}

function readPiece(header: WfdbHeader, files: ReadonlyMap<string, Uint8Array>, budget: Budget, findings: Reason[]): Result<readonly PieceSignal[], WfdbRecordingFailureCode> {
  const out: PieceSignal[] = [];
  for (let from = 0; from < header.signals.length; ) {
    // Signals of one file stand one after another in the header, and interleaved in the file.
    let to = from + 1;
    while (to < header.signals.length && header.signals[to]!.file === header.signals[from]!.file) to++;
    const group = header.signals.slice(from, to);
    const first = group[0]!;
    if (first.file === '~') for (const signal of group) out.push({ signal, samples: new Float32Array(0) });
    else {
      if (group.some(({ storage, byteOffset }) => storage !== first.storage || byteOffset !== first.byteOffset)) {
        return fail('wfdb-header-broken', `Signals ${from + 1} to ${to} lie in one file and are stored in different formats.`, 'Take the .hea file as it was written, beside its signal files.', { signal: from + 1 });
      }
      const bytes = files.get(first.file.toLowerCase());
      if (bytes === undefined) return failMissing(from + 1, 'signal');
      const read = readGroup(header, group, from, bytes, budget, findings);
      if (!read.ok) return read;
      out.push(...read.value);
    }
    from = to;
  }
  return succeed(out);
}

function readGroup(header: WfdbHeader, group: readonly WfdbSignal[], firstIndex: number, file: Uint8Array, budget: Budget, findings: Reason[]): Result<readonly PieceSignal[], WfdbRecordingFailureCode> {
  const { storage, byteOffset } = group[0]!;
  const bytes = file.subarray(Math.min(byteOffset, file.length));
  const perFrame = group.reduce((sum, { samplesPerFrame }) => sum + samplesPerFrame, 0);
  const there = Math.floor(countWfdbSamples(storage, bytes.length) / perFrame);
  const frames = Math.min(header.frames ?? there, there);
  if ((budget.left -= frames * perFrame) < 0) return failTooLarge();
  if (header.frames !== null && there < header.frames) {
    findings.push({
      code: 'recording-cut', text: `The file of signal ${firstIndex + 1} holds ${there} of the ${header.frames} frames that the header states; what is there was read.`,
      next: 'Copy the recording again if the end matters.',
    });
  }
  const values = decodeWfdbSamples(bytes, storage, frames * perFrame);
  let offset = 0;
  const out = group.map((signal, i): PieceSignal => {
    const samples = pickSignal(values, signal, offset, frames, perFrame, header.frames === frames, firstIndex + i + 1, findings);
    offset += signal.samplesPerFrame;
    const skew = Math.min(samples.length, signal.skewFrames * signal.samplesPerFrame);
    return { signal, samples: skew > 0 ? samples.subarray(skew) : samples };
  });
  return succeed(out);
}

function pickSignal(values: Int32Array, signal: WfdbSignal, offset: number, frames: number, perFrame: number, isWhole: boolean, number: number, findings: Reason[]): Float32Array {
  const { samplesPerFrame, gain, baseline, storage, initial, checksum } = signal;
  const samples = new Float32Array(frames * samplesPerFrame);
  const invalid = getInvalidSample(storage);
  let [sum, running, first] = [0, initial ?? 0, null as number | null];
  for (let frame = 0, k = 0; frame < frames; frame++) {
    for (let j = 0, at = frame * perFrame + offset; j < samplesPerFrame; j++, at++, k++) {
      // Format 8 stores steps, counted from the initial value of the header.
      const value = storage === 8 ? (running = (running + values[at]!) | 0) : values[at]!;
      first ??= value;
      sum = (sum + value) | 0;
      samples[k] = value === invalid ? NaN : (value - baseline) / gain;
    }
  }
  // The sum is kept in 16 bits; a file cut short cannot agree and is named as such.
  const isSumRight = checksum === null || !isWhole || ((sum - checksum) & 0xffff) === 0;
  const isStartRight = initial === null || first === null || storage === 8 || first === initial;
  if (!isSumRight || !isStartRight) {
    findings.push({
      code: 'checksum-differs', text: `The samples of channel ${number} do not agree with the ${isSumRight ? 'first value' : 'checksum'} in the header: file or header was changed or damaged.`,
      next: 'Copy the recording again from its source; believe no value of it before the sum agrees.',
    });
  }
  return samples;
}

function readSegments(header: WfdbHeader, segments: readonly WfdbSegment[], files: ReadonlyMap<string, Uint8Array>, budget: Budget, findings: Reason[]): Result<readonly PieceSignal[], WfdbRecordingFailureCode> {
  // A first segment without frames lays out the signals of a record whose segments do not all have the same.
  const hasLayout = segments[0]!.frames === 0 && segments[0]!.name !== '~';
  const placed: { readonly frame: number; readonly pieces: readonly PieceSignal[] }[] = [];
  let [frame, layout] = [0, null as readonly WfdbSignal[] | null];
  for (const [i, segment] of segments.entries()) {
    if (segment.name !== '~') {
      const own = readSegmentHeader(segment, i, header, files);
      if (!own.ok) return own;
      if (i === 0 && hasLayout) layout = own.value.signals;
      else {
        layout ??= own.value.signals;
        const count = findings.length;
        const pieces = readPiece({ ...own.value, frames: segment.frames }, files, budget, findings);
        if (!pieces.ok) return pieces;
        for (let k = count; k < findings.length; k++) findings[k] = { ...findings[k]!, text: `Segment ${i + 1}: ${findings[k]!.text}` };
        placed.push({ frame, pieces: pieces.value });
      }
    }
    frame += segment.frames;
  }
  if (layout === null) return fail('recording-empty', 'Every segment of the record is a gap.', 'Export the recording again.');
  const perFrame = layout.reduce((sum, each) => sum + each.samplesPerFrame, 0);
  if (frame * perFrame > MOST_SAMPLES) return failTooLarge();
  return joinSegments(layout, placed, frame, hasLayout);
}

function readSegmentHeader(segment: WfdbSegment, i: number, header: WfdbHeader, files: ReadonlyMap<string, Uint8Array>): Result<WfdbHeader, WfdbRecordingFailureCode> {
  const bytes = files.get(`${segment.name.toLowerCase()}.hea`);
  if (bytes === undefined) return failMissing(i + 1, 'segment');
  const own = parseWfdbHeader(bytes);
  if (!own.ok) return fail(own.failure.code, `Segment ${i + 1}: ${own.failure.message}`, own.failure.nextStep, { ...own.failure.evidence, segment: i + 1 });
  if (own.value.segments !== null || own.value.framesPerS !== header.framesPerS) return failDiffers(i + 1, own.value.segments !== null ? 'is itself a record of segments' : 'has another sampling rate than the record');
  return own;
}

function joinSegments(layout: readonly WfdbSignal[], placed: readonly { readonly frame: number; readonly pieces: readonly PieceSignal[] }[], frames: number, hasLayout: boolean): Result<readonly PieceSignal[], WfdbRecordingFailureCode> {
  const joined = layout.map((signal) => ({ signal, samples: new Float32Array(frames * signal.samplesPerFrame).fill(NaN) }));
  for (const [n, { frame, pieces }] of placed.entries()) {
    if (!hasLayout && pieces.length !== layout.length) return failDiffers(n + 1, 'has another number of signals than the first');
    for (const [i, piece] of pieces.entries()) {
      const at = hasLayout ? layout.findIndex(({ label }) => label === piece.signal.label) : i;
      const target = joined[at];
      if (target === undefined) continue; // a signal that the layout does not name is none of the record's
      if (target.signal.samplesPerFrame !== piece.signal.samplesPerFrame || (target.signal.unit ?? 'mV') !== (piece.signal.unit ?? 'mV')) {
        return failDiffers(n + 1, `has another rate or unit for signal ${i + 1}`);
      }
      target.samples.set(piece.samples.subarray(0, target.samples.length - frame * piece.signal.samplesPerFrame), frame * piece.signal.samplesPerFrame);
    }
  }
  return succeed(joined);
}

function readMarks(header: WfdbHeader, files: ReadonlyMap<string, Uint8Array>, annotator: string, durationS: number, findings: Reason[]): Recording['marks'] {
  const bytes = files.get(`${header.record}.${annotator}`.toLowerCase());
  if (bytes === undefined) return [];
  const { marks, isCut } = parseWfdbAnnotations(bytes, header.framesPerS);
  if (isCut) findings.push({ code: 'annotations-cut', text: `The annotation file ends early, after ${marks.length} marks.`, next: 'Copy it again if the end matters.' });
  const inside = marks.filter(({ atS }) => atS >= 0 && atS <= durationS + 1);
  if (inside.length === marks.length) return marks;
  findings.push({
    code: 'annotations-beyond-end', text: `${marks.length - inside.length} of ${marks.length} marks lie outside the recording; the times of this annotation file do not fit, and no mark of it was taken.`,
    next: 'Use annotations that were made at the sampling rate of the header, or that state their own.',
  });
  return [];
}

const failMissing = (number: number, what: 'signal' | 'segment'): Broken =>
  fail('wfdb-file-missing', `The file of ${what} ${number} that the header names is not there.`, 'Put all files of the record into one folder, with their names unchanged.', { [what]: number });
const failDiffers = (segment: number, what: string): Broken =>
  fail('wfdb-segments-differ', `Segment ${segment} ${what}.`, 'Give the segments as single records.', { segment });
const failTooLarge = (): Broken =>
  fail('recording-too-large', `The recording has more than ${MOST_SAMPLES} samples.`, 'Export the stretch that matters alone.', { mostSamples: MOST_SAMPLES });
