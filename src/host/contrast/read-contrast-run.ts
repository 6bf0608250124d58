import { stat } from 'node:fs/promises';
import type { PatientIdentity } from '../../core/case/compare-identity.ts';
import type { ContrastRun, PixelIntensity } from '../../core/angiogram/contrast-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CONTRAST_EN } from '../../core/text/contrast-en.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { parsePart10, type DicomDataset } from '../../formats/dicom/parse-part10.ts';
import { readIdentity } from '../../formats/dicom/read-identity.ts';
import { readText, readTexts } from '../../formats/dicom/read-values.ts';
import { decodeXaFrame, readXa, type XaRun } from '../../formats/dicom/read-xa.ts';
import { readPart } from '../intake/read-input.ts';
import { loadCodecs } from '../jobs/load-codecs.ts';
import { failGone } from '../server/run-file.ts';

/** What all frames of one run may take, MB. */
const MOST_MEGABYTES = 1024;

export interface ContrastRunFile {
  readonly run: ContrastRun;
  readonly xa: XaRun;
  readonly identity: PatientIdentity;
}

/**
 * An angiographic run with all its pixels, as measureContrast takes it.
 * Fails     run-gone, run-signed, run-too-large, and as parsePart10, readXa and decodeXaFrame
 */
export async function readContrastRun(path: string): Promise<Result<ContrastRunFile, string>> {
  const bytes = await stat(path).then((about) => (about.isFile() ? about.size : null), () => null);
  if (bytes === null) return failGone();
  const file = readPart(path, 0, bytes);
  if (!file.ok) return file;
  const parsed = parsePart10(file.value);
  if (!parsed.ok) return parsed;
  const xa = readXa(parsed.value);
  if (!xa.ok) return xa;
  const { encoding, rows, columns, frameCount, frameTimesMs, isInverted } = xa.value;
  if (encoding.isSigned) return fail('run-signed', CONTRAST_EN.runSigned, CONTRAST_EN.runSignedNext);
  const megabytes = Math.ceil((rows * columns * frameCount * 2) / 2 ** 20);
  if (megabytes > MOST_MEGABYTES) return fail('run-too-large', formatText(CONTRAST_EN, 'runTooLarge', { megabytes, most: MOST_MEGABYTES }), CONTRAST_EN.runTooLargeNext, { megabytes });
  const codecs = await loadCodecs();
  const frames: Uint16Array[] = [];
  for (let f = 1; f <= frameCount; f++) {
    const stored = decodeXaFrame(file.value, xa.value, f, codecs);
    if (!stored.ok) return stored;
    frames.push(stored.value instanceof Uint16Array ? stored.value : Uint16Array.from(stored.value));
  }
  const run: ContrastRun = {
    rows, columns, bits: encoding.bitsStored, frames, isInverted, ...readHistory(parsed.value),
    // A step of nothing between frames is a time that nobody knows.
    frameTimesMs: frameTimesMs && frameTimesMs.every((t, i) => i === 0 || t > frameTimesMs[i - 1]!) ? frameTimesMs : null,
  };
  return succeed({ run, xa: xa.value, identity: readIdentity(parsed.value.values) });
}

/** (0028,1040), (0008,0008), (0028,2110), and whether a mask was taken away: (0028,1090) SUB or an image type that says so. */
function readHistory({ values }: DicomDataset): Pick<ContrastRun, 'intensity' | 'history'> {
  const said = readText(values, 'x00281040')?.toUpperCase();
  const intensity: PixelIntensity = said === 'LIN' || said === 'LOG' || said === 'DISP' ? said : null;
  const type = readTexts(values, 'x00080008').map((word) => word.toUpperCase());
  return {
    intensity,
    history: {
      isDerived: type[0] === 'DERIVED', isLossy: readText(values, 'x00282110') === '01',
      isSubtracted: type.some((word) => /SUBTRACT|^DSA$|^SUB$/.test(word)) || /SUBTRACT/i.test(readText(values, 'x00082111') ?? ''),
    },
  };
}
