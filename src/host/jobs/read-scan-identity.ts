import type { PatientIdentity } from '../../core/case/compare-identity.ts';
import { parsePart10 } from '../../formats/dicom/parse-part10.ts';
import { readIdentity } from '../../formats/dicom/read-identity.ts';
import { readInput, readInputHead } from '../intake/read-input.ts';
import type { ScanReport } from '../intake/scan-types.ts';

const UNKNOWN: PatientIdentity = { name: null, birthDate: null, sex: null, patientId: null };
const HEAD_BYTES = 512 << 10;

/**
 * Whom the CT says it is of, from one slice: scanPath has made sure that all slices are of one patient. Research volumes
 * say nothing.
 */
export function readScanIdentity(report: ScanReport): PatientIdentity {
  const volume = report.volumes.find(({ key }) => key === report.proposed) ?? report.volumes[0];
  const input = volume?.source.kind === 'dicom' ? volume.source.slices[0]?.input : undefined;
  if (!input) return UNKNOWN;
  const head = readInputHead(input, HEAD_BYTES);
  const parsed = head.ok ? parsePart10(head.value, { fileLength: input.bytes }) : null;
  if (parsed?.ok) return readIdentity(parsed.value.values);
  const whole = readInput(input);
  const again = whole.ok ? parsePart10(whole.value) : null;
  return again?.ok ? readIdentity(again.value.values) : UNKNOWN;
}
