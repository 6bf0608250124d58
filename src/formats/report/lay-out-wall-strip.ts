import { BOARD_CAP_MM, drawRect, PITCH_MM, type Pen, type Region } from './wall-pen.ts';
import { wrapText } from './lay-out-wall-card.ts';
import type { StripWords } from './wall-sheet.ts';

/**
 * The strip: per place a label with its age, the value below, and a note where there is room. What marks a value stands
 * at its left edge as a pattern.
 */
export function layOutStrip(given: readonly StripWords[], pen: Pen, region: Region): void {
  const { k } = pen;
  const [text, value] = [BOARD_CAP_MM.text * k, BOARD_CAP_MM.value * k];
  const left = region.left + 9 * k;
  const width = region.right - left;
  const measured = given.map((b) => {
    const isBeside = b.note === '' || pen.widthOf('bold', text, b.label) + pen.widthOf('plain', text, b.note) + 5 * k <= width;
    const cap = pen.widthOf('bold', value, b.value) <= width ? value : text;
    const rows = wrapText(b.value, width, (t) => pen.widthOf('bold', cap, t));
    return { ...b, isBeside, cap, rows, height: text + rows.length * (cap + 6 * k) };
  });
  const least = 7 * k;
  const isTooMuch = measured.reduce((sum, b) => sum + b.height + least, -least) > region.bottom - region.top + 2 * k;
  const set = isTooMuch ? measured.slice(1) : measured; // the step is what the room knows best
  const noteHeight = PITCH_MM * k;
  let rest = region.bottom - region.top - set.reduce((sum, b) => sum + b.height + least, -least) - 2 * k;
  const notes = set.filter((b) => !b.isBeside).length * PITCH_MM * k;
  // What is left over parts the places from one another.
  const gap = least + Math.max(0, Math.min(9 * k, (rest - notes) / Math.max(1, set.length - 1)));
  rest -= (gap - least) * (set.length - 1);
  let y = region.top;
  for (const b of set) {
    if (rest < -1e-6 && y + b.height > region.bottom) {
      pen.isCut = true;
      return;
    }
    const hasRow = !b.isBeside && rest >= noteHeight;
    if (hasRow) rest -= noteHeight;
    const height = b.height + (hasRow ? noteHeight : 0);
    if (b.mark !== 'plain') pen.shapes.push({ d: drawRect(region.left, y, 5 * k, height), fill: b.mark === 'stop' ? 'ink' : b.mark === 'old' ? 'dots' : 'hatch', strokeMm: b.mark === 'stop' ? 0 : 0.6 * k });
    pen.put('label', 'bold', text, b.label, left, y + text, 'soft');
    if (b.isBeside && b.note !== '') pen.put('note', 'plain', text, b.note, region.right - pen.widthOf('plain', text, b.note), y + text, 'soft');
    b.rows.forEach((row, i) => pen.put('value', 'bold', b.cap, row, left, y + text + (i + 1) * (b.cap + 6 * k), b.mark === 'old' ? 'soft' : 'ink'));
    if (hasRow) {
      const row = wrapText(b.note, width, (t) => pen.widthOf('plain', text, t));
      if (row.length === 1) pen.put('note', 'plain', text, b.note, left, y + height - (noteHeight - text) / 2 + 1.5 * k, 'soft');
    }
    y += height + gap;
  }
}
