import { setImmediate as nextTurn } from 'node:timers/promises';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { InputFile, InputListing, UnreadableFile } from './intake-types.ts';
import { listInputFiles } from './list-input-files.ts';
import { makeScanReport } from './make-scan-report.ts';
import { readFileHead } from './read-file-head.ts';
import { describeResearch } from './read-research-volume.ts';
import { sampleVolumes } from './sample-volumes.ts';
import type { DescribedResearch, FoundHeads, ScanFailureCode, ScanReport, SliceSource } from './scan-types.ts';

export interface ScanOptions {
  readonly workers?: number;
  readonly onProgress?: (doneRatio: number) => void;
  /** Called when the files are known and before they are looked into. */
  readonly onListed?: (listing: { readonly files: number; readonly bytes: number }) => void;
}

const FILES_PER_TURN = 64;

/**
 * Looks at a folder, zip archive, DICOMDIR or file and says which series and volumes it holds, which one to measure
 * and why. Reads heads only, and five slices of each volume where there is a choice.
 *
 * Fails   no-files, no-ct, two-patients, and what listing fails with; unreadable files are named, never fatal
 * Source  docs/methods/scan-fitness.md
 */
export async function scanPath(path: string, options: ScanOptions = {}): Promise<Result<ScanReport, ScanFailureCode>> {
  const listing = await listInputFiles(path);
  if (!listing.ok) return listing;
  const { files } = listing.value;
  options.onListed?.({ files: files.length, bytes: files.reduce((sum, file) => sum + file.bytes, 0) });
  const found = await readHeads(listing.value, (ratio) => options.onProgress?.(0.9 * ratio));
  const patients = new Set(found.slices.flatMap(({ header }) => header.patientKey ?? []));
  if (patients.size > 1) {
    return fail('two-patients', `The CT pictures belong to ${patients.size} patients.`, 'Give one folder per patient.', { patients: patients.size });
  }
  if (found.slices.length === 0 && !found.research.some(({ volume }) => volume)) return failEmpty(found);
  const samples = await sampleVolumes(makeScanReport(found, new Map()));
  options.onProgress?.(1);
  return succeed(makeScanReport(found, samples));
}

async function readHeads(listing: InputListing, report: (ratio: number) => void): Promise<FoundHeads> {
  const slices: SliceSource[] = [];
  const research: DescribedResearch[] = [];
  const otherObjects: { modality: string; seriesUid: string | null }[] = [];
  const unreadable: UnreadableFile[] = [...listing.unreadable];
  let otherFiles = 0;
  const addResearch = (described: DescribedResearch, input: InputFile): void => {
    if (described.volume || described.code === 'not-hounsfield') research.push(described);
    else unreadable.push({ label: input.label, code: described.code ?? 'file-broken' });
  };
  for (const [n, input] of listing.files.entries()) {
    if (n % FILES_PER_TURN === FILES_PER_TURN - 1) {
      report(n / listing.files.length);
      await nextTurn(); // a long listing must not keep timers and signals waiting
    }
    const head = readFileHead(input);
    switch (head.kind) {
      case 'ct':
        for (const header of head.headers) slices.push({ input, header });
        break;
      case 'research':
        // A folder of training data may hold thousands of label maps: each is unpacked, and not kept.
        addResearch(describeResearch(input, head.format, `research#${research.length + 1}`), input);
        break;
      case 'other-object':
        otherObjects.push({ modality: head.modality, seriesUid: head.seriesUid });
        break;
      case 'unreadable':
        unreadable.push({ label: input.label, code: head.code });
        break;
      case 'other-file':
        otherFiles++;
    }
  }
  return { listing, slices, research, otherObjects, otherFiles, unreadable };
}

function failEmpty(found: FoundHeads) {
  const { listing, otherObjects, unreadable } = found;
  if (listing.files.length === 0 && unreadable.length === 0) {
    return fail('no-files' as const, 'There are no files.', 'Give the folder that holds the CT.', {});
  }
  const modalities = [...new Set(otherObjects.map((object) => object.modality))].sort();
  const seen = modalities.length > 0 ? ` DICOM objects of other kinds: ${modalities.join(', ')} (${otherObjects.length}).` : '';
  const broken = unreadable.length > 0 ? ` Unreadable files: ${unreadable.length}.` : '';
  return fail('no-ct' as const, `No CT picture was found among ${listing.files.length} files.${seen}${broken}`, 'Give the folder, zip or DICOMDIR of a CT with contrast of the heart.', {
    files: listing.files.length, otherObjects: otherObjects.length, unreadable: unreadable.length, modalities: modalities.join(' '),
    ...(unreadable.length > 0 ? { firstCode: unreadable[0]!.code } : {}),
  });
}
