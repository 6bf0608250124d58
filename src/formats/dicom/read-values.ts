import dicomParser, { type DataSet } from 'dicom-parser';

/**
 * Single values out of a parsed data set. Every reader answers null for what is absent, empty or malformed, and
 * looks at no more than MAX_TEXT_BYTES, so that a crafted length costs nothing.
 */
const MAX_TEXT_BYTES = 4096;

/** Text with DICOM padding removed; bytes above 127 as Latin-1. null when absent or empty. */
export function readText(values: DataSet, tag: string): string | null {
  const element = values.elements[tag];
  if (element === undefined || element.length === 0 || element.length === 0xffffffff) return null;
  const end = Math.min(
    element.dataOffset + Math.min(element.length, MAX_TEXT_BYTES),
    values.byteArray.length,
  );
  let text = '';
  for (let i = element.dataOffset; i < end; i++) {
    const byte = values.byteArray[i] as number;
    if (byte === 0) break;
    text += String.fromCharCode(byte);
  }
  text = text.trim();
  return text === '' ? null : text;
}

/** The values of a multi-valued text, trimmed; empty when absent. */
export function readTexts(values: DataSet, tag: string): readonly string[] {
  const text = readText(values, tag);
  return text === null ? [] : text.split('\\').map((part) => part.trim());
}

const UID_FORM = /^[0-9]+(\.[0-9]+)*$/;
/** Some writers pad UIDs with blanks or use letters; anything but digits and dots up to 64 is no UID. */
export function readUid(values: DataSet, tag: string): string | null {
  const text = readText(values, tag);
  return text !== null && text.length <= 64 && UID_FORM.test(text) ? text : null;
}

const NUMBER_FORM = /^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/;
/** Decimal or integer strings (DS, IS); null unless every value is a finite number. */
export function readDecimals(values: DataSet, tag: string): readonly number[] | null {
  const parts = readTexts(values, tag);
  if (parts.length === 0) return null;
  const numbers: number[] = [];
  for (const part of parts) {
    if (!NUMBER_FORM.test(part)) return null;
    const value = Number(part);
    if (!Number.isFinite(value)) return null;
    numbers.push(value);
  }
  return numbers;
}

/** The first decimal of a DS or IS. */
export function readDecimal(values: DataSet, tag: string): number | null {
  const first = readTexts(values, tag)[0];
  if (first === undefined || !NUMBER_FORM.test(first)) return null;
  const value = Number(first);
  return Number.isFinite(value) ? value : null;
}

export function readUint16(values: DataSet, tag: string): number | null {
  return isWide(values, tag, 2) ? (values.uint16(tag) ?? null) : null;
}
export function readUint32(values: DataSet, tag: string): number | null {
  return isWide(values, tag, 4) ? (values.uint32(tag) ?? null) : null;
}
export function readDouble(values: DataSet, tag: string): number | null {
  if (!isWide(values, tag, 8)) return null;
  const value = values.double(tag);
  return value !== undefined && Number.isFinite(value) ? value : null;
}
function isWide(values: DataSet, tag: string, bytes: number): boolean {
  const element = values.elements[tag];
  return (
    element !== undefined && element.length >= bytes && element.dataOffset + bytes <= values.byteArray.length
  );
}

/** Items of a sequence; empty when absent. UN of known length is tried as implicit little endian (PS3.5 6.2.2). */
export function readItems(values: DataSet, tag: string): readonly DataSet[] {
  const element = values.elements[tag];
  if (element === undefined) return [];
  if (
    element.items === undefined &&
    element.vr === 'UN' &&
    element.length > 0 &&
    element.length !== 0xffffffff
  ) {
    try {
      const end = element.dataOffset + element.length;
      const bytes = (values.byteArray as Uint8Array).subarray(0, end);
      const stream = new dicomParser.ByteStream(
        dicomParser.littleEndianByteArrayParser,
        bytes,
        element.dataOffset,
      );
      dicomParser.readSequenceItemsImplicit(stream, element);
    } catch {
      element.items = []; // not a sequence after all: nothing of it is used
    }
  }
  return (element.items ?? []).flatMap((item) => (item.dataSet === undefined ? [] : [item.dataSet]));
}
/** The first item of a sequence; null when absent or empty. */
export function readItem(values: DataSet, tag: string): DataSet | null {
  return readItems(values, tag)[0] ?? null;
}

/** Specific Character Set terms (PS3.3 C.12.1.1.2) to labels of the Encoding Standard. */
const CHARSET_LABELS: Readonly<Record<string, string>> = {
  'ISO_IR 100': 'iso-8859-1',
  'ISO_IR 101': 'iso-8859-2',
  'ISO_IR 109': 'iso-8859-3',
  'ISO_IR 110': 'iso-8859-4',
  'ISO_IR 144': 'iso-8859-5',
  'ISO_IR 127': 'iso-8859-6',
  'ISO_IR 126': 'iso-8859-7',
  'ISO_IR 138': 'iso-8859-8',
  'ISO_IR 148': 'windows-1254',
  'ISO_IR 203': 'iso-8859-15',
  'ISO_IR 13': 'shift_jis',
  'ISO_IR 166': 'windows-874',
  'ISO_IR 192': 'utf-8',
  GB18030: 'gb18030',
  GBK: 'gbk',
  'ISO 2022 IR 87': 'iso-2022-jp',
  'ISO 2022 IR 149': 'euc-kr',
  'ISO 2022 IR 58': 'gb2312',
  'ISO 2022 IR 13': 'shift_jis',
  'ISO 2022 IR 100': 'iso-8859-1',
  'ISO 2022 IR 101': 'iso-8859-2',
};

/** Free text in the data set's own character set, with control characters removed. */
export function readLocalText(values: DataSet, tag: string): string | null {
  const raw = readText(values, tag);
  if (raw === null) return null;
  const terms = readTexts(values, 'x00080005');
  const label = terms.flatMap((term) => CHARSET_LABELS[term] ?? []).at(-1);
  let text = raw;
  if (label !== undefined && /[\u001b\u0080-\u00ff]/.test(raw)) {
    try {
      text = new TextDecoder(label).decode(Uint8Array.from(raw, (char) => char.charCodeAt(0)));
    } catch {
      text = raw; // an engine without that table: Latin-1 letters are better than none
    }
  }
  // eslint-disable-next-line no-control-regex
  const clean = text.replace(/[\u0000-\u001f\u007f-\u009f]+/g, ' ').trim();
  return clean === '' ? null : clean;
}
