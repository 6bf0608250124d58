/** How the rows of a CSV file are cut and its numbers written. */
export interface CsvForm {
  /** Byte between cells: comma, semicolon or tab. */
  readonly separator: number;
  /** 3,5 is three and a half. */
  readonly hasDecimalComma: boolean;
}

export const [COMMA, SEMICOLON, TAB, QUOTE, DOT, NEWLINE, RETURN, SPACE] = [44, 59, 9, 34, 46, 10, 13, 32] as const;
/** Begins a line that is a remark. */
export const HASH = 35;
const EITHER = -1;
const POWERS = Array.from({ length: 23 }, (_, i) => 10 ** i);
/** Whole numbers below this are exact, and so is one division by a power of ten up to 22 (correct rounding). */
const EXACT = 2 ** 53;

/** First byte after the line that starts at `from`; the line itself ends at `findLineEnd`. */
export function findLineEnd(bytes: Uint8Array, from: number): number {
  let at = from;
  while (at < bytes.length && bytes[at] !== NEWLINE && bytes[at] !== RETURN) at++;
  return at;
}
export function skipLineEnd(bytes: Uint8Array, at: number): number {
  if (bytes[at] === RETURN && bytes[at + 1] === NEWLINE) return at + 2;
  return at < bytes.length ? at + 1 : at;
}

/** Texts of the cells of one line, without quotes and blanks around. */
export function readCells(bytes: Uint8Array, from: number, to: number, separator: number): string[] {
  const cells: string[] = [];
  let [text, isQuoted] = ['', false];
  const line = new TextDecoder('utf-8').decode(bytes.subarray(from, to));
  for (let i = 0; i < line.length; i++) {
    const code = line.charCodeAt(i);
    if (code === QUOTE) {
      if (isQuoted && line.charCodeAt(i + 1) === QUOTE) text += line[i++];
      else isQuoted = !isQuoted;
    } else if (code === separator && !isQuoted) {
      cells.push(text.trim());
      text = '';
    } else text += line[i];
  }
  cells.push(text.trim());
  return cells;
}

/**
 * Numbers of one line into `out`, as far as it is long; NaN for an empty cell and for what is no number.
 * Gives the number of cells in the line, and counts in `bad` what is neither empty nor a number nor a word for none.
 */
export function readNumbers(bytes: Uint8Array, from: number, to: number, form: CsvForm, out: Float64Array, bad: Uint32Array | null): number {
  let cell = 0;
  let at = from;
  for (;;) {
    let end = at;
    let isQuoted = false;
    while (end < to && (isQuoted || bytes[end] !== form.separator)) {
      if (bytes[end] === QUOTE) isQuoted = !isQuoted;
      end++;
    }
    if (cell < out.length) {
      const value = readNumber(bytes, at, end, form.hasDecimalComma);
      out[cell] = value;
      if (bad !== null && value !== value && !isBlankWord(bytes, at, end)) bad[cell]!++;
    }
    cell++;
    if (end >= to) return cell;
    at = end + 1;
  }
}

/** One number; quotes and blanks around it are passed over. In quotes a comma is a decimal comma under any separator. */
export function readNumber(bytes: Uint8Array, from: number, to: number, hasDecimalComma: boolean): number {
  // Called for every cell of a recording: plain variables, nothing allocated.
  let at = from;
  let end = to;
  let decimal: number = hasDecimalComma ? COMMA : DOT;
  while (at < end && isEdge(bytes[at])) {
    if (bytes[at++] === QUOTE) decimal = EITHER;
  }
  while (end > at && isEdge(bytes[end - 1])) end--;
  const isNegative = bytes[at] === 45;
  if (isNegative || bytes[at] === 43) at++;
  if (at >= end) return NaN;
  let whole = 0;
  let digits = 0;
  let fraction = 0;
  let isFraction = false;
  for (; at < end; at++) {
    const byte = bytes[at]!;
    if (byte >= 48 && byte <= 57) {
      whole = whole * 10 + (byte - 48);
      digits++;
      if (isFraction) fraction++;
    } else if (!isFraction && (byte === decimal || (decimal === EITHER && (byte === COMMA || byte === DOT)))) isFraction = true;
    else break;
  }
  if (digits === 0) return NaN;
  let exponent = 0;
  if (at < end) {
    if (bytes[at] !== 69 && bytes[at] !== 101) return NaN;
    const sign = bytes[at + 1] === 45 ? -1 : 1;
    at += bytes[at + 1] === 45 || bytes[at + 1] === 43 ? 2 : 1;
    if (at >= end || end - at > 3) return NaN;
    for (; at < end; at++) {
      const byte = bytes[at]!;
      if (byte < 48 || byte > 57) return NaN;
      exponent = exponent * 10 + (byte - 48);
    }
    exponent *= sign;
  }
  exponent -= fraction;
  // Long numbers lose their last digits, which no recorder measures.
  const scale = whole < EXACT && Math.abs(exponent) <= 22 ? POWERS[Math.abs(exponent)]! : 10 ** Math.abs(exponent);
  const value = exponent < 0 ? whole / scale : whole * scale;
  if (!Number.isFinite(value)) return NaN;
  return isNegative ? -value : value;
}

const isEdge = (byte: number | undefined): boolean => byte === SPACE || byte === QUOTE || byte === TAB;

/** Empty, a dash, NaN, NA, null, none: written where there is no value. */
export function isBlankWord(bytes: Uint8Array, from: number, to: number): boolean {
  if (to - from > 12) return false;
  let text = '';
  for (let i = from; i < to; i++) text += String.fromCharCode(bytes[i]!);
  return /^["\s]*(|-+|nan|na|n\/a|null|none|#n\/a|\?)["\s]*$/i.test(text);
}
