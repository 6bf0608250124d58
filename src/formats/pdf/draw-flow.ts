import type { ChildNode, Element } from 'domhandler';
import { getElementsByTagName, textContent } from 'domutils';
import type PDFDocument from 'pdfkit';
import { drawSvg, readSize } from './draw-svg.ts';

const INK = '#211d17';
const SOFT = '#5a5346';
const DOUBT = '#7d4b00';
const RULE = '#cdc4b0';
const MARGIN = 42;
const LEAST_BELOW_HEADING = 56;
/** Tallest picture, points: a little under half of the page; of class `small` a quarter. */
const MOST_PICTURE = 330;
const MOST_SMALL = 205;
const FOOT = 64;

/** Writes our own page markup down the pages of a document: text, lists, tables and pictures, nothing cut at a page's end. */
export interface Flow {
  readonly doc: PDFDocument;
  y: number;
  readonly left: number;
  readonly width: number;
}

export function startFlow(doc: PDFDocument): Flow {
  doc.addPage({ size: 'A4', margin: 0 });
  return { doc, y: MARGIN, left: MARGIN, width: doc.page.width - 2 * MARGIN };
}

export function breakPage(flow: Flow): void {
  flow.doc.addPage({ size: 'A4', margin: 0 });
  flow.y = MARGIN;
}

const room = (flow: Flow): number => flow.doc.page.height - FOOT - flow.y;

interface TextLook {
  readonly font: 'serif' | 'sans' | 'sans-bold';
  readonly size: number;
  readonly colour: string;
  readonly indent: number;
  readonly after: number;
}
const PLAIN: TextLook = { font: 'serif', size: 10, colour: INK, indent: 0, after: 4 };

/** One paragraph; goes to the next page as a whole when it does not fit. */
export function putText(flow: Flow, text: string, look: Partial<TextLook> = {}, mark = ''): void {
  const { font, size, colour, indent, after } = { ...PLAIN, ...look };
  const { doc } = flow;
  const clean = text.replace(/\s+/g, ' ').trim();
  if (clean === '') return;
  const width = flow.width - indent;
  doc.font(font).fontSize(size);
  const height = doc.heightOfString(clean, { width, lineGap: 1.5 });
  if (height > room(flow)) breakPage(flow);
  doc.fillColor(colour, 1);
  if (mark !== '') doc.text(mark, flow.left + indent - 12, flow.y, { lineBreak: false });
  doc.text(clean, flow.left + indent, flow.y, { width, lineGap: 1.5 });
  flow.y += height + after;
}

const BLOCKS = new Set(['p', 'ul', 'ol', 'table', 'figure', 'svg', 'div', 'details', 'dl', 'section', 'h2', 'h3']);
const classesOf = (e: Element): readonly string[] => ((e as Partial<Element>).attribs?.['class'] ?? '').split(/\s+/);
const isElement = (node: ChildNode): node is Element => node.type === 'tag';

/** A heading goes to the next page rather than stand alone at the foot of this one. */
export function putHeading(flow: Flow, text: string): void {
  if (room(flow) < LEAST_BELOW_HEADING) breakPage(flow);
  putText(flow, text, { font: 'sans-bold', size: 8, colour: SOFT, after: 3 });
}

/** The blocks below a node, in order. What only works on a screen (hints, folded sources) is left out. */
export function drawBlocks(flow: Flow, nodes: readonly ChildNode[]): void {
  for (const node of nodes) {
    if (!isElement(node)) continue;
    const kinds = classesOf(node);
    if (kinds.includes('hint') || kinds.includes('inside') || kinds.includes('caution')) continue;
    if (kinds.includes('note')) drawNoteBlock(flow, node);
    else if (node.name === 'p' || node.name === 'figcaption') drawParagraph(flow, node, kinds);
    else if (node.name === 'ul' || node.name === 'ol') drawItems(flow, node, kinds);
    else if (node.name === 'table') drawTable(flow, node);
    else if (node.name === 'dl') drawPairs(flow, node);
    else if (node.name === 'svg') drawPicture(flow, node, flow.width);
    else if (kinds.includes('cut-row')) drawRow(flow, node);
    else if (node.name === 'figure') drawFigureBlock(flow, node);
    else drawBlocks(flow, node.children.filter((c) => isElement(c) && (BLOCKS.has(c.name) || c.name === 'figcaption')));
  }
}

/** Text of an element as a person reads it: a folded source is not part of it. */
function wordsOf(node: ChildNode): string {
  if (node.type === 'text') return textContent(node);
  if (!isElement(node) || classesOf(node).includes('inside')) return '';
  const inner = node.children.map(wordsOf).join('');
  return ['p', 'div', 'td', 'th', 'li', 'br', 'summary', 'details'].includes(node.name) ? ` ${inner} ` : inner;
}

function drawParagraph(flow: Flow, node: Element, kinds: readonly string[]): void {
  const text = wordsOf(node);
  if (kinds.includes('word')) putText(flow, text, { font: 'sans-bold', size: 24, after: 4 });
  else if (kinds.includes('say')) putText(flow, text, { size: 17, after: 5 });
  else if (node.name === 'figcaption') putText(flow, text, { font: 'sans', size: 8, colour: SOFT, after: 5 });
  else putText(flow, text, kinds.includes('soft') ? { colour: SOFT } : {});
}

function drawNoteBlock(flow: Flow, node: Element): void {
  putText(flow, wordsOf(node), { indent: 12, colour: DOUBT }, '//');
}

function drawItems(flow: Flow, node: Element, kinds: readonly string[]): void {
  for (const item of node.children.filter(isElement)) putText(flow, wordsOf(item), { indent: 12 }, kinds.includes('acts') ? '>' : '–');
}

function drawPairs(flow: Flow, node: Element): void {
  let name = '';
  for (const e of node.children.filter(isElement)) {
    if (e.name === 'dt') name = wordsOf(e).trim();
    else putText(flow, `${name}: ${wordsOf(e).trim()}`, { font: 'sans', size: 7.5, after: 2 });
  }
}

/** A picture stays on the page of its caption. */
function drawFigureBlock(flow: Flow, figure: Element): void {
  const svg = getElementsByTagName('svg', figure)[0];
  const caption = getElementsByTagName('figcaption', figure)[0];
  if (svg) {
    const [w, h] = readSize(svg);
    flow.doc.font('sans').fontSize(8);
    const captionHeight = caption ? flow.doc.heightOfString(wordsOf(caption), { width: flow.width, lineGap: 1.5 }) + 5 : 0;
    if (captionHeight + (h / w) * fitWidth(svg, flow.width, mostOf(svg)) > room(flow)) breakPage(flow);
  }
  drawBlocks(flow, figure.children);
}

/** A tall or square picture is made narrower, so that two find room on a page. */
function fitWidth(svg: Element, width: number, most = MOST_PICTURE): number {
  const [w, h] = readSize(svg);
  return Math.min(width, (most * w) / h);
}

function mostOf(svg: Element): number {
  for (let e = svg.parent as Element | null; e; e = e.parent as Element | null) if (classesOf(e).includes('small')) return MOST_SMALL;
  return MOST_PICTURE;
}

function drawPicture(flow: Flow, svg: Element, width: number): void {
  const [w, h] = readSize(svg);
  const fit = fitWidth(svg, width, mostOf(svg));
  if ((h / w) * fit > room(flow)) breakPage(flow);
  flow.y += drawSvg(flow.doc, svg, flow.left, flow.y, fit) + 8;
}

/** Figures side by side. */
function drawRow(flow: Flow, node: Element): void {
  const figures = node.children.filter(isElement);
  const gap = 10;
  const width = (flow.width - gap * (figures.length - 1)) / Math.max(1, figures.length);
  const heightOf = (e: Element): number => {
    const svg = getElementsByTagName('svg', e)[0];
    if (!svg) return 0;
    const [w, h] = readSize(svg);
    return (h / w) * width;
  };
  const height = Math.max(0, ...figures.map(heightOf)) + 26;
  if (height > room(flow)) breakPage(flow);
  figures.forEach((figure, i) => {
    const svg = getElementsByTagName('svg', figure)[0];
    const x = flow.left + i * (width + gap);
    const caption = getElementsByTagName('figcaption', figure)[0];
    flow.doc.font('sans').fontSize(8).fillColor(SOFT, 1).text(caption ? textContent(caption) : '', x, flow.y, { width });
    if (svg) drawSvg(flow.doc, svg, x, flow.y + 22, width);
  });
  flow.y += height + 6;
}

const CELL_SIZE = 7.5;
/** Of class `large`: read aloud, at arm's length. */
const LARGE_CELL_SIZE = 10;

/** Paragraphs of a cell stand below one another: run together, a sign of one would be read with the words of the next. */
function cellOf(cell: Element): string {
  const inner = cell.children.filter(isElement);
  const parts = inner.length > 1 && inner.every((e) => e.name === 'p') ? inner : [cell];
  return parts.map((e) => wordsOf(e).replace(/\s+/g, ' ').trim()).join('\n');
}

/** A table with columns as wide as their longest words ask for; rows are not cut, the head is repeated. */
function drawTable(flow: Flow, table: Element): void {
  const caption = getElementsByTagName('caption', table)[0];
  // The last column of the table of all levels opens on a screen only.
  const isLevels = classesOf((table.parent as Element | null) ?? table).includes('levels') || classesOf((table.parent?.parent as Element | null) ?? table).includes('levels');
  const rows = getElementsByTagName('tr', table).map((tr) => tr.children.filter(isElement).slice(0, isLevels ? -1 : undefined).map(cellOf));
  const columns = Math.max(0, ...rows.map((r) => r.length));
  if (columns === 0) return;
  const { doc } = flow;
  const [size, most] = classesOf(table).includes('large') ? [LARGE_CELL_SIZE, 300] : [CELL_SIZE, 260];
  doc.font('sans').fontSize(size);
  const longest = Array.from({ length: columns }, (_, k) => Math.min(most, Math.max(18, ...rows.flatMap((r) => (r[k] ?? '').split('\n').map((line) => doc.widthOfString(line) + 8)))));
  const word = Array.from({ length: columns }, (_, k) => Math.max(14, ...rows.flatMap((r) => (r[k] ?? '').split(/\s/).map((t) => doc.widthOfString(t) + 6))));
  const total = longest.reduce((a, b) => a + b, 0);
  const widths = longest.map((w, k) => Math.max(word[k]!, total > flow.width ? (w / total) * flow.width : w));
  // Too wide: columns give what they have beyond their longest word; only then all are squeezed.
  const slack = widths.reduce((a, w, k) => a + w - word[k]!, 0);
  const give = Math.min(1, Math.max(0, widths.reduce((a, b) => a + b, 0) - flow.width) / Math.max(slack, 1e-9));
  widths.forEach((w, k) => (widths[k] = w - (w - word[k]!) * give));
  const over = Math.max(1, widths.reduce((a, b) => a + b, 0) / flow.width);
  const heightOf = (r: readonly string[]): number => 5 + Math.max(...r.map((t, k) => doc.heightOfString(t, { width: widths[k]! / over - 5 })));
  const head = getElementsByTagName('thead', table).length > 0 ? rows[0] : undefined;
  const put = (r: readonly string[], colour: string): void => {
    doc.font('sans').fontSize(size);
    const height = heightOf(r);
    let x = flow.left;
    r.forEach((t, k) => {
      doc.fillColor(colour, 1).text(t, x, flow.y + 2, { width: widths[k]! / over - 5 });
      x += widths[k]! / over;
    });
    flow.y += height;
    doc.lineWidth(0.4).strokeColor(RULE, 1).moveTo(flow.left, flow.y).lineTo(flow.left + flow.width, flow.y).stroke();
  };
  if (caption) {
    if (room(flow) < 60) breakPage(flow);
    putText(flow, textContent(caption), { font: 'sans-bold', size: 8.5, after: 3 });
  }
  rows.forEach((r, i) => {
    doc.font('sans').fontSize(size);
    if (heightOf(r) > room(flow)) {
      breakPage(flow);
      if (head && i > 0) put(head, SOFT);
    }
    put(r, head && i === 0 ? SOFT : INK);
  });
  flow.y += 10;
}
