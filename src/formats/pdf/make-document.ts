import PDFDocument from 'pdfkit';

/** TrueType files that are put into the PDF: the reader needs none of its own. */
export interface PdfFonts {
  readonly serif: Uint8Array;
  readonly sans: Uint8Array;
  readonly sansBold: Uint8Array;
  /** For the wall cards. */
  readonly wallPlain: Uint8Array;
  readonly wallBold: Uint8Array;
}
export const POINTS_PER_MM = 72 / 25.4;

/**
 * A PDF drawn by `draw`, as bytes.
 * Shape     the same content, fonts and `madeAt` give the same bytes
 * Fails     never for valid fonts; an error inside `draw` is ours and rejects
 */
export function makePdf(about: { readonly title: string; readonly madeAt: string }, fonts: PdfFonts, draw: (doc: PDFDocument) => void): Promise<Uint8Array> {
  return new Promise((resolve, reject) => {
    // oxlint-disable-next-line no-restricted-globals -- only parses the time that was handed in; pdfkit takes no other form
    const at = new Date(about.madeAt);
    const doc = new PDFDocument({
      autoFirstPage: false, bufferPages: true, font: null, lang: 'en', displayTitle: true,
      info: { Title: about.title, Producer: 'trinadir', Creator: 'trinadir', CreationDate: at, ModDate: at },
    });
    const chunks: Uint8Array[] = [];
    doc.on('data', (chunk) => void chunks.push(chunk));
    doc.on('end', () => resolve(joinChunks(chunks)));
    try {
      doc.registerFont('serif', fonts.serif).registerFont('sans', fonts.sans).registerFont('sans-bold', fonts.sansBold);
      doc.registerFont('wall-plain', fonts.wallPlain).registerFont('wall-bold', fonts.wallBold);
      draw(doc);
      doc.end();
    } catch (problem) {
      reject(problem instanceof Error ? problem : new Error(String(problem)));
    }
  });
}

function joinChunks(chunks: readonly Uint8Array[]): Uint8Array {
  const all = new Uint8Array(chunks.reduce((n, c) => n + c.length, 0));
  let at = 0;
  for (const chunk of chunks) {
    all.set(chunk, at);
    at += chunk.length;
  }
  return all;
}
