import type { IdentityCheck } from '../../core/case/identity-types.ts';
import { compareIdentity, type PatientIdentity } from '../../core/case/compare-identity.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RECORDINGS_EN } from '../../core/text/recordings-en.ts';
import { listIdentityFields } from '../jobs/describe-identity.ts';
import { readEntered } from '../jobs/desk-job-types.ts';

export type FileIdentityFailureCode = 'file-identity-differs' | 'file-identity-open';

/**
 * How the patient that a handed file names compares with the entered one. Which fields do not agree is said, never what
 * stands in them; nothing of a file is kept before this is settled.
 * Fails     file-identity-differs and file-identity-open, unless `because` says why it belongs to the case
 */
export function judgeFileIdentity(state: CaseState, found: PatientIdentity, because: string | null): Result<IdentityCheck, FileIdentityFailureCode> {
  const identity = compareIdentity(readEntered(state), found);
  if (identity.verdict === 'same') return succeed({ ...identity, acceptedBecause: null });
  if (because !== null) return succeed({ ...identity, acceptedBecause: because });
  const fields = listIdentityFields(identity.fields, identity.verdict === 'differs' ? 'differs' : 'missing');
  return identity.verdict === 'differs'
    ? fail('file-identity-differs', formatText(RECORDINGS_EN, 'identityDiffers', { fields }), RECORDINGS_EN.identityDiffersNext, { fields })
    : fail('file-identity-open', formatText(RECORDINGS_EN, 'identityOpen', { fields }), RECORDINGS_EN.identityOpenNext, { fields });
}

/** Of BECAUSE_HEADER. null: none given; undefined: given, and not to be read as 3 to 400 signs. */
export function readReason(header: string | null): string | null | undefined {
  if (header === null) return null;
  try {
    const said = decodeURIComponent(header).trim();
    return said.length >= 3 && said.length <= 400 ? said : undefined;
  } catch {
    return undefined;
  }
}
