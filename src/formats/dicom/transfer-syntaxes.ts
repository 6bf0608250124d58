import type { CodecName } from './dicom-types.ts';

/** How each transfer syntax packs pixels, and whether a measurement may rest on it (docs/methods/dicom-intake.md). */
export type SyntaxRule =
  | { readonly kind: 'native'; readonly isBigEndian: boolean }
  | { readonly kind: 'rle' }
  | { readonly kind: 'codec'; readonly codec: CodecName }
  /** Named so that the refusal can say what it is. */
  | { readonly kind: 'refused'; readonly name: string };

const NATIVE: SyntaxRule = { kind: 'native', isBigEndian: false };
const codec = (name: CodecName): SyntaxRule => ({ kind: 'codec', codec: name });
const refused = (name: string): SyntaxRule => ({ kind: 'refused', name });

/** PS3.5 section 10 and annex A; UIDs of PS3.6 table A-1. */
const RULES: Readonly<Record<string, SyntaxRule>> = {
  '1.2.840.10008.1.2': NATIVE,
  '1.2.840.10008.1.2.1': NATIVE,
  '1.2.840.10008.1.2.1.99': NATIVE,
  '1.2.840.10008.1.2.2': { kind: 'native', isBigEndian: true },
  '1.2.840.10008.1.2.5': { kind: 'rle' },
  '1.2.840.10008.1.2.4.57': codec('jpeg-lossless'),
  '1.2.840.10008.1.2.4.70': codec('jpeg-lossless'),
  '1.2.840.10008.1.2.4.80': codec('jpeg-ls'),
  '1.2.840.10008.1.2.4.81': codec('jpeg-ls'),
  '1.2.840.10008.1.2.4.90': codec('jpeg-2000'),
  '1.2.840.10008.1.2.4.91': codec('jpeg-2000'),
  '1.2.840.10008.1.2.4.201': codec('htj2k'),
  '1.2.840.10008.1.2.4.202': codec('htj2k'),
  '1.2.840.10008.1.2.4.203': codec('htj2k'),
  '1.2.840.10008.1.2.4.50': refused('JPEG baseline, 8 bit, lossy'),
  '1.2.840.10008.1.2.4.51': refused('JPEG extended, 12 bit, lossy'),
  '1.2.840.10008.1.2.4.53': refused('JPEG spectral selection, lossy (retired)'),
  '1.2.840.10008.1.2.4.55': refused('JPEG full progression, lossy (retired)'),
};

/** null for a transfer syntax this program does not know (video, retired or private ones). */
export function findSyntaxRule(transferSyntaxUid: string): SyntaxRule | null {
  return Object.hasOwn(RULES, transferSyntaxUid) ? RULES[transferSyntaxUid]! : null;
}
