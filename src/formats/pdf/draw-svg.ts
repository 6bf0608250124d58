import type { ChildNode, Element } from 'domhandler';
import { textContent } from 'domutils';
import type PDFDocument from 'pdfkit';
import { readPaint, readStyle, type Style } from './read-style.ts';

/**
 * Draws one of our own pictures (the SVG subset of src/formats/report) as vectors at a place of the page.
 * Units     points; the picture is scaled to `width`
 * Shape     path, rect, circle, text, image; class styles of the picture sheet; hatch as clipped lines
 * Fails     never: an element it does not know is a defect and throws, so that a new one is noticed by the tests
 */
export function drawSvg(doc: PDFDocument, svg: Element, x: number, y: number, width: number): number {
  const [w, h] = readSize(svg);
  const scale = width / w;
  const kind = classesOf(svg).includes('cut') ? 'cut' : 'pic';
  const size = Number.parseFloat(readStyle(kind, 'svg', [], {})['font-size'] ?? '14');
  doc.save().translate(x, y).scale(scale);
  if (kind === 'cut') doc.rect(0, 0, w, h).fillColor('#000', 1).fill();
  doc.rect(0, 0, w, h).clip();
  for (const child of svg.children) drawNode(doc, child, kind, size);
  doc.restore();
  return h * scale;
}

/** Width and height of a picture in its own units. */
export function readSize(svg: Element): readonly [number, number] {
  const [, , w, h] = (svg.attribs['viewBox'] ?? '').split(/\s+/).map(Number);
  if (!(w! > 0 && h! > 0)) throw new Error('A picture of ours has no viewBox.');
  return [w!, h!];
}

const SILENT = new Set(['title', 'desc', 'defs']);
const classesOf = (e: Element): string[] => (e.attribs['class'] ?? '').split(/\s+/).filter((c) => c !== '');

function drawNode(doc: PDFDocument, node: ChildNode, kind: 'pic' | 'cut', size: number): void {
  if (node.type !== 'tag') return;
  const e = node as Element;
  if (SILENT.has(e.name)) return;
  const number = (key: string): number => Number(e.attribs[key] ?? 0);
  const style = readStyle(kind, e.name, classesOf(e), e.attribs);
  doc.save();
  switch (e.name) {
    case 'g':
      moveBy(doc, e.attribs['transform']);
      for (const child of e.children) drawNode(doc, child, kind, size);
      break;
    case 'path':
      paint(doc, style, () => doc.path(e.attribs['d'] ?? ''));
      break;
    case 'rect':
      if (number('width') > 0 && number('height') > 0) paint(doc, style, () => doc.rect(number('x'), number('y'), number('width'), number('height')));
      break;
    case 'circle':
      paint(doc, style, () => doc.circle(number('cx'), number('cy'), number('r')));
      break;
    case 'image':
      doc.image(e.attribs['href'] ?? '', number('x'), number('y'), { width: number('width'), height: number('height') });
      break;
    case 'text':
      drawLabel(doc, e, style, size);
      break;
    default:
      throw new Error(`The picture holds a ${e.name}, which the PDF cannot draw.`);
  }
  doc.restore();
}

function moveBy(doc: PDFDocument, transform: string | undefined): void {
  const move = /translate\(([-\d.]+)[ ,]+([-\d.]+)\)/.exec(transform ?? '');
  if (move) doc.translate(Number(move[1]), Number(move[2]));
}

/** Fills and strokes one shape; `put` is called once per use, since a painted path is gone. */
function paint(doc: PDFDocument, style: Style, put: () => unknown): void {
  if (style['fill']?.startsWith('url(')) {
    doc.save();
    put();
    doc.clip();
    drawHatch(doc);
    doc.restore();
  }
  const fill = readPaint(style['fill'] ?? '#000');
  if (fill) {
    put();
    doc.fillColor(fill.colour, fill.opacity * Number(style['fill-opacity'] ?? 1)).fill();
  }
  const stroke = readPaint(style['stroke']);
  if (!stroke) return;
  put();
  doc.lineWidth(Number.parseFloat(style['stroke-width'] ?? '1')).strokeColor(stroke.colour, stroke.opacity * Number(style['stroke-opacity'] ?? 1));
  doc.lineCap(style['stroke-linecap'] === 'round' ? 'round' : 'butt').lineJoin(style['stroke-linejoin'] === 'round' ? 'round' : 'miter');
  const dash = style['stroke-dasharray']?.split(/[ ,]+/).map(Number);
  if (dash) doc.dash(Math.max(0.1, dash[0]!), { space: dash[1] ?? dash[0]! });
  doc.stroke();
  if (dash) doc.undash();
}

/** Slanted lines 7 apart over the clipped shape, as the page's hatch pattern. */
function drawHatch(doc: PDFDocument): void {
  const paintOf = readPaint('var(--doubt)')!;
  doc.strokeColor(paintOf.colour, 1).lineWidth(1.4);
  for (let k = -1200; k <= 1200; k += 9.9) doc.moveTo(k, 0).lineTo(k + 1200, 1200);
  doc.stroke();
}

function drawLabel(doc: PDFDocument, e: Element, style: Style, size: number): void {
  const text = textContent(e);
  const fontSize = Number.parseFloat(style['font-size'] ?? String(size));
  doc.font(Number(style['font-weight'] ?? 400) >= 600 ? 'sans-bold' : 'sans').fontSize(fontSize);
  const anchor = style['text-anchor'];
  const width = doc.widthOfString(text);
  let [x, y] = [Number(e.attribs['x'] ?? 0), Number(e.attribs['y'] ?? 0)];
  moveBy(doc, e.attribs['transform']);
  const turn = /rotate\(([-\d.]+)\)/.exec(e.attribs['transform'] ?? '');
  if (turn) doc.rotate(Number(turn[1]));
  if (anchor === 'middle') x -= width / 2;
  if (anchor === 'end') x -= width;
  y -= 0.928 * fontSize; // ascender of the embedded font: pdfkit places the top of the line, SVG its base line
  const halo = readPaint(style['stroke']);
  const put = (dx: number, dy: number): void => void doc.text(text, x + dx, y + dy, { lineBreak: false });
  if (halo) {
    // A light rim in eight directions: strokes of embedded glyphs do not print alike everywhere.
    const rim = Number.parseFloat(style['stroke-width'] ?? '1') / 2;
    doc.fillColor(halo.colour, halo.opacity);
    for (let k = 0; k < 8; k++) put(rim * Math.cos((k * Math.PI) / 4), rim * Math.sin((k * Math.PI) / 4));
  }
  const fill = readPaint(style['fill'] ?? '#000') ?? { colour: '#000', opacity: 1 };
  doc.fillColor(fill.colour, fill.opacity);
  put(0, 0);
}
