import { fail, succeed, type Result } from '../../core/result.ts';
import type { DicomDataset } from './parse-part10.ts';
import { readItems, readText, readTexts } from './read-values.ts';

const DICOMDIR_CLASS = '1.2.840.10008.1.3.10';

export interface DicomdirListing {
  /** Relative, '/'-separated, below the folder of the DICOMDIR; in record order, each once. */
  readonly imagePaths: readonly string[];
  /** Image records whose file name is missing or would lead outside. */
  readonly unsafeCount: number;
}

export function isDicomdir(dataset: DicomDataset): boolean {
  return (
    readText(dataset.values, 'x00020002') === DICOMDIR_CLASS ||
    dataset.values.elements.x00041220 !== undefined
  );
}

/**
 * The files that the image records of a DICOMDIR name. The offsets that link records are not followed: the records are
 * read in file order, so a cyclic link cannot matter.
 *
 * Fails   not-dicomdir
 * Source  DICOM PS3.3 F.3.2.2, PS3.10 8.2 (file IDs)
 */
export function readDicomdir(dataset: DicomDataset): Result<DicomdirListing, 'not-dicomdir'> {
  if (!isDicomdir(dataset))
    return fail(
      'not-dicomdir',
      'The object is no DICOM directory.',
      'Give the folder with the CT files instead.',
      {},
    );
  const imagePaths = new Set<string>();
  let unsafeCount = 0;
  for (const record of readItems(dataset.values, 'x00041220')) {
    if (readText(record, 'x00041430') !== 'IMAGE') continue;
    const parts = readTexts(record, 'x00041500');
    const isSafe =
      parts.length > 0 && parts.length <= 16 && parts.every((part) => /^[\w][\w. -]{0,63}$/.test(part));
    if (isSafe) imagePaths.add(parts.join('/'));
    else unsafeCount++;
  }
  return succeed({ imagePaths: [...imagePaths], unsafeCount });
}
