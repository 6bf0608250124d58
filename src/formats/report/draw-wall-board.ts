import { escapeText } from './escape-text.ts';
import type { BoardLayout } from './wall-pen.ts';

/**
 * A laid-out wall as one SVG in mm of its screen. Tones are classes, so that screen and paper colour it each in their way.
 * Shape     SVG text; `id` is unique on the page
 */
export function drawWallBoard(layout: BoardLayout, id: string, label: string): string {
  const { widthMm, heightMm } = layout;
  const n = (v: number): string => String(Math.round(v * 100) / 100);
  const shapes = layout.shapes.map((s) => {
    const fill = s.fill === 'hatch' || s.fill === 'dots' ? ` fill="url(#${id}-${s.fill})"` : '';
    const stroke = s.strokeMm > 0 ? ` stroke-width="${n(s.strokeMm)}"` : '';
    const dash = s.dashMm ? ` stroke-dasharray="${s.dashMm.map(n).join(' ')}"` : '';
    return `<path class="fill-${s.fill}${s.strokeMm > 0 ? ' drawn' : ''}" d="${s.d.replace(/-?\d+\.\d+/g, (v) => n(Number(v)))}"${fill}${stroke}${dash}/>`;
  });
  const texts = layout.texts.map((t) => `<text class="${t.font} ${t.tone}" data-part="${t.part}" x="${n(t.leftMm)}" y="${n(t.baselineMm)}" font-size="${t.fontMm.toFixed(3)}">${escapeText(t.text)}</text>`);
  const size = 5.6 * Math.max(1, Math.min(widthMm, heightMm) / 299);
  return (
    `<svg class="board" role="img" aria-label="${escapeText(label)}" viewBox="0 0 ${n(widthMm)} ${n(heightMm)}"><defs>` +
    `<pattern id="${id}-hatch" width="${n(size)}" height="${n(size)}" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="pattern" d="M0 0V${n(size)}" stroke-width="${n(size * 0.9)}"/></pattern>` +
    `<pattern id="${id}-dots" width="${n(size)}" height="${n(size)}" patternUnits="userSpaceOnUse"><circle class="pattern-dot" cx="${n(size / 2)}" cy="${n(size / 2)}" r="${n(size * 0.22)}"/></pattern>` +
    `</defs>${shapes.join('')}${texts.join('')}</svg>`
  );
}
