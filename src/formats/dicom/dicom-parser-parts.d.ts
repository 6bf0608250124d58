import 'dicom-parser';

/** Parts that dicom-parser 1.8.21 exports but does not declare. */
declare module 'dicom-parser' {
  export const littleEndianByteArrayParser: ByteArrayParser;
  export const bigEndianByteArrayParser: ByteArrayParser;
  export const DataSet: new (
    byteArrayParser: ByteArrayParser,
    byteArray: Uint8Array,
    elements: { [tag: string]: Element },
  ) => DataSet;
  export function readSequenceItemsExplicit(stream: ByteStream, element: Element, warnings: string[]): void;
  export function readSequenceItemsImplicit(stream: ByteStream, element: Element): void;
}
