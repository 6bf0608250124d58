/** Where the bytes of one input lie. `label` is the path below the input, with '/'; it may hold a name: show, never log. */
export type InputFile =
  | { readonly kind: 'file'; readonly label: string; readonly path: string; readonly bytes: number }
  | {
      readonly kind: 'zip-entry';
      readonly label: string;
      readonly path: string;
      /** Uncompressed, as the archive states it. */
      readonly bytes: number;
      readonly packedBytes: number;
      readonly headerOffset: number;
      readonly method: 'stored' | 'deflated';
      readonly crc32: number;
    };

export interface InputListing {
  readonly kind: 'folder' | 'zip' | 'dicomdir' | 'file';
  /** Sorted by label, code unit by code unit. */
  readonly files: readonly InputFile[];
  readonly unreadable: readonly UnreadableFile[];
}

export interface UnreadableFile {
  readonly label: string;
  readonly code: string;
}

export type ListFailureCode =
  | 'input-missing' | 'input-not-readable' | 'too-many-files' | 'folder-too-deep'
  | 'zip-broken' | 'zip-bomb' | 'zip-path-outside' | 'dicomdir-broken';

/** Why a file was left out, beside the codes of the DICOM, NIfTI, NRRD and zip readers. */
export type UnreadableCode =
  | 'file-empty' | 'head-too-long' | 'file-not-readable' | 'folder-not-readable' | 'dicomdir-file-missing' | 'name-unsafe'
  | 'file-shrunk' | 'zip-entry-broken';
