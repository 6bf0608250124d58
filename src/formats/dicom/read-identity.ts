import type { DataSet } from 'dicom-parser';
import type { PatientIdentity } from '../../core/case/compare-identity.ts';
import { readLocalText, readText } from './read-values.ts';

/**
 * Whom a DICOM object says it is of (PS3.3 C.7.1.1). For the comparison with the entered patient; never kept or logged.
 * Fails   never; what is absent or malformed is null
 */
export function readIdentity(values: DataSet): PatientIdentity {
  const sex = readText(values, 'x00100040');
  const [, year, month, day] = /^(\d{4})\.?(\d{2})\.?(\d{2})$/.exec(readText(values, 'x00100030') ?? '') ?? [];
  return {
    name: readLocalText(values, 'x00100010'), birthDate: year === undefined ? null : `${year}-${month}-${day}`,
    sex: sex === 'F' || sex === 'M' || sex === 'O' ? sex : null, patientId: readLocalText(values, 'x00100020'),
  };
}
