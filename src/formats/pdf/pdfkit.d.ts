/** What we use of pdfkit 0.20; the package ships no types. Lengths in points, 72 per inch; y runs down. */
declare module 'pdfkit' {
  export interface PdfTextOptions {
    readonly width?: number;
    readonly align?: 'left' | 'center' | 'right';
    readonly lineBreak?: boolean;
    readonly lineGap?: number;
    readonly characterSpacing?: number;
    readonly continued?: boolean;
    /** Font features by tag; false turns one off that is on by itself. */
    readonly features?: Readonly<Record<string, boolean>>;
  }
  export interface PdfDocumentOptions {
    readonly size?: string | readonly [number, number];
    readonly layout?: 'portrait' | 'landscape';
    readonly margin?: number;
    readonly autoFirstPage?: boolean;
    readonly bufferPages?: boolean;
    readonly font?: null | Uint8Array;
    readonly lang?: string;
    readonly tagged?: boolean;
    readonly displayTitle?: boolean;
    readonly compress?: boolean;
    readonly info?: Readonly<Record<string, string | Date>>;
  }
  export default class PDFDocument {
    constructor(options?: PdfDocumentOptions);
    x: number;
    y: number;
    readonly page: { readonly width: number; readonly height: number };
    on(event: 'data', use: (chunk: Uint8Array) => void): this;
    on(event: 'end', use: () => void): this;
    addPage(options?: PdfDocumentOptions): this;
    bufferedPageRange(): { readonly start: number; readonly count: number };
    switchToPage(page: number): this;
    registerFont(name: string, bytes: Uint8Array | ArrayBuffer): this;
    font(name: string): this;
    fontSize(size: number): this;
    widthOfString(text: string, options?: PdfTextOptions): number;
    heightOfString(text: string, options?: PdfTextOptions): number;
    text(text: string, x?: number, y?: number, options?: PdfTextOptions): this;
    save(): this;
    restore(): this;
    translate(x: number, y: number): this;
    rotate(degrees: number): this;
    scale(factor: number): this;
    rect(x: number, y: number, width: number, height: number): this;
    circle(x: number, y: number, radius: number): this;
    path(d: string): this;
    moveTo(x: number, y: number): this;
    lineTo(x: number, y: number): this;
    clip(): this;
    fill(): this;
    stroke(): this;
    fillAndStroke(): this;
    fillColor(colour: string, opacity?: number): this;
    strokeColor(colour: string, opacity?: number): this;
    opacity(share: number): this;
    lineWidth(width: number): this;
    lineCap(style: 'butt' | 'round' | 'square'): this;
    lineJoin(style: 'miter' | 'round' | 'bevel'): this;
    dash(length: number, options: { readonly space: number }): this;
    undash(): this;
    image(source: string, x: number, y: number, options: { readonly width: number; readonly height: number }): this;
    end(): void;
  }
}
