import type { IdentityCheck } from '../../core/case/identity-types.ts';
import { compareIdentity, type PatientIdentity } from '../../core/case/compare-identity.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { RECORDINGS_EN } from '../../core/text/recordings-en.ts';
import { listIdentityFields } from '../jobs/describe-identity.ts';
import { readEntered } from '../jobs/desk-job-types.ts';

/**
 * Whom a file that is added says it is of, against the entered patient; another, or one that cannot be compared, needs a reason.
 * Fails     file-identity-differs, file-identity-open
 */
export function judgeAddedIdentity(state: CaseState, found: PatientIdentity, because: string | null): Result<IdentityCheck, 'file-identity-differs' | 'file-identity-open'> {
  const identity = compareIdentity(readEntered(state), found);
  if (identity.verdict === 'same') return succeed({ ...identity, acceptedBecause: null });
  if (because !== null) return succeed({ ...identity, acceptedBecause: because });
  const isOther = identity.verdict === 'differs';
  const fields = listIdentityFields(identity.fields, isOther ? 'differs' : 'missing');
  return isOther ? fail('file-identity-differs', formatText(RECORDINGS_EN, 'identityDiffers', { fields }), CASE_FILE_EN.identityBecause, { fields })
    : fail('file-identity-open', formatText(RECORDINGS_EN, 'identityOpen', { fields }), CASE_FILE_EN.identityBecause, { fields });
}
