import { fail, succeed, type Result } from '../../core/result.ts';
import { countDays, formatClockTime } from './read-clock-time.ts';
import { cleanWord } from './read-unit.ts';
import { MOST_CHANNELS, type WfdbFailureCode } from './waveform-types.ts';
import { WFDB_STORAGES, type WfdbHeader, type WfdbSegment, type WfdbSignal, type WfdbStorage } from './wfdb-types.ts';

const MOST_BYTES = 4 << 20;
const MOST_SEGMENTS = 20_000;
const DEFAULT_RATE = 250;
const DEFAULT_GAIN = 200;
const MOST_PER_FRAME = 10_000;
const NUMBER = '[+-]?(?:\\d+\\.?\\d*|\\.\\d+)(?:[eE][+-]?\\d+)?';
const RECORD_LINE = new RegExp(
  `^([\\w.-]{1,64})(?:/(\\d{1,6}))?\\s+(\\d{1,6})(?:\\s+(${NUMBER})(?:/${NUMBER}(?:\\(${NUMBER}\\))?)?(?:\\s+(\\d{1,12})(?:\\s+(\\S+)(?:\\s+(\\S+))?)?)?)?\\s*$`,
);
const FORMAT_WORD = /^(\d{1,4})(?:x(\d{1,5}))?(?::(\d{1,9}))?(?:\+(\d{1,12}))?$/;
const GAIN_WORD = new RegExp(`^(${NUMBER})(?:\\(([+-]?\\d{1,10})\\))?(?:/(\\S{1,32}))?$`);
const FILE_WORD = /^(?:~|[\w][\w.-]{0,127})$/;

/** The text may be the header of a WFDB record: its first line has that form. */
export function looksLikeWfdbHeader(text: string): boolean {
  const line = listLines(text)[0];
  return line !== undefined && !/[,;]/.test(line) && RECORD_LINE.test(line);
}

/**
 * Header of a WFDB record (.hea). Remarks in it are not read: they may describe a person.
 * Fails     wfdb-header-broken (names the line), wfdb-format-unsupported (FLAC and formats without a reader)
 * Source    header(5) of the WFDB Applications Guide, https://physionet.org/physiotools/wag/header-5.htm [M]
 */
export function parseWfdbHeader(bytes: Uint8Array): Result<WfdbHeader, WfdbFailureCode | 'channels-too-many'> {
  if (bytes.length > MOST_BYTES) return failHeader(1, 'is far too long');
  const lines = listLines(new TextDecoder('latin1').decode(bytes));
  const parts = RECORD_LINE.exec(lines[0] ?? '');
  if (!parts) return failHeader(1, 'is no record line');
  const segmentCount = parts[2] === undefined ? null : Number(parts[2]);
  const signalCount = Number(parts[3]);
  const framesPerS = parts[4] === undefined ? DEFAULT_RATE : Number(parts[4]);
  const frames = parts[5] === undefined || Number(parts[5]) === 0 ? null : Number(parts[5]);
  if (!(framesPerS > 0 && framesPerS <= 1e6)) return failHeader(1, 'states no sampling rate');
  if (signalCount > MOST_CHANNELS) return fail('channels-too-many', `The recording has ${signalCount} channels; ${MOST_CHANNELS} are the most that are read.`, 'Export the pressures and the ECG alone.', { channels: signalCount });
  const head = { record: parts[1]!, framesPerS, frames, startedAt: readStart(parts[6], parts[7]) };
  if (segmentCount !== null) {
    const segments = readSegments(lines, segmentCount);
    return segments.ok ? succeed({ ...head, signals: [], segments: segments.value }) : segments;
  }
  if (lines.length < 1 + signalCount) return failHeader(lines.length + 1, 'is missing');
  const signals: WfdbSignal[] = [];
  for (let i = 0; i < signalCount; i++) {
    const signal = readSignal(lines[1 + i]!, i);
    if (!signal.ok) return signal;
    signals.push(signal.value);
  }
  return succeed({ ...head, signals, segments: null });
}

function listLines(text: string): readonly string[] {
  return text.split(/\r\n|\n|\r/).map((line) => line.trim()).filter((line) => line !== '' && !line.startsWith('#'));
}

function readSegments(lines: readonly string[], count: number): Result<readonly WfdbSegment[], WfdbFailureCode> {
  if (count < 1 || count > MOST_SEGMENTS || lines.length < 1 + count) return failHeader(1, `states ${count} segments, ${lines.length - 1} are listed`);
  const segments: WfdbSegment[] = [];
  for (let i = 1; i <= count; i++) {
    const parts = /^(~|[\w][\w.-]{0,63})\s+(\d{1,12})\s*$/.exec(lines[i]!);
    if (!parts) return failHeader(i + 1, 'names no segment with its length');
    segments.push({ name: parts[1]!, frames: Number(parts[2]) });
  }
  return succeed(segments);
}

function readSignal(line: string, i: number): Result<WfdbSignal, WfdbFailureCode> {
  const words = /^(\S+)\s+(\S+)(?:\s+(\S+)(?:\s+(\S+)(?:\s+(\S+)(?:\s+(\S+)(?:\s+(\S+)(?:\s+(\S+)(?:\s+(.*))?)?)?)?)?)?)?$/.exec(line);
  if (!words) return failHeader(i + 2, 'describes no signal');
  const file = words[1]!;
  // A name with a folder would lead out of the recording's own.
  if (!FILE_WORD.test(file) || file === '..') return failHeader(i + 2, 'names its file in a form that is not read (a plain name is)');
  const format = FORMAT_WORD.exec(words[2]!);
  if (!format) return failHeader(i + 2, 'states no storage format');
  const storage = Number(format[1]) as WfdbStorage;
  if (!WFDB_STORAGES.includes(storage) && !(file === '~' && Number(storage) === 0)) {
    return fail('wfdb-format-unsupported', `Signal ${i + 1} is stored in format ${format[1]}, which is not read.`, `Convert the record to one of the formats ${WFDB_STORAGES.join(', ')}.`, { signal: i + 1, format: Number(format[1]) });
  }
  const samplesPerFrame = format[2] === undefined ? 1 : Number(format[2]);
  if (samplesPerFrame < 1 || samplesPerFrame > MOST_PER_FRAME) return failHeader(i + 2, 'states no samples per frame');
  const gainParts = words[3] === undefined ? null : GAIN_WORD.exec(words[3]);
  if (words[3] !== undefined && !gainParts) return failHeader(i + 2, 'states no gain');
  const gain = Number(gainParts?.[1] ?? 0);
  const numbers = [words[4], words[5], words[6], words[7]].map((word) => (word === undefined ? null : /^[+-]?\d{1,10}$/.test(word) ? Number(word) : NaN));
  if (numbers.some((value) => Number.isNaN(value)) || !(gain >= 0 || gain < 0)) return failHeader(i + 2, 'holds a field that is no whole number');
  const zero = numbers[1] ?? 0;
  return succeed({
    file, storage, samplesPerFrame, skewFrames: Number(format[3] ?? 0), byteOffset: Number(format[4] ?? 0),
    gain: gain === 0 ? DEFAULT_GAIN : gain, isCalibrated: gain !== 0,
    baseline: gainParts?.[2] === undefined ? zero : Number(gainParts[2]), unit: gainParts?.[3] ?? null,
    initial: numbers[2] ?? null, checksum: numbers[3] ?? null, label: cleanWord(words[9] ?? '', 64),
  });
}

/** Base time hh:mm:ss[.f] and base date dd/mm/yyyy; null without both. */
function readStart(time: string | undefined, date: string | undefined): string | null {
  const day = /^(\d{1,2})\/(\d{1,2})\/(\d{4})$/.exec(date ?? '');
  const clock = /^(?:(?:(\d{1,2}):)?(\d{1,2}):)?(\d{1,2}(?:\.\d{1,6})?)$/.exec(time ?? '');
  if (!day || !clock) return null;
  const [d, m, y] = [Number(day[1]), Number(day[2]), Number(day[3])];
  if (m < 1 || m > 12 || d < 1 || d > 31) return null;
  return formatClockTime(countDays(y, m, d) * 86_400 + Number(clock[1] ?? 0) * 3600 + Number(clock[2] ?? 0) * 60 + Number(clock[3]));
}

function failHeader(line: number, what: string) {
  return fail('wfdb-header-broken' as const, `Line ${line} of the header ${what}.`, 'Take the .hea file of the recorder or archive as it was written, beside its signal files.', { line });
}
