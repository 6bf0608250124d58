import type { PatientIdentity } from '../../core/case/compare-identity.ts';
import { checkEntryKind } from '../../core/case/entry-kinds.ts';
import { READING_ERRORS } from '../../core/echo/echo-errors.ts';
import { ECHO_FIELDS, type EchoEntries, type EchoNumberCode } from '../../core/echo/echo-fields.ts';
import { nameField } from '../../core/echo/read-entries.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { ECHO_REPORT_EN } from '../../core/text/echo-report-en.ts';
import type { Reason } from '../../core/units/fact.ts';
import { showNumber } from '../../core/verdict/make-reason.ts';
import { parsePart10 } from '../dicom/parse-part10.ts';
import { readIdentity } from '../dicom/read-identity.ts';
import { readItem, readText, readUid } from '../dicom/read-values.ts';
import { cleanWord } from '../waveform/read-unit.ts';
import { convertUcum } from './convert-ucum.ts';
import { findConcept, FLOWS, MEANS, MODIFIERS, PLAIN_DERIVATIONS, SELECTIONS, SITES, type FlowWord, type SiteWord } from './echo-concepts.ts';
import { CONCEPT_SEQUENCES, keyOf, readSrTree } from './read-sr-tree.ts';
import type { EchoReport, EchoReportFailureCode, ReportChoice, ReportValue, SrCode, SrNode, UnreadItem, UnreadWhy } from './sr-types.ts';

/** Basic, Enhanced, Comprehensive, Comprehensive 3D and Extensible SR; Simplified Adult Echo SR (checks DX-05). */
const REPORTS: ReadonlySet<string> = new Set([
  '1.2.840.10008.5.1.4.1.1.88.11', '1.2.840.10008.5.1.4.1.1.88.22', '1.2.840.10008.5.1.4.1.1.88.33', '1.2.840.10008.5.1.4.1.1.88.34', '1.2.840.10008.5.1.4.1.1.88.35', '1.2.840.10008.5.1.4.1.1.88.72',
]);
const MOST_UNREAD = 500;

/** Modifiers that hold for an item: its own, else those of what holds it. */
interface Setting {
  readonly site: SrCode | null;
  readonly flow: FlowWord;
  readonly methods: readonly string[];
  readonly selection: string | null;
  readonly derivation: string | null;
}
const NO_SETTING: Setting = { site: null, flow: 'not said', methods: [], selection: null, derivation: null };
interface Candidate {
  readonly field: EchoNumberCode;
  readonly value: number;
  readonly stated: { readonly value: number; readonly unit: string };
  readonly concept: SrCode;
  readonly selection: string | null;
  readonly isMean: boolean;
}

/**
 * The echo measurements of a DICOM structured report (TID 5200 family, TID 5300 codes; any tree that holds them), in the units of
 * ECHO_FIELDS. Of several values of one field the report's own choice is taken, else its mean, else the median, and the spread is
 * named. What is not taken is listed by its code.
 *
 * Units    of ECHO_FIELDS out, by UCUM
 * Fails    EchoReportFailureCode
 * Source   PS3.3 C.17.3, C.18; PS3.16 TID 300, 310, 5200 to 5203, 5300; docs/methods/echo.md
 */
export function parseEchoReport(bytes: Uint8Array): Result<EchoReport, EchoReportFailureCode> {
  const dataset = parsePart10(bytes, { sequences: CONCEPT_SEQUENCES });
  if (!dataset.ok) return dataset;
  const { values } = dataset.value;
  const sopClassUid = readUid(values, 'x00080016');
  if (sopClassUid === null || !REPORTS.has(sopClassUid)) return fail('not-a-report', 'This DICOM object is no structured report.', 'Choose the report of the echo, not its pictures.');
  const tree = readSrTree(values);
  if (!tree.ok) return tree;
  const candidates: Candidate[] = [];
  const unread: UnreadItem[] = [];
  let numbers = 0;
  const visit = (node: SrNode, outer: Setting): void => {
    const setting = readSetting(node, outer);
    if (node.kind === 'number') {
      numbers++;
      const read = readNumber(node, setting);
      if ('why' in read) unread.push(read);
      else candidates.push(read);
    }
    // What a number holds are its modifiers and what it was inferred from: another measurement there is one of its own.
    const inner = { ...setting, selection: null, derivation: null };
    for (const child of node.children) visit(child, inner);
  };
  visit(tree.value, NO_SETTING);
  if (numbers === 0) return fail('report-empty', 'The report holds no measurement.', 'Choose the report with the measurements, or enter them by hand.');
  const fields = [...new Set(candidates.map((c) => c.field))];
  const findings: Reason[] = [];
  const read = fields.map((field) => chooseValue(candidates.filter((c) => c.field === field), findings));
  const isComplete = readFlag(readText(values, 'x0040a491'), 'COMPLETE', 'PARTIAL');
  const isVerified = readFlag(readText(values, 'x0040a493'), 'VERIFIED', 'UNVERIFIED');
  if (isComplete === false) findings.push({ code: 'report-partial', text: ECHO_REPORT_EN['report-partial'], next: ECHO_REPORT_EN['report-partial-next'] });
  if (isVerified !== true) findings.push({ code: 'report-unverified', text: ECHO_REPORT_EN['report-unverified'], next: ECHO_REPORT_EN['report-unverified-next'] });
  findings.push(...describeUnread(unread));
  return succeed({
    format: 'trinadir.echo-report/1', sopClassUid, sopInstanceUid: readUid(values, 'x00080018'), studyUid: readUid(values, 'x0020000d'), seriesUid: readUid(values, 'x0020000e'),
    title: tree.value.concept, template: readTemplate(readText(readItem(values, 'x0040a504') ?? values, 'x0040db00')), isComplete, isVerified,
    entries: Object.fromEntries(read.map((r) => [r.field, r.value])) as EchoEntries,
    halfWidths: Object.fromEntries(read.flatMap((r) => readHalfWidth(r))) as EchoReport['halfWidths'],
    values: read, unread: unread.slice(0, MOST_UNREAD), unreadMore: Math.max(0, unread.length - MOST_UNREAD), findings,
  });
}

/** Whom the report says it is of, to be compared with the case; never kept or logged. null: no DICOM file. */
export function readEchoReportIdentity(bytes: Uint8Array): PatientIdentity | null {
  const dataset = parsePart10(bytes);
  return dataset.ok ? readIdentity(dataset.value.values) : null;
}

function readSetting(node: SrNode, outer: Setting): Setting {
  const said = (name: string): readonly SrCode[] => node.children.flatMap((c) => (c.kind === 'code' && c.code !== null && keyOf(c.concept) === name ? [c.code] : []));
  const flow = said(MODIFIERS.flow)[0];
  const methods = said(MODIFIERS.method).map(keyOf);
  return {
    site: said(MODIFIERS.site)[0] ?? outer.site,
    flow: flow === undefined ? outer.flow : (FLOWS[keyOf(flow)] ?? 'not said'),
    methods: methods.length > 0 ? methods : outer.methods,
    selection: node.kind === 'number' ? (said(MODIFIERS.selection).map(keyOf)[0] ?? null) : null,
    derivation: node.kind === 'number' ? (said(MODIFIERS.derivation).map(keyOf)[0] ?? null) : null,
  };
}

function readNumber(node: SrNode, setting: Setting): Candidate | UnreadItem {
  const { concept, value, unit } = node;
  const leave = (why: UnreadWhy, field: EchoNumberCode | null = null): UnreadItem => ({ concept, site: setting.site, value, unit: unit?.value ?? null, why, field });
  const site: SiteWord | null = setting.site === null ? null : (SITES[keyOf(setting.site)] ?? 'other');
  const found = findConcept(keyOf(concept), site, setting.flow, setting.methods);
  if ('why' in found) return leave(found.why);
  const { field } = found.concept;
  const isMean = setting.derivation !== null && MEANS.has(setting.derivation);
  if (setting.derivation !== null && !isMean && !PLAIN_DERIVATIONS.has(setting.derivation)) return leave('derived-otherwise', field);
  if (value === null || !Number.isFinite(value)) return leave('value-missing', field);
  if (unit === null) return leave('unit-missing', field);
  const converted = unit.scheme === 'UCUM' || unit.scheme === '' ? convertUcum(value, unit.value, ECHO_FIELDS[field].unit) : null;
  if (converted === null) return leave('unit-contradicts', field);
  // 12 digits: what conversion adds in binary is no part of the number.
  const rounded = Number(converted.toPrecision(12));
  if (checkEntryKind(ECHO_FIELDS[field], rounded) !== null) return leave('out-of-bounds', field);
  return { field, value: rounded, stated: { value, unit: unit.value }, concept: concept!, selection: setting.selection, isMean };
}

function chooseValue(all: readonly Candidate[], findings: Reason[]): ReportValue {
  const selection = SELECTIONS.find((s) => all.some((c) => c.selection === s));
  const chosen = selection === undefined ? all.filter((c) => c.isMean) : all.filter((c) => c.selection === selection);
  const pool = chosen.length > 0 ? chosen : all;
  const sorted = [...pool].sort((a, b) => a.value - b.value);
  const isOne = sorted.every((c) => c.value === sorted[0]!.value);
  const middle = sorted[Math.floor((sorted.length - 1) / 2)]!;
  const value = isOne ? middle.value : (middle.value + sorted[Math.ceil((sorted.length - 1) / 2)]!.value) / 2;
  const choice: ReportChoice = all.length === 1 ? 'the only one' : !isOne || chosen.length === 0 ? 'median of several' : selection !== undefined ? 'chosen in the report' : 'mean in the report';
  const [low, high] = [Math.min(...all.map((c) => c.value)), Math.max(...all.map((c) => c.value))];
  const { field } = middle;
  if (low !== high) {
    const { unit } = ECHO_FIELDS[field];
    const shown = { field: nameField(field), count: all.length, low: showNumber(low), high: showNumber(high), unit, value: showNumber(value), choice };
    findings.push({ code: 'report-several-values', text: formatText(ECHO_REPORT_EN, 'report-several-values', shown), next: ECHO_REPORT_EN['report-several-values-next'] });
  }
  return { field, value, stated: middle.stated, concept: middle.concept, choice, count: all.length, low, high };
}

/** Half the spread where it is more than one reading may be off; a narrow spread of a few values is no proof of a small error. */
function readHalfWidth({ field, value, low, high }: ReportValue): readonly (readonly [EchoNumberCode, number])[] {
  const { share, amount } = READING_ERRORS[field];
  const half = Math.max(high - value, value - low);
  return half > Math.max(share * value, amount) ? [[field, half]] : [];
}

/** One finding for each kind of thing that was left out and would have filled a field, and one count of all others. */
function describeUnread(unread: readonly UnreadItem[]): readonly Reason[] {
  const out: Reason[] = [];
  for (const item of unread) {
    if (item.field === null || out.length >= 20) continue;
    const key = `report-${item.why}` as 'report-unit-contradicts' | 'report-unit-missing' | 'report-value-missing' | 'report-out-of-bounds' | 'report-derived-otherwise';
    out.push({ code: key, text: formatText(ECHO_REPORT_EN, key, { field: nameField(item.field as EchoNumberCode) }), next: ECHO_REPORT_EN[`${key}-next`] });
  }
  const others = unread.filter((i) => i.field === null).length;
  if (others > 0) out.push({ code: 'report-unread', text: formatText(ECHO_REPORT_EN, 'report-unread', { count: others }), next: ECHO_REPORT_EN['report-unread-next'] });
  return out;
}

function readFlag(text: string | null, yes: string, no: string): boolean | null {
  const word = text?.toUpperCase();
  return word === yes ? true : word === no ? false : null;
}
const readTemplate = (text: string | null): string | null => (text !== null && /^[0-9A-Za-z]{1,16}$/.test(text) ? cleanWord(text, 16) : null);
