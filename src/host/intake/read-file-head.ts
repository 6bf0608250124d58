import type { CtSliceHeader } from '../../formats/dicom/dicom-types.ts';
import { parsePart10 } from '../../formats/dicom/parse-part10.ts';
import { readCtSlices } from '../../formats/dicom/read-ct-slice.ts';
import { readText, readUid } from '../../formats/dicom/read-values.ts';
import { isNifti } from '../../formats/nifti/parse-nifti.ts';
import { isNrrd } from '../../formats/nrrd/parse-nrrd.ts';
import type { InputFile } from './intake-types.ts';
import { readInput, readInputHead } from './read-input.ts';

/** What the head of one input says it is. */
export type FileHead =
  | { readonly kind: 'ct'; readonly headers: readonly CtSliceHeader[] }
  /** A sound DICOM object that is not a CT picture that could be measured. */
  | { readonly kind: 'other-object'; readonly modality: string; readonly seriesUid: string | null; readonly code: string }
  | { readonly kind: 'research'; readonly format: 'nifti' | 'nrrd' }
  /** Not a picture at all: a text, a program, a thumbnail. */
  | { readonly kind: 'other-file' }
  | { readonly kind: 'unreadable'; readonly code: string };

/** Heads grow in these steps until pixel data is reached; most CT heads lie below the first. */
const HEAD_STEPS = [32 << 10, 512 << 10, 8 << 20];
const MAX_WHOLE_BYTES = 512 << 20;

/** Heads of the first step go here, one after another: nothing of what is read from them points into it. */
const firstHead = new Uint8Array(HEAD_STEPS[0]!);

/** Looks at the head of one input and says what it is. Never fails: trouble is an answer. */
export function readFileHead(input: InputFile): FileHead {
  if (input.bytes === 0) return { kind: 'unreadable', code: 'file-empty' };
  for (const step of HEAD_STEPS) {
    const head = readInputHead(input, step, step === firstHead.length ? firstHead : undefined);
    if (!head.ok) return { kind: 'unreadable', code: head.failure.code };
    const research = isNrrd(head.value) ? 'nrrd' : isNifti(head.value) ? 'nifti' : null;
    if (research) return { kind: 'research', format: research };
    const found = readDicomHead(head.value, input);
    if (found) return found;
    if (head.value.length >= input.bytes) break;
  }
  if (input.bytes > MAX_WHOLE_BYTES) return { kind: 'unreadable', code: 'head-too-long' };
  const whole = readInput(input);
  if (!whole.ok) return { kind: 'unreadable', code: whole.failure.code };
  return readDicomHead(whole.value, { ...input, bytes: whole.value.length }) ?? { kind: 'unreadable', code: 'file-truncated' };
}

/** null when more of the file is needed. */
function readDicomHead(bytes: Uint8Array, input: InputFile): FileHead | null {
  const parsed = parsePart10(bytes, { fileLength: input.bytes });
  if (!parsed.ok) {
    const { code } = parsed.failure;
    if (code === 'head-too-short') return null;
    if (code !== 'not-dicom') return { kind: 'unreadable', code };
    // A name that promises DICOM makes the failure worth telling.
    return /\.(dcm|dicom|ima)$/i.test(input.label) ? { kind: 'unreadable', code } : { kind: 'other-file' };
  }
  const { values } = parsed.value;
  if (readUid(values, 'x00020002') === '1.2.840.10008.1.3.10') return { kind: 'other-file' }; // DICOMDIR: its files are here too
  const slices = readCtSlices(parsed.value);
  if (slices.ok) return { kind: 'ct', headers: slices.value };
  const { code } = slices.failure;
  const modality = readText(values, 'x00080060');
  const word = modality !== null && /^[A-Z]{2,16}$/.test(modality) ? modality : null;
  const isPicture = parsed.value.pixelData !== null;
  // A CT picture with a broken description is an unreadable file, not another kind of object.
  if (isPicture && (word === 'CT' || word === null) && code !== 'not-ct' && code !== 'not-greyscale') return { kind: 'unreadable', code };
  // Neither class nor modality nor picture: bytes that only happen to parse.
  if (!isPicture && word === null && readUid(values, 'x00080016') === null) return { kind: 'unreadable', code: 'not-dicom' };
  return { kind: 'other-object', modality: word ?? 'not stated', seriesUid: readUid(values, 'x0020000e'), code };
}
