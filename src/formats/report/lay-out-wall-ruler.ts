import { BOARD_CAP_MM, drawRect, type Pen, type Region } from './wall-pen.ts';
import { spreadLabels } from './svg-parts.ts';
import type { RulerWords } from './wall-sheet.ts';

/**
 * The depth ruler in mm of the wall: down is toward the ventricle. Aim is an open box, below the stop everything is
 * hatched under a thick line, the newest depth is a disc on its band; an empty window is two opposed brackets.
 */
export function layOutRuler(ruler: RulerWords, pen: Pen, region: Region): void {
  const { k, shapes } = pen;
  const cap = BOARD_CAP_MM.text * k;
  const [top, bottom] = [region.top, region.bottom - 2 * k];
  const y = (mm: number): number => top + ((Math.max(ruler.fromMm, Math.min(ruler.toMm, mm)) - ruler.fromMm) / (ruler.toMm - ruler.fromMm)) * (bottom - top);
  const axis = region.left + 4 * k;
  const [left, right] = [axis + 3 * k, axis + 33 * k];
  const label = right + 15 * k;
  shapes.push({ d: `M${axis} ${top}V${bottom}`, fill: 'none', strokeMm: 0.8 * k });
  for (let mm = Math.ceil(ruler.fromMm); mm <= ruler.toMm; mm++) shapes.push({ d: `M${axis - 3 * k} ${y(mm)}H${axis}`, fill: 'none', strokeMm: 0.8 * k });
  if (ruler.stopMm !== null && ruler.stopMm < ruler.toMm) shapes.push({ d: drawRect(left, y(ruler.stopMm), right - left, bottom - y(ruler.stopMm)), fill: 'hatch', strokeMm: 0 });
  if (ruler.aim) shapes.push({ d: drawRect(left, y(ruler.aim[0]), right - left, y(ruler.aim[1]) - y(ruler.aim[0])), fill: 'paper', strokeMm: 1.6 * k });
  if (ruler.gap) for (const [mm, back] of [[ruler.gap[0], -7 * k], [ruler.gap[1], 7 * k]] as const) shapes.push({ d: `M${left} ${y(mm) + back}V${y(mm)}H${right}V${y(mm) + back}`, fill: 'none', strokeMm: 2 * k });
  if (ruler.stopMm !== null) shapes.push({ d: `M${left} ${y(ruler.stopMm)}H${right}`, fill: 'none', strokeMm: 4 * k });
  shapes.push({ d: `M${axis} ${y(0)}H${right}`, fill: 'none', strokeMm: 1.4 * k, dashMm: [5 * k, 3 * k] });

  const places = spreadLabels(ruler.marks.map((m) => y(m.mm)), 1.3 * cap, top + cap / 2, bottom - cap / 2);
  ruler.marks.forEach((mark, i) => {
    const at = places[i]!;
    shapes.push({ d: `M${right + 1 * k} ${y(mark.mm)}L${label - 3 * k} ${at}`, fill: 'none', strokeMm: 0.6 * k });
    pen.put('ruler', mark.is === 'stop' ? 'bold' : 'plain', cap, mark.text, label, at + cap / 2, mark.is === 'plane' ? 'soft' : 'ink');
    if (mark.is === 'start') shapes.push({ d: `M${left - 1 * k} ${y(mark.mm) - 5 * k}l9 5l-9 5Z`.replace('l9 5l-9 5', `l${9 * k} ${5 * k}l${-9 * k} ${5 * k}`), fill: 'ink', strokeMm: 0 });
  });
  if (!ruler.now) return;
  const x = (left + right) / 2 + 4 * k;
  const { mm, lowMm, highMm, isOld } = ruler.now;
  // Free ground around the pin: it must be seen inside the hatch as well.
  shapes.push({ d: drawRect(x - 9 * k, y(lowMm) - 3.5 * k, 18 * k, y(highMm) - y(lowMm) + 7 * k), fill: 'paper', strokeMm: 0 });
  const dashMm = isOld ? [3 * k, 2.5 * k] : undefined;
  shapes.push({ d: `M${x - 6 * k} ${y(lowMm)}h${12 * k}M${x} ${y(lowMm)}V${y(highMm)}M${x - 6 * k} ${y(highMm)}h${12 * k}`, fill: 'none', strokeMm: 2.4 * k, ...(dashMm ? { dashMm } : {}) });
  const r = 5.5 * k;
  shapes.push({ d: `M${x - r} ${y(mm)}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0Z`, fill: isOld ? 'paper' : 'ink', strokeMm: 1.4 * k });
}
