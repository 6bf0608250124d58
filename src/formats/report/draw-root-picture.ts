import type { RootSurvey } from '../../core/root/root-types.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { drawRingSheet } from './draw-ring-sheet.ts';
import { drawUnrolledMap } from './draw-unrolled-map.ts';
import { escapeText } from './escape-text.ts';
import { formatCoordinate } from './format-number.ts';
import { DESK_COLOURS, PICTURE_CSS, ROOM_COLOURS } from './picture-style.ts';

/**
 * Ring sheet and unrolled map side by side in one SVG file that needs nothing else; it follows the reader's light or
 * dark setting. For a README or a slide.
 *
 * Shape     SVG text; null when neither picture can be drawn
 */
export function drawRootPicture(root: RootSurvey, isTraining: boolean): string | null {
  const pictures = [drawRingSheet(root, { id: 'sheet', isTraining }), drawUnrolledMap(root, { id: 'map', isTraining })]
    .filter((svg): svg is string => svg !== null);
  if (pictures.length === 0) return null;
  const height = 560;
  const gap = 28;
  let x = gap;
  const placed = pictures.map((svg) => {
    const [width, tall] = readSize(svg);
    const scale = Math.min(height / tall, 760 / width);
    const [w, h] = [width * scale, tall * scale];
    const at = `x="${formatCoordinate(x)}" y="${formatCoordinate(gap + (height - h) / 2)}" width="${formatCoordinate(w)}" height="${formatCoordinate(h)}"`;
    x += w + gap;
    return svg.replace('<svg ', `<svg ${at} `);
  });
  const [width, tall] = [formatCoordinate(x), formatCoordinate(height + 2 * gap)];
  return (
    `<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 ${width} ${tall}" width="${width}" height="${tall}">` +
    `<title>${escapeText(`${REPORT_EN.sheetTitle}; ${REPORT_EN.mapTitle}`)}</title>` +
    `<style>svg{${DESK_COLOURS}}@media (prefers-color-scheme:dark){svg{${ROOM_COLOURS}}}.ground{fill:var(--sheet)}${PICTURE_CSS}.pic{width:auto}</style>` +
    `<rect class="ground" width="${width}" height="${tall}"/>${placed.join('')}</svg>\n`
  );
}

function readSize(svg: string): readonly [number, number] {
  const box = /viewBox="0 0 ([\d.]+) ([\d.]+)"/.exec(svg);
  return [Number(box?.[1] ?? 1), Number(box?.[2] ?? 1)];
}
