import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { checkEntryKind } from '../../core/case/entry-kinds.ts';
import { ECHO_FIELDS, isEchoField } from '../../core/echo/echo-fields.ts';
import { uniformAt } from '../../core/math/random.ts';
import { convertUcum } from './convert-ucum.ts';
import { parseEchoReport, readEchoReportIdentity } from './parse-echo-report.ts';
import { keyOf } from './read-sr-tree.ts';
import type { EchoReport } from './sr-types.ts';

/** Written by make-reports.py with pydicom. */
const FOLDER = new URL('../../../test/reference/echo/', import.meta.url);
const load = (name: string): Uint8Array => new Uint8Array(readFileSync(new URL(name, FOLDER)));
const EXPECTED = JSON.parse(readFileSync(new URL('expected.json', FOLDER), 'utf8')) as Readonly<Record<string, { values: Record<string, number>; unread: Record<string, string>; failure: string | null }>>;
const OUTSIDE = new URL('../../../../shared/data/dicom-torture/', import.meta.url);
const hasOutside = existsSync(OUTSIDE);
const read = (name: string): EchoReport => {
  const result = parseEchoReport(load(name));
  if (!result.ok) throw new Error(result.failure.code);
  return result.value;
};

describe('parseEchoReport', () => {
  test.each(Object.keys(EXPECTED))('%s: values, and what is left out by its code, are those it was written with', (name) => {
    const result = parseEchoReport(load(name));
    const { values, unread, failure } = EXPECTED[name]!;
    if (failure !== null) return expect(result.ok ? 'read' : result.failure.code).toBe(failure);
    const report = read(name);
    expect(report.entries).toEqual(values); // exactly: conversions are rounded to 12 digits
    expect(Object.fromEntries(report.unread.map((u) => [keyOf(u.concept), u.why]))).toEqual(unread);
    return undefined;
  });
  test('of several values the chosen one is taken, then the mean, then the median, and the spread is named', () => {
    const report = read('several.dcm');
    const by = Object.fromEntries(report.values.map((v) => [v.field, v]));
    expect([by['valve-velocity']!.choice, by['valve-mean-gradient']!.choice, by['valve-vti']!.choice]).toEqual(['chosen in the report', 'mean in the report', 'median of several']);
    expect([by['valve-vti']!.count, by['valve-vti']!.low, by['valve-vti']!.high]).toEqual([3, 40, 80]);
    expect(report.halfWidths['valve-velocity']).toBeCloseTo(0.4, 12); // binary
    expect([report.halfWidths['valve-mean-gradient'], report.halfWidths['valve-vti']]).toEqual([5.5, 36]);
    expect(report.findings.map((f) => f.code)).toEqual(expect.arrayContaining(['report-several-values', 'report-partial', 'report-unverified', 'report-derived-otherwise']));
  });
  test('who it is of is read apart from the numbers and stands in no message', () => {
    expect(readEchoReportIdentity(load('adult-implicit.dcm'))).toMatchObject({ name: 'Invented^Person', patientId: 'T-1', birthDate: '1940-01-02' });
    expect(JSON.stringify(read('adult-explicit.dcm'))).not.toMatch(/Invented|T-1|1940/);
  });
  test('a meaning of a private scheme is not kept', () => {
    expect(JSON.stringify(read('adult-explicit.dcm'))).not.toContain('private meaning');
  });
  test('another DICOM object and another file are refused', () => {
    const wave = parseEchoReport(new Uint8Array(readFileSync(new URL('../recordings/hemodynamic-explicit.dcm', FOLDER))));
    expect(wave.ok ? '' : wave.failure.code).toBe('not-a-report');
    const text = parseEchoReport(new TextEncoder().encode('valve velocity 2.1 m/s'));
    expect(text.ok ? '' : text.failure.code).toBe('not-dicom');
  });
  test.skipIf(!hasOutside).each([
    ['seg-sr/sr_tid1500_3d.dcm', 1], ['seg-sr/sr_tid1500_3d_multiple_groups.dcm', 4], ['seg-sr/sr_tid1500_comprehensive.dcm', null], ['edge/sr_deflated.dcm', 1],
  ])('outside data %s: no measurement of another field becomes one of echo, each is listed', (name, count) => {
    const result = parseEchoReport(new Uint8Array(readFileSync(new URL(name, OUTSIDE))));
    if (!result.ok) throw new Error(result.failure.code);
    expect(result.value.entries).toEqual({});
    const listed = result.value.unread.length + result.value.unreadMore;
    const facts = JSON.parse(readFileSync(new URL('facts.json', OUTSIDE), 'utf8')) as { files: Record<string, { srNumericCount: number }> };
    expect(listed).toBe(facts.files[name]!.srNumericCount);
    if (count !== null) expect(listed).toBe(count);
  });
  test.skipIf(!hasOutside)('outside data: a report without a number, and a segmentation, are refused', () => {
    const code = (name: string): string => {
      const result = parseEchoReport(new Uint8Array(readFileSync(new URL(name, OUTSIDE))));
      return result.ok ? 'read' : result.failure.code;
    };
    expect([code('edge/sr_no_pixel_data.dcm'), code('seg-sr/seg_23x38x3.dcm')]).toEqual(['report-empty', 'not-a-report']);
  });
});

describe('damaged reports', () => {
  /** What is read is sound: known fields, values inside their bounds. */
  const take = (bytes: Uint8Array): string => {
    const result = parseEchoReport(bytes);
    if (!result.ok) return /^[a-z0-9]+(-[a-z0-9]+)+$/.test(result.failure.code) ? 'ok' : result.failure.code;
    for (const [code, value] of Object.entries(result.value.entries)) {
      if (!isEchoField(code) || checkEntryKind(ECHO_FIELDS[code], value ?? null) !== null) return `${code} ${String(value)}`;
    }
    return 'ok';
  };
  test.each(['adult-explicit.dcm', 'adult-implicit.dcm', 'adult-big.dcm', 'several.dcm'])('%s: cut anywhere, it is read soundly or refused with a code', (name) => {
    const bytes = load(name);
    for (let end = 0; end < bytes.length; end += 37) expect(take(bytes.subarray(0, end))).toBe('ok');
  });
  test.each(['adult-explicit.dcm', 'adult-implicit.dcm', 'adult-big.dcm', 'deep.dcm'])('%s: with bytes changed (seeded), it is read soundly or refused with a code', (name) => {
    const bytes = load(name);
    for (let round = 0; round < 400; round++) {
      const copy = bytes.slice();
      const random = (variable: number): number => uniformAt(20260302, round, variable);
      for (let k = 0; k < 1 + (round % 6); k++) copy[Math.floor(random(3 * k) * copy.length)] = random(3 * k + 1) < 0.25 ? 255 : Math.floor(random(3 * k + 2) * 256);
      expect(take(copy)).toBe('ok');
    }
  });
  test('a length of all ones in every place of a length is read soundly or refused', () => {
    const bytes = load('adult-implicit.dcm');
    for (let at = 132; at + 4 < bytes.length; at += 23) {
      const copy = bytes.slice();
      copy.set([255, 255, 255, 255], at);
      expect(take(copy)).toBe('ok');
    }
  });
});

describe('convertUcum', () => {
  test('known answers, and no unit of another quantity', () => {
    expect(convertUcum(210, 'cm/s', 'm/s')).toBeCloseTo(2.1, 12);
    expect(convertUcum(1.4, 'kPa', 'mm[Hg]')).toBeCloseTo(10.50086, 5);
    expect(convertUcum(0.4, '1', '%')).toBeCloseTo(40, 12);
    expect(convertUcum(20, 'mm', 'cm')).toBeCloseTo(2, 12);
    expect([convertUcum(2, 'm/s', 'cm'), convertUcum(2, 'furlong', 'cm'), convertUcum(2, 'constructor', 'cm')]).toEqual([null, null, null]);
  });
});
