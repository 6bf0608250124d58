import type { IdentityCheck } from '../../core/case/identity-types.ts';
import { fail, type Failure } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { JOBS_EN } from '../../core/text/jobs-en.ts';

const NAMES = { name: JOBS_EN.fieldName, birthDate: JOBS_EN.fieldBirthDate, sex: JOBS_EN.fieldSex, patientId: JOBS_EN.fieldPatientId } as const;

/** Which fields of a comparison came out so, in words; never what stands in them. */
export const listIdentityFields = (fields: IdentityCheck['fields'], result: 'differs' | 'missing'): string => fields.filter((f) => f.result === result).map((f) => NAMES[f.field]).join(', ');

/** Why a scan does not join by itself; says which fields, never what stands in them. */
export function describeIdentity({ verdict, fields }: Omit<IdentityCheck, 'acceptedBecause'>): Failure<'identity-differs' | 'identity-not-comparable'> {
  if (verdict === 'differs') {
    const named = listIdentityFields(fields, 'differs');
    return fail('identity-differs', formatText(JOBS_EN, 'identityDiffers', { fields: named }), JOBS_EN.identityDiffersNext, { fields: named }).failure;
  }
  const named = listIdentityFields(fields, 'missing');
  return fail('identity-not-comparable', formatText(JOBS_EN, 'identityOpen', { fields: named }), JOBS_EN.identityOpenNext, { fields: named }).failure;
}
