import { z } from 'zod';
import type { PatientFacts } from '../../core/device/device-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { readIssue } from './read-issue.ts';

const length = (most: number) => z.strictObject({ value: z.number().min(0).max(most), halfWidth95: z.number().positive().max(most) });
const PATIENT = z.strictObject({
  format: z.literal('trinadir.patient/1'), by: z.string().min(1).max(200),
  sex: z.enum(['F', 'M']).optional(),
  membranousSeptumMm: length(20).optional(), mitralClearanceMm: length(40).optional(),
  vesselMinMm: z.strictObject({ right: length(25).optional(), left: length(25).optional() }).optional(),
  valveForm: z.enum(['three-cusps', 'bicuspid', 'prosthesis']).optional(), isPureRegurgitation: z.boolean().optional(),
  pacingPerMin: z.number().min(30).max(260).optional(), isPredilated: z.boolean().optional(),
  catheterTension: z.enum(['neutral', 'pulling', 'pushing', 'unknown']).optional(),
});

/**
 * What a person enters about the patient (patient.json): no name, no date of birth; each length with its 95 % half-width.
 * Units     mm, per minute
 * Fails     patient-invalid (names the first field)
 */
export function parsePatient(content: unknown): Result<PatientFacts, 'patient-invalid'> {
  const parsed = PATIENT.safeParse(content);
  if (parsed.success) return succeed(parsed.data);
  const { field, problem } = readIssue(parsed.error);
  return fail('patient-invalid', `The patient file does not fit at ${field} (${problem}).`,
    'Its fields are those of docs/tables.md; lengths are { "value": mm, "halfWidth95": mm }.', { field, problem });
}
