import type { DataSet } from 'dicom-parser';
import { fail, succeed, type Result } from '../../core/result.ts';
import { readDecimal, readDouble, readItem, readItems, readLocalText, readText } from '../dicom/read-values.ts';
import { cleanWord } from '../waveform/read-unit.ts';
import { toSnomedNumber } from './snomed-codes.ts';
import type { SrCode, SrNode } from './sr-types.ts';

/** Content Sequence; the others lie inside it. */
export const CONTENT_SEQUENCE = 0x0040a730;
export const CONCEPT_SEQUENCES: ReadonlySet<number> = new Set([CONTENT_SEQUENCE, 0x0040a043, 0x0040a504]);

const MOST_DEPTH = 32;
const MOST_ITEMS = 20_000;
const LONGEST_CODE = 64;
const LONGEST_MEANING = 80;
const PUBLIC_SCHEMES: ReadonlySet<string> = new Set(['SCT', 'SRT', 'LN', 'DCM', 'UCUM', 'UMLS', 'FMA']);
const SNOMED_NAMES: ReadonlySet<string> = new Set(['SCT', 'SRT', 'SNM3', '99SDM', 'SNOMED-CT']);

/**
 * The content tree of a structured report. Items by reference are not followed, so that no tree has a cycle; text and names are not
 * kept.
 *
 * Fails   report-too-large: deeper than 32 or more than 20,000 items
 * Source  PS3.3 C.17.3, C.18; docs/methods/echo.md
 */
export function readSrTree(root: DataSet): Result<SrNode, 'report-too-large'> {
  let left = MOST_ITEMS;
  const visit = (item: DataSet, depth: number): SrNode | null => {
    if (depth > MOST_DEPTH || --left < 0) return null;
    const children: SrNode[] = [];
    for (const child of readItems(item, 'x0040a730')) {
      const node = visit(child, depth + 1);
      if (node === null) return null;
      children.push(node);
    }
    return readNode(item, children);
  };
  const tree = visit(root, 0);
  return tree === null
    ? fail('report-too-large', `The report is deeper than ${MOST_DEPTH} or longer than ${MOST_ITEMS} items.`, 'Export the report again from its source.', { mostDepth: MOST_DEPTH, mostItems: MOST_ITEMS })
    : succeed(tree);
}

function readNode(item: DataSet, children: readonly SrNode[]): SrNode {
  const type = readText(item, 'x0040a040')?.toUpperCase() ?? '';
  const relation = cleanWord(readText(item, 'x0040a010')?.toUpperCase() ?? '', 24);
  const concept = readCode(readItem(item, 'x0040a043'));
  const bare = { relation, concept, value: null, unit: null, code: null, children } as const;
  if (type === 'CONTAINER') return { ...bare, kind: 'container' };
  if (type === 'CODE') return { ...bare, kind: 'code', code: readCode(readItem(item, 'x0040a168')) };
  if (type !== 'NUM') return { ...bare, kind: 'other' };
  const measured = readItem(item, 'x0040a300');
  if (measured === null) return { ...bare, kind: 'number' };
  // The floating value is the exact one where both are there (PS3.3 C.18.1); the decimal string is what was shown.
  const value = readDouble(measured, 'x0040a161') ?? readDecimal(measured, 'x0040a30a');
  return { ...bare, kind: 'number', value, unit: readCode(readItem(measured, 'x004008ea')) };
}

/** A code item; the long and the URN form too. null: absent or without a value. */
export function readCode(item: DataSet | null): SrCode | null {
  if (item === null) return null;
  const value = readText(item, 'x00080100') ?? readText(item, 'x00080119') ?? readText(item, 'x00080120');
  if (value === null) return null;
  const stated = cleanWord(readText(item, 'x00080102') ?? '', 16).toUpperCase();
  const isSnomed = SNOMED_NAMES.has(stated);
  const word = cleanWord(value, LONGEST_CODE);
  const meaning = PUBLIC_SCHEMES.has(stated) ? readLocalText(item, 'x00080104') : null;
  return { value: isSnomed ? toSnomedNumber(word) : word, scheme: isSnomed ? 'SCT' : stated, meaning: meaning === null ? null : cleanWord(meaning, LONGEST_MEANING) };
}

export const keyOf = (code: SrCode | null): string => (code === null ? '' : `${code.scheme} ${code.value}`);
