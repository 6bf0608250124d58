import type { NewCaseEvent } from '../../core/case/case-events.ts';
import { TRAINING_PATIENT } from '../../core/device/training-table.ts';
import { succeed, type Result } from '../../core/result.ts';
import { findField } from '../../core/patient/referral-fields.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';
import type { CaseStore, StoreFailureCode } from '../storage/store-types.ts';
import { keepTrainingTables } from './handlers/table-handlers.ts';

const { membranousSeptumMm, mitralClearanceMm, vesselMinMm } = TRAINING_PATIENT;
/** What is entered for the invented patient; the planning values are those of the training table's patient. */
export const TRAINING_REFERRAL: Readonly<Record<string, string | number | boolean | undefined>> = {
  'identity.name': 'Training Phantom', 'identity.patientId': 'TRAINING-101', 'identity.birthDate': '1944-05-17', 'identity.sex': TRAINING_PATIENT.sex,
  'reason.question': SERVER_EN.trainingQuestion, 'reason.disease': 'stenosis', 'reason.nyha': 'III', 'reason.syncope': false, 'reason.angina': true,
  'body.heightCm': 162, 'body.weightKg': 68, 'body.creatinineUmolPerL': 94, 'body.haemoglobinGPerL': 124,
  'heart.meanGradientMmHg': 46, 'heart.peakVelocityMPerS': 4.3, 'heart.valveAreaCm2': 0.7, 'heart.ejectionFractionPercent': 58, 'heart.rhythm': 'sinus', 'heart.conduction': 'none', 'heart.prMs': 178, 'heart.qrsMs': 92, 'heart.hasPacemaker': false,
  'frailty.fiveMetresS': 6.4, 'frailty.katzItems': 6,
  'plan.valveForm': TRAINING_PATIENT.valveForm, 'plan.isPureRegurgitation': TRAINING_PATIENT.isPureRegurgitation,
  'plan.membranousSeptumMm': membranousSeptumMm?.value, 'plan.membranousSeptumHalfWidthMm': membranousSeptumMm?.halfWidth95,
  'plan.mitralClearanceMm': mitralClearanceMm?.value, 'plan.mitralClearanceHalfWidthMm': mitralClearanceMm?.halfWidth95,
  'plan.vesselRightMm': vesselMinMm?.right?.value, 'plan.vesselRightHalfWidthMm': vesselMinMm?.right?.halfWidth95,
  'plan.vesselLeftMm': vesselMinMm?.left?.value, 'plan.vesselLeftHalfWidthMm': vesselMinMm?.left?.halfWidth95,
  'plan.pacingPerMin': TRAINING_PATIENT.pacingPerMin, 'plan.isPredilated': TRAINING_PATIENT.isPredilated, 'plan.catheterTension': TRAINING_PATIENT.catheterTension,
};

/**
 * The demo's person and case in an empty store: an administrator without a password, whom only the printed start address
 * lets in, and a case marked as training with an invented referral.
 * Fails     as the store
 */
export async function openTrainingCase(store: CaseStore): Promise<Result<{ readonly personId: string; readonly caseId: string }, StoreFailureCode>> {
  const personId = 'person-training';
  const caseId = 'training-case';
  const added = await store.addPerson({ personId, login: 'training', displayName: SERVER_EN.trainingPerson, role: 'admin', isActive: true, passwordHash: null, oidcSubject: null });
  if (!added.ok) return added;
  const tables = await keepTrainingTables(store);
  if (!tables.ok) return tables;
  const entered = Object.entries(TRAINING_REFERRAL).flatMap(([field, value]): NewCaseEvent[] => {
    const about = findField(field);
    return value === undefined || about === null ? [] : [{ kind: 'referral.entered', data: { field, value, unit: about.kind === 'number' ? about.unit : null } }];
  });
  const events: readonly NewCaseEvent[] = [
    { kind: 'case.opened', data: { label: SERVER_EN.trainingLabel, procedureOn: null, training: true } },
    { kind: 'tables.chosen', data: tables.value },
    ...entered,
  ];
  const opened = await store.append({ caseId, expectSeq: 0, by: personId, events });
  return opened.ok ? succeed({ personId, caseId }) : opened;
}
