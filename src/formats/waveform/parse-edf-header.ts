import { fail, succeed, type Result } from '../../core/result.ts';
import { countDays, formatClockTime } from './read-clock-time.ts';
import { MOST_CHANNELS, type EdfFailureCode } from './waveform-types.ts';

export interface EdfSignal {
  readonly label: string;
  readonly unit: string | null;
  readonly samplesPerRecord: number;
  readonly digitalMin: number;
  readonly digitalMax: number;
  /** value = stored x scale + offset. */
  readonly scale: number;
  readonly offset: number;
  /** EDF+ annotations: bytes, no samples. */
  readonly isAnnotations: boolean;
  /** Byte of its first sample in a data record. */
  readonly byteInRecord: number;
}

export interface EdfHeader {
  readonly headerBytes: number;
  /** null: not known, as while recording. */
  readonly records: number | null;
  readonly recordS: number;
  readonly recordBytes: number;
  readonly signals: readonly EdfSignal[];
  readonly kind: 'EDF' | 'EDF+C' | 'EDF+D';
  readonly startedAt: string | null;
  /** Words of the patient field, to keep them out of annotations. Never print, log or store. */
  readonly patientWords: readonly string[];
}

const HEAD_BYTES = 256;
const NUMBER = /^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/;
const MONTHS = ['JAN', 'FEB', 'MAR', 'APR', 'MAY', 'JUN', 'JUL', 'AUG', 'SEP', 'OCT', 'NOV', 'DEC'];
const MOST_SAMPLES_PER_RECORD = 30_720_000;

/** Version field of EDF ("0" and blanks), or of its 24-bit relative (a byte 255 and a word). */
export function looksLikeEdf(bytes: Uint8Array): boolean {
  if (bytes.length < 8) return false;
  if (bytes[0] === 0xff && String.fromCharCode(...bytes.subarray(1, 8)) === 'BIOSEMI') return true;
  return bytes[0] === 48 && bytes.subarray(1, 8).every((byte) => byte === 32);
}

/**
 * Header of an EDF or EDF+ file. Patient and recording fields are not handed on.
 * Equation  scale = (physical max - min) / (digital max - min)
 * Fails     edf-header-broken (names the field), edf-scale-invalid (names the signal), edf-24-bit, channels-too-many
 * Source    Kemp B et al., "A simple format for exchange of digitized polygraphic recordings", Electroencephalogr Clin Neurophysiol
 *           1992;82:391-393; Kemp B, Olivan J, "European data format 'plus'", Clin Neurophysiol 2003;114:1755-1761 [M]
 */
export function parseEdfHeader(bytes: Uint8Array): Result<EdfHeader, EdfFailureCode | 'channels-too-many'> {
  if (bytes[0] === 0xff) return fail('edf-24-bit', 'The file is of the 24-bit relative of EDF, which is not read.', 'Export it as EDF or EDF+.');
  if (bytes.length < HEAD_BYTES) return failField('head', 'is cut off');
  const text = (from: number, length: number): string => readAscii(bytes, from, length);
  const number = (from: number, length: number): number => (NUMBER.test(text(from, length)) ? Number(text(from, length)) : NaN);
  const [headerBytes, records, recordS, count] = [number(184, 8), number(236, 8), number(244, 8), number(252, 4)];
  if (!Number.isInteger(count) || count < 1) return failField('number of signals', 'is no count');
  if (count > MOST_CHANNELS) return fail('channels-too-many', `The recording has ${count} channels; ${MOST_CHANNELS} are the most that are read.`, 'Export the pressures and the ECG alone.', { channels: count });
  if (headerBytes !== HEAD_BYTES * (count + 1)) return failField('number of bytes in the header', `is not ${HEAD_BYTES * (count + 1)}`);
  if (bytes.length < headerBytes) return failField('head', 'is cut off');
  if (!Number.isInteger(records) || records < -1) return failField('number of data records', 'is no count');
  if (!(recordS >= 0 && recordS <= 86_400)) return failField('duration of a data record', 'is no time');
  const reserved = text(192, 44);
  const kind = reserved.startsWith('EDF+C') ? 'EDF+C' : reserved.startsWith('EDF+D') ? 'EDF+D' : 'EDF';
  const signals: EdfSignal[] = [];
  let [byteInRecord, samplesInRecord] = [0, 0];
  for (let i = 0; i < count; i++) {
    const field = (from: number, length: number): [number, number] => [HEAD_BYTES + from * count + i * length, length];
    const label = text(...field(0, 16));
    const isAnnotations = kind !== 'EDF' && label === 'EDF Annotations';
    const [physicalMin, physicalMax, digitalMin, digitalMax, samplesPerRecord] = [number(...field(104, 8)), number(...field(112, 8)), number(...field(120, 8)), number(...field(128, 8)), number(...field(216, 8))];
    if (!Number.isInteger(samplesPerRecord) || samplesPerRecord < 1 || samplesPerRecord > MOST_SAMPLES_PER_RECORD) return failField(`samples per data record of signal ${i + 1}`, 'are no count');
    const scale = (physicalMax - physicalMin) / (digitalMax - digitalMin);
    if (!isAnnotations && !(Number.isFinite(scale) && scale !== 0 && digitalMax > digitalMin)) {
      return fail('edf-scale-invalid', `The ranges of signal ${i + 1} give no scale: its digital or physical minimum and maximum are equal, turned round or no numbers.`,
        'Export the recording again; a pressure without its scale cannot be read.', { signal: i + 1 });
    }
    signals.push({
      label, unit: text(...field(96, 8)) || null, samplesPerRecord, digitalMin, digitalMax,
      scale: isAnnotations ? 1 : scale, offset: isAnnotations ? 0 : physicalMin - digitalMin * scale, isAnnotations, byteInRecord,
    });
    byteInRecord += 2 * samplesPerRecord;
    samplesInRecord += samplesPerRecord;
  }
  if (recordS === 0 && signals.some(({ isAnnotations }) => !isAnnotations)) return failField('duration of a data record', 'is 0 in a file with signals');
  if (samplesInRecord > MOST_SAMPLES_PER_RECORD) return failField('samples per data record', 'are more than EDF allows');
  return succeed({
    headerBytes, records: records === -1 ? null : records, recordS, recordBytes: byteInRecord, signals, kind,
    startedAt: readStart(text(168, 8), text(176, 8), kind === 'EDF' ? '' : text(88, 80)),
    patientWords: text(8, 80).split(/[\s_,]+/).filter((word) => word.length >= 3).map((word) => word.toLowerCase()),
  });
}

/** dd.mm.yy and hh.mm.ss; the four-digit year of EDF+ wins. Two digits: 85 and above is 19.., below 20... */
function readStart(date: string, time: string, recording: string): string | null {
  const clock = /^(\d\d)[.:](\d\d)[.:](\d\d)$/.exec(time);
  const long = /^Startdate (\d\d)-([A-Za-z]{3})-(\d{4})\b/.exec(recording);
  const short = /^(\d\d)[./-](\d\d)[./-](\d\d)$/.exec(date);
  if (!clock) return null;
  const day = Number(long?.[1] ?? short?.[1] ?? 0);
  const month = long ? MONTHS.indexOf(long[2]!.toUpperCase()) + 1 : Number(short?.[2] ?? 0);
  const year = long ? Number(long[3]) : short ? Number(short[3]) + (Number(short[3]) >= 85 ? 1900 : 2000) : 0;
  const [h, m, s] = [Number(clock[1]), Number(clock[2]), Number(clock[3])];
  if (day < 1 || day > 31 || month < 1 || month > 12 || h > 23 || m > 59 || s > 59) return null;
  return formatClockTime(countDays(year, month, day) * 86_400 + h * 3600 + m * 60 + s);
}

/** Text of a field without its filling; bytes as Latin-1. */
function readAscii(bytes: Uint8Array, from: number, length: number): string {
  let text = '';
  for (let i = from; i < Math.min(from + length, bytes.length) && bytes[i] !== 0; i++) text += String.fromCharCode(bytes[i]!);
  return text.trim();
}

function failField(field: string, what: string) {
  return fail('edf-header-broken' as const, `The ${field} of the EDF header ${what}.`, 'Export the recording again from the recorder.', { field });
}
