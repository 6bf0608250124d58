import { formatCanonical } from '../../core/audit/format-canonical.ts';
import { listSteps, type LogDocument, type LogRow } from '../../core/room/log-document.ts';
import type { RoomEntry } from '../../core/room/room-types.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { LOG_EN } from '../../core/text/log-en.ts';
import { ROOM_EN } from '../../core/text/room-en.ts';
import type { CameraView } from '../../core/projection/camera-view.ts';
import type { FhirBundle, FhirConcept, FhirObservation, FhirProcedure, FhirQuantity } from './fhir-shapes.ts';

/** Names of ours. No SNOMED CT or LOINC code is claimed: what a tap means is described by its own kind, word and UCUM unit. */
const NAMES = 'urn:trinadir:room-entry';
const PARTS = 'urn:trinadir:room-part';
/** The whole record as canonical JSON: what was exported can be read back without loss. */
export const RECORD_EXTENSION = 'urn:trinadir:room-record';
const UCUM = 'http://unitsofmeasure.org';
const ABSENT = 'http://terminology.hl7.org/CodeSystem/data-absent-reason';

/**
 * The log of the room as one FHIR R4 Bundle of type `collection`: a Procedure, and an Observation for every record that is
 * part of it. Replaced and taken-back records are there as `entered-in-error`, corrections as `corrected`.
 * Shape     FHIR_BUNDLE; the same log gives the same document
 * Source    HL7 FHIR R4 (4.0.1); docs/methods/room-log.md says why Observation and not AuditEvent
 * Limits    no resource of the patient: the subject is named by the case's number only
 */
export function writeLogFhir(log: LogDocument): FhirBundle {
  const procedureUrl = makeUrl('procedure', log.caseId);
  const tags = log.training ? { meta: { tag: [{ system: 'urn:trinadir:tag', code: 'training', display: HOUSE_EN.training }] } } : {};
  return {
    resourceType: 'Bundle', id: log.caseId, ...tags, identifier: { system: 'urn:trinadir:chain', value: `${log.caseId} ${log.lastSeq} ${log.lastSha256}` }, type: 'collection', timestamp: log.asOf,
    entry: [
      { fullUrl: procedureUrl, resource: { ...makeProcedure(log), ...tags } },
      ...log.rows.map((row) => ({ fullUrl: makeUrl('entry', row.record.entryId), resource: { ...makeObservation(row, log.caseId, procedureUrl), ...tags } })),
    ],
  };
}

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[1-8][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/;
/** `urn:uuid:` where the number is one; a name of ours elsewhere. */
const makeUrl = (what: 'entry' | 'procedure', id: string): string => (what === 'entry' && UUID.test(id) ? `urn:uuid:${id}` : `urn:trinadir:${what}:${id}`);
const nameCase = (caseId: string) => ({ system: 'urn:trinadir:case', value: caseId });
const concept = (system: string, code: string, text: string): FhirConcept => ({ coding: [{ system, code: code.replaceAll(' ', '-') }], text });
const quantity = (value: number, unit: string, code: string): FhirQuantity => ({ value, unit, system: UCUM, code });
const absent = (text: string): FhirConcept => ({ coding: [{ system: ABSENT, code: 'unknown' }], text });

function makeProcedure(log: LogDocument): FhirProcedure {
  const steps = listSteps(log.rows);
  const isOver = log.room.phase?.phase === 'handover';
  const start = log.rows.find((r) => r.record.standing === 'current')?.at;
  // The end is when the team said so; the last tap of a log that goes on is not the end.
  const end = isOver ? steps.at(-1)?.at : undefined;
  return {
    resourceType: 'Procedure', id: log.caseId, identifier: [nameCase(log.caseId)], ...(log.frozenSha256 === null ? {} : { instantiatesUri: [`urn:trinadir:frozen:${log.frozenSha256}`] }),
    status: log.rows.length === 0 ? 'preparation' : isOver ? 'completed' : 'in-progress', code: { text: 'Transcatheter aortic valve implantation' },
    subject: { type: 'Patient', identifier: nameCase(log.caseId) }, ...(start === undefined ? {} : { performedPeriod: { start, ...(end === undefined || end < start ? {} : { end }) } }),
    note: [{ text: HOUSE_EN.caution }],
  };
}

const STATUS = { superseded: 'entered-in-error', 'taken back': 'entered-in-error' } as const;

function makeObservation({ record, at, loggedAt, words, whoLogged }: LogRow, caseId: string, procedureUrl: string): FhirObservation {
  const { standing: _standing, ...raw } = record;
  const { entry } = record;
  const status = record.standing === 'current' ? (entry !== null && record.corrects !== null ? 'corrected' : 'final') : STATUS[record.standing];
  return {
    resourceType: 'Observation', id: record.entryId, extension: [{ url: RECORD_EXTENSION, valueString: formatCanonical(raw) }], identifier: [{ system: 'urn:trinadir:entry', value: record.entryId }],
    partOf: [{ reference: procedureUrl }], status, code: entry === null ? concept(NAMES, 'taken-back', LOG_EN.takesBack) : concept(NAMES, entry.is, words),
    subject: { type: 'Patient', identifier: nameCase(caseId) }, effectiveDateTime: at, issued: loggedAt,
    performer: [{ type: 'Practitioner', identifier: { system: 'urn:trinadir:person', value: record.by }, ...(whoLogged.trim() === '' ? {} : { display: whoLogged }) }],
    ...(entry === null ? { valueString: record.corrects! } : makeValue(entry, words)),
  };
}

type Value = Pick<FhirObservation, 'valueQuantity' | 'valueBoolean' | 'valueString' | 'valueCodeableConcept' | 'dataAbsentReason' | 'method' | 'component'>;
type Component = NonNullable<FhirObservation['component']>[number];
const part = (code: string, value: Omit<Component, 'code'>): Component => ({ code: concept(PARTS, code, code), ...value });
const measured = (code: string, value: number | null, unit: string, ucum: string): Component => part(code, value === null ? { dataAbsentReason: absent(LOG_EN.none) } : { valueQuantity: quantity(value, unit, ucum) });
const angles = (view: CameraView): Component[] => [measured('positioner-primary', view.primaryDeg, '°', 'deg'), measured('positioner-secondary', view.secondaryDeg, '°', 'deg')];
const orAbsent = (value: number | null, unit: string, ucum: string): Value => (value === null ? { dataAbsentReason: absent(LOG_EN.none) } : { valueQuantity: quantity(value, unit, ucum) });

/** Numbers as quantities with UCUM units, answers as codes, the rest in the words of the log. */
function makeValue(entry: RoomEntry, words: string): Value {
  switch (entry.is) {
    case 'phase': return { valueCodeableConcept: concept('urn:trinadir:phase', entry.phase, ROOM_EN[`phase-${entry.phase}`]) };
    case 'pacing': return { valueBoolean: entry.isOn, ...(entry.ratePerMin === null ? {} : { component: [measured('rate', entry.ratePerMin, '/min', '/min')] }) };
    case 'view': return { component: angles(entry.view) };
    case 'depth': {
      const { depthMm, lowMm, highMm, state, by, views, unsheathedRatio } = entry.reading;
      return {
        valueQuantity: quantity(depthMm, 'mm', 'mm'), method: concept('urn:trinadir:depth', `${by}-${state}`, `${by}, ${state}`),
        component: [measured('low-95', lowMm, 'mm', 'mm'), measured('high-95', highMm, 'mm', 'mm'), measured('unsheathed-ratio', unsheathedRatio, '1', '1'), ...views.flatMap(angles)],
      };
    }
    case 'fraction': return orAbsent(entry.ratio, '1', '1');
    case 'hold': return { valueCodeableConcept: concept('urn:trinadir:answer', entry.answer, ROOM_EN[`answer-${entry.answer}`]), component: [part('hold', { valueString: entry.hold }), part('who', { valueString: entry.who })] };
    case 'moved': return { ...orAbsent(entry.mm, 'mm', 'mm'), component: [part('direction', { valueString: entry.direction })] };
    case 'kit': return { valueBoolean: entry.isReady, component: [part('item', { valueString: entry.item })] };
    case 'dilated': return { ...orAbsent(entry.balloonMm, 'mm', 'mm'), component: [part('when', { valueString: entry.when })] };
    case 'heparin': return { valueQuantity: quantity(entry.units, 'units', '[iU]') };
    case 'act': return { valueQuantity: quantity(entry.seconds, 's', 's') };
    case 'contrast': return { valueQuantity: quantity(entry.ml, 'mL', 'mL') };
    case 'radiation': return { component: [measured('air-kerma', entry.airKermaMGy, 'mGy', 'mGy'), measured('dose-area', entry.doseAreaGyCm2, 'Gy·cm²', 'Gy.cm2'), measured('fluoroscopy', entry.fluoroscopyMin, 'min', 'min')] };
    case 'pressure': return { component: [measured('systolic', entry.systolicMmHg, 'mmHg', 'mm[Hg]'), measured('diastolic', entry.diastolicMmHg, 'mmHg', 'mm[Hg]'), measured('ventricle-end-diastolic', entry.endDiastolicMmHg, 'mmHg', 'mm[Hg]'), measured('heart-rate', entry.heartRatePerMin, '/min', '/min')] };
    case 'verdict': return { valueCodeableConcept: concept('urn:trinadir:verdict', entry.word, entry.word), component: listVerdictParts(entry) };
    case 'clock': return { valueQuantity: quantity(entry.aheadS, 's', 's'), component: [part('clock', { valueString: entry.name })] };
    case 'recaptured': case 'valve-out': case 'wire': case 'tension': case 'rescue': case 'causes': case 'show': case 'screen': case 'note': return { valueString: words };
  }
}

/** Grades as numbers of the five-class scale, remedies as states; nothing of it is advice. */
function listVerdictParts({ side, witnesses, remedies, waitUntil, next, answerSha256 }: Extract<RoomEntry, { is: 'verdict' }>): Component[] {
  const text = (code: string, value: string | null): Component => part(code, value === null || value.trim() === '' ? { dataAbsentReason: absent(LOG_EN.none) } : { valueString: value });
  return [
    text('side-of-decision-line', side), ...witnesses.flatMap((w) => [measured(`${w.kind}-low`, w.low, '1', '1'), measured(`${w.kind}-high`, w.high, '1', '1')]),
    ...remedies.map((r) => text(`remedy-${r.code}`, r.detail.trim() === '' ? r.state : `${r.state}: ${r.detail}`)), text('wait-until', waitUntil), text('next-measurement', next), text('answer-sha256', answerSha256),
  ];
}
