import { describe, expect, test } from 'vitest';
import { formatCanonical } from '../../core/audit/format-canonical.ts';
import { makeLog } from '../../../test/support/room-log.ts';
import { EVERY_ENTRY, makeLogFixture } from '../../../test/support/room-log-fixtures.ts';
import type { RoomRecord } from '../../core/room/room-types.ts';
import { ROOM_RECORD } from '../api/room-schemas.ts';
import { FHIR_BUNDLE, type FhirBundle, type FhirObservation } from './fhir-shapes.ts';
import { RECORD_EXTENSION, writeLogFhir } from './write-log-fhir.ts';

const observationsOf = (bundle: FhirBundle): FhirObservation[] => bundle.entry.flatMap(({ resource }) => (resource.resourceType === 'Observation' ? [resource] : []));
const log = makeLogFixture();

describe('writeLogFhir', () => {
  test('gives a bundle of the R4 shape, one observation for each record and one procedure that they are part of', () => {
    const bundle = writeLogFhir(log);
    expect(FHIR_BUNDLE.safeParse(bundle).error).toBeUndefined();
    expect(bundle.entry[0]!.resource).toMatchObject({ resourceType: 'Procedure', status: 'completed', performedPeriod: { start: log.rows[0]!.at, end: log.rows.at(-1)!.at } });
    expect(observationsOf(bundle).map((o) => [o.id, o.effectiveDateTime, o.partOf![0]!.reference])).toEqual(log.rows.map((r) => [r.record.entryId, r.at, bundle.entry[0]!.fullUrl]));
    expect(bundle.identifier.value).toBe(`logged-case ${log.lastSeq} ${log.lastSha256}`);
  });

  test('the records come back from it as they were', () => {
    const back = observationsOf(JSON.parse(formatCanonical(writeLogFhir(log))) as FhirBundle).map((o) => {
      const { by, seq, ...record } = JSON.parse(o.extension!.find((e) => e.url === RECORD_EXTENSION)!.valueString) as RoomRecord & { by: string; seq: number };
      expect([by, typeof seq]).toEqual(['person-one', 'number']);
      return ROOM_RECORD.parse(record);
    });
    expect(back).toEqual(makeLog(EVERY_ENTRY));
  });

  test('numbers are quantities of UCUM; what was not read says so instead of a value', () => {
    const byKind = (code: string): FhirObservation[] => observationsOf(writeLogFhir(log)).filter((o) => o.code.coding![0]!.code === code);
    expect(byKind('depth')[0]).toMatchObject({ valueQuantity: { value: 4, code: 'mm', system: 'http://unitsofmeasure.org' }, method: { text: 'marks, corrected' } });
    expect(byKind('depth')[0]!.component!.slice(0, 2).map((c) => c.valueQuantity!.value)).toEqual([3.6, 4.4]);
    expect(byKind('fraction').map((o) => [o.valueQuantity?.value, o.dataAbsentReason?.coding?.[0]!.code])).toEqual([[0.6, undefined], [undefined, 'unknown']]);
    expect(byKind('heparin')[0]!.valueQuantity).toMatchObject({ value: 5000, code: '[iU]' });
    expect(byKind('pressure')[0]!.component!.map((c) => [c.valueQuantity?.code, c.valueQuantity?.value, c.dataAbsentReason !== undefined])).toEqual([['mm[Hg]', 118, false], ['mm[Hg]', 64, false], [undefined, undefined, true], ['/min', 71, false]]);
    const verdict = byKind('verdict')[0]!;
    expect(verdict.valueCodeableConcept).toMatchObject({ coding: [{ code: 'NOT-SETTLED' }], text: 'NOT SETTLED' });
    expect(verdict.component!.map((c) => [c.code.text, c.valueQuantity?.value ?? c.valueString ?? c.dataAbsentReason?.coding?.[0]!.code])).toEqual([
      ['side-of-decision-line', 'unknown'], ['pressure-low', 1], ['pressure-high', 2.5], ['echo-low', 'unknown'], ['echo-high', 'unknown'],
      ['remedy-wait', 'open'], ['remedy-post-dilate', 'cannot say: Not known: leak above the line.'], ['wait-until', '2026-03-02T10:20:00.000Z'], ['next-measurement', 'One aortogram.'], ['answer-sha256', 'ab'.repeat(32)],
    ]);
    expect(byKind('note')[0]!.valueString).toContain('Wire "stiff", kept; <left> & checked');
  });

  test('replaced and taken-back records are there, in error; corrections say that they are', () => {
    const [one, two] = makeLog([{ is: 'contrast', ml: 80 }, { is: 'act', seconds: 200 }]) as [RoomRecord, RoomRecord];
    const more = (n: number, corrects: string, entry: RoomRecord['entry']): RoomRecord => ({ ...one, entryId: `entry-${n}`, count: n, corrects, entry, happenedAt: '2026-03-02T10:30:00.000Z' });
    const bundle = writeLogFhir(makeLogFixture([one, two, more(3, 'entry-1', { is: 'contrast', ml: 8 }), more(4, 'entry-2', null)]));
    expect(FHIR_BUNDLE.safeParse(bundle).success).toBe(true);
    expect(Object.fromEntries(observationsOf(bundle).map((o) => [o.id, [o.status, o.effectiveDateTime]]))).toEqual({
      'entry-1': ['entered-in-error', one.happenedAt], 'entry-2': ['entered-in-error', two.happenedAt],
      'entry-3': ['corrected', one.happenedAt], // it stands at the time of the tap that it corrects
      'entry-4': ['final', '2026-03-02T10:30:00.000Z'],
    });
    expect(bundle.entry[0]!.resource).toMatchObject({ status: 'in-progress', performedPeriod: { start: one.happenedAt } });
  });

  test('an empty log is a procedure that has not begun; a training case says so in every resource', () => {
    const bundle = writeLogFhir(makeLogFixture([]));
    expect(FHIR_BUNDLE.safeParse(bundle).success).toBe(true);
    expect(bundle.entry.map((e) => e.resource)).toMatchObject([{ status: 'preparation' }]);
    for (const { resource } of writeLogFhir(log).entry) expect(resource.meta?.tag[0]!.code).toBe('training');
  });
});

describe('FHIR_BUNDLE', () => {
  const spoilt = (change: (bundle: { entry: { fullUrl: string; resource: Record<string, unknown> }[] }) => void): boolean => {
    const bundle = JSON.parse(JSON.stringify(writeLogFhir(log))) as Parameters<typeof change>[0];
    change(bundle);
    return FHIR_BUNDLE.safeParse(bundle).success;
  };
  test('refuses what R4 refuses: no status, two values, a value beside the reason for none, a doubled address, a reference to nothing, an empty text, a field of another release', () => {
    expect(spoilt(() => {})).toBe(true);
    expect(spoilt((b) => delete b.entry[1]!.resource['status'])).toBe(false);
    expect(spoilt((b) => (b.entry[1]!.resource['valueString'] = 'x'))).toBe(false);
    expect(spoilt((b) => (b.entry[1]!.resource['dataAbsentReason'] = { text: 'x' }))).toBe(false);
    expect(spoilt((b) => (b.entry[2]!.fullUrl = b.entry[1]!.fullUrl))).toBe(false);
    expect(spoilt((b) => (b.entry[1]!.resource['partOf'] = [{ reference: 'urn:uuid:none' }]))).toBe(false);
    expect(spoilt((b) => (b.entry[1]!.resource['code'] = { text: '  ' }))).toBe(false);
    expect(spoilt((b) => (b.entry[1]!.resource['context'] = {}))).toBe(false);
    expect(spoilt((b) => (b.entry[0]!.resource['performedPeriod'] = { start: '2026-03-02T10:00:00.000Z', end: '2026-03-02T09:00:00.000Z' }))).toBe(false);
  });
});
