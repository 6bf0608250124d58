import { fail, succeed, type Result } from '../../core/result.ts';
import { COMMA, findLineEnd, readCells, readNumber, SEMICOLON, skipLineEnd, TAB, type CsvForm } from './csv-cells.ts';
import { readUnit } from './read-unit.ts';
import { MOST_CHANNELS, type CsvFailureCode } from './waveform-types.ts';

export interface CsvHead {
  readonly form: CsvForm;
  readonly columns: number;
  readonly timeColumn: number;
  /** Seconds in one of the time column; null: clock times (hh:mm:ss) or dates. */
  readonly timeScaleS: number | null;
  readonly signals: readonly { readonly column: number; readonly label: string; readonly unit: string | null }[];
  /** First byte of the first row of numbers. */
  readonly bodyStart: number;
}

/** Lines before the header that are looked through. */
const MOST_HEAD_LINES = 200;
const LONGEST_LINE = 1 << 16;
const TIME_WORD = /^(t|time|times|timestamp|elapsed( time)?|zeit|zeitpunkt|sec|secs|second|seconds|sekunden|temps|tiempo|tempo|x time)$/;
const TIME_UNITS: Readonly<Record<string, number>> = {
  s: 1, sec: 1, secs: 1, second: 1, seconds: 1, sekunden: 1, ms: 1e-3, msec: 1e-3, millisecond: 1e-3, milliseconds: 1e-3,
  us: 1e-6, 'µs': 1e-6, 'μs': 1e-6, microseconds: 1e-6, min: 60, minutes: 60, h: 3600, hours: 3600,
};

/**
 * The header of a CSV file: how cells are parted, the time column, the signals with their units.
 * Units are taken from the name ("AO (mmHg)", "AO [kPa]", "AO_mmHg") or from a second line that holds only units.
 * Fails     csv-empty, csv-header-missing, csv-separator-unclear, time-column-missing; null: the header's lines are not whole yet
 */
export function readCsvHead(bytes: Uint8Array, isWhole: boolean): Result<CsvHead, CsvFailureCode | 'channels-too-many'> | null {
  const lines = listLines(bytes, isWhole);
  const first = lines.findIndex(({ text }) => text.trim() !== '' && !/^\s*(#|\/\/|;\s*[A-Za-z].*[^;]$|sep=)/i.test(text));
  if (first < 0) return isWhole || lines.length >= MOST_HEAD_LINES ? fail('csv-empty', 'The file holds no header and no rows.', 'Export the recording again, with a header and a time column.') : null;
  const head = lines[first]!;
  // The unit line and the first row of numbers are needed to know the decimal sign.
  const rows = lines.slice(first + 1).filter(({ text }) => text.trim() !== '');
  if (rows.length < 2 && !isWhole) return null;
  const separator = findSeparator(head.text, rows.map(({ text }) => text));
  if (separator === null) {
    return fail('csv-separator-unclear', 'This is no recording that can be read: as a table its header and rows are not parted alike by commas, semicolons or tabs.',
      'Part the cells by semicolons or tabs where numbers have a decimal comma.');
  }
  const names = readCells(bytes, head.from, head.to, separator).map(stripQuote);
  if (names.length > MOST_CHANNELS + 1) return fail('channels-too-many', `The file has ${names.length} columns; ${MOST_CHANNELS + 1} are the most that are read.`, 'Export the pressures and the ECG alone.', { columns: names.length });
  if (names.every((name) => isNumberText(name))) {
    return fail('csv-header-missing', 'The first line holds numbers and no names.', 'Write a first line that names the time column and every signal with its unit, as in: time (s),AO (mmHg),LV (mmHg).');
  }
  const unitLine = rows[0] === undefined ? null : readUnitLine(readCells(bytes, rows[0].from, rows[0].to, separator).map(stripQuote), names.length);
  const parsed = names.map((name, i) => {
    const own = splitName(name);
    return { ...own, unit: own.unit ?? (unitLine?.[i] || null) };
  });
  const time = findTimeColumn(parsed);
  const body = unitLine === null ? rows[0] : rows[1];
  if (time === null || parsed.length < 2) {
    return fail('time-column-missing', 'No column of the header is the time.', 'Name it "time (s)" or "time (ms)"; without times gaps cannot be told.', { columns: names.length });
  }
  const decimalText = rows.slice(unitLine === null ? 0 : 1).map(({ text }) => text).join('\n');
  const form: CsvForm = { separator, hasDecimalComma: separator !== COMMA && /\d,\d/.test(decimalText) && !/\d\.\d/.test(decimalText) };
  const firstTime = body === undefined ? '' : (readCells(bytes, body.from, body.to, separator)[time.column] ?? '');
  const timeScaleS = /\d\s*[:T]\s*\d/.test(firstTime) ? null : time.scaleS;
  return succeed({
    form, columns: names.length, timeColumn: time.column, timeScaleS,
    signals: parsed.flatMap((each, column) => (column === time.column ? [] : [{ column, label: each.label, unit: each.unit }])),
    bodyStart: body?.from ?? bytes.length,
  });
}

interface Line {
  readonly text: string;
  readonly from: number;
  readonly to: number;
}

function listLines(bytes: Uint8Array, isWhole: boolean): readonly Line[] {
  const lines: Line[] = [];
  let from = bytes[0] === 0xef && bytes[1] === 0xbb && bytes[2] === 0xbf ? 3 : 0;
  while (from < bytes.length && lines.length < MOST_HEAD_LINES) {
    const to = findLineEnd(bytes, from);
    if (to >= bytes.length && !isWhole) break;
    lines.push({ text: new TextDecoder('utf-8').decode(bytes.subarray(from, Math.min(to, from + LONGEST_LINE))), from, to: Math.min(to, from + LONGEST_LINE) });
    from = skipLineEnd(bytes, to);
  }
  return lines;
}

/** The one that parts the header and the first rows into the same number of cells, two at least. */
function findSeparator(header: string, rows: readonly string[]): number | null {
  const count = (text: string, separator: number): number => readCells(new TextEncoder().encode(text), 0, text.length * 3, separator).length;
  const sample = rows.slice(0, 8);
  const fit = [TAB, SEMICOLON, COMMA].find((separator) => {
    const cells = count(header, separator);
    return cells >= 2 && sample.every((row) => count(row, separator) === cells);
  });
  if (fit !== undefined) return fit;
  // A damaged row is for the reader of the rows to name; the header alone decides, unless commas part numbers and digits alike.
  const byHeader = [TAB, SEMICOLON, COMMA].find((separator) => count(header, separator) >= 2);
  if (byHeader === undefined) return null;
  const cells = count(header, byHeader);
  return sample.some((row) => count(row, byHeader) === cells) ? byHeader : null;
}

/** "AO (mmHg)", "AO [mmHg]", "AO / mmHg", "AO_mmHg", "t_ms": name and unit. */
function splitName(name: string): { readonly label: string; readonly unit: string | null } {
  const bracketed = /^(.*?)\s*[[({]\s*([^\])}]*(?:\[[^\]]*\])?)\s*[\])}]\s*$/.exec(name);
  if (bracketed) return { label: bracketed[1]!.trim() || bracketed[2]!, unit: bracketed[2]!.trim() || null };
  const tailed = /^(.+?)(?:\s*\/\s*|[_\s]+)([A-Za-zµμ[\]0-9]+)$/.exec(name);
  if (tailed) {
    const isUnit = (readUnit(tailed[2]!)?.quantity ?? 'other') !== 'other' && !/^v$/i.test(tailed[2]!);
    if (isUnit || (Object.hasOwn(TIME_UNITS, tailed[2]!) && isTimeName(tailed[1]!))) return { label: tailed[1]!.trim(), unit: tailed[2]! };
  }
  return { label: name, unit: null };
}

const isTimeName = (name: string): boolean => TIME_WORD.test(name.toLowerCase().replace(/[_\s]+/g, ' ').trim());

function findTimeColumn(columns: readonly { readonly label: string; readonly unit: string | null }[]): { readonly column: number; readonly scaleS: number } | null {
  const scaleOf = (unit: string | null): number | null => {
    const key = (unit ?? '').toLowerCase().trim();
    return Object.hasOwn(TIME_UNITS, key) ? TIME_UNITS[key]! : null;
  };
  const named = columns.findIndex(({ label }) => isTimeName(label));
  if (named >= 0) {
    const { label, unit } = columns[named]!;
    const isMs = /^(ms|msec)$/i.test(label);
    return { column: named, scaleS: scaleOf(unit) ?? (isMs ? 1e-3 : 1) };
  }
  const byUnit = columns.findIndex(({ label, unit }) => scaleOf(unit) !== null || Object.hasOwn(TIME_UNITS, label.toLowerCase()));
  if (byUnit < 0) return null;
  return { column: byUnit, scaleS: scaleOf(columns[byUnit]!.unit) ?? scaleOf(columns[byUnit]!.label) ?? 1 };
}

/** A second line that holds units and no number; null: it is no such line. */
function readUnitLine(cells: readonly string[], columns: number): readonly string[] | null {
  if (cells.length !== columns || cells.some((cell) => /\d/.test(cell) && !/h[2₂]?[0o]/i.test(cell))) return null;
  const known = cells.filter((cell) => (readUnit(cell)?.quantity ?? 'other') !== 'other' || Object.hasOwn(TIME_UNITS, cell.replace(/^[[(]|[\])]$/g, '').toLowerCase()));
  return known.length > 0 ? cells.map((cell) => cell.replace(/^[[(](.*)[\])]$/, '$1').trim()) : null;
}

function isNumberText(text: string): boolean {
  const bytes = new TextEncoder().encode(text);
  return Number.isFinite(readNumber(bytes, 0, bytes.length, false)) || Number.isFinite(readNumber(bytes, 0, bytes.length, true));
}

/** Some writers put names in single quotes. */
const stripQuote = (text: string): string => text.replace(/^'(.*)'$/, '$1').trim();
