import type { CutMark, CutPoint, RootCut } from '../../core/root/cut-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { encodeBase64 } from '../png/encode-base64.ts';
import { encodeGreyPng } from '../png/encode-png.ts';
import { escapeText } from './escape-text.ts';
import { formatCoordinate, formatHeight, formatNumber } from './format-number.ts';
import { drawPath, drawText, wrapPicture } from './svg-parts.ts';

/** What a cut is called: its title on the page. */
export function nameCut(cut: RootCut): string {
  switch (cut.role) {
    case 'basal': return REPORT_EN.cutBasal;
    case 'outflow': return formatText(REPORT_EN, 'cutOutflow', { height: formatHeight(cut.heightMm ?? 0) });
    case 'sinus': return formatText(REPORT_EN, 'cutSinus', { height: formatHeight(cut.heightMm ?? 0) });
    default: return formatText(REPORT_EN, 'cutAlong', { cusp: cut.role.slice(-1) });
  }
}

/**
 * A CT picture with its marks as SVG in mm: white lines with a dark edge, so that they show on any grey.
 *
 * Fails     null when the picture cannot be encoded (wrong size)
 */
export function drawCut(cut: RootCut, picture: { readonly id: string; readonly isTraining: boolean }): string | null {
  const png = encodeGreyPng(cut.image.greyLevels, cut.image.widthPx, cut.image.heightPx);
  if (!png.ok) return null;
  const { widthMm, heightMm } = cut.plane;
  const isAlong = cut.heightMm === null;
  const image = `<image width="${formatCoordinate(widthMm)}" height="${formatCoordinate(heightMm)}" preserveAspectRatio="none" href="data:image/png;base64,${encodeBase64(png.value)}"/>`;
  const order: readonly CutMark['kind'][] = ['axis', 'plane', 'wall', 'ring', 'ostium', 'nadir'];
  const marks = order.flatMap((kind) => cut.marks.filter((m) => m.kind === kind)).map((m) => drawMark(m, widthMm)).join('');
  const words = isAlong
    ? drawText('', 3.6, 4, REPORT_EN.cutAorta) + drawArrowMm(2, 6, 2) + drawText('', 3.6, heightMm - 6.4, REPORT_EN.cutVentricle) + drawArrowMm(2, heightMm - 8.6, heightMm - 4.6)
    : drawText('', 1.5, 4, REPORT_EN.sheetSeen);
  const barY = heightMm - 2;
  const bar = withCase(`M2 ${formatCoordinate(barY - 1)}v1h10v-1`, 0.4) + drawText('', 13, barY + 0.4, REPORT_EN.scaleBar);
  return wrapPicture(
    {
      ...picture, kind: 'cut', width: widthMm, height: heightMm, title: nameCut(cut),
      description: isAlong ? formatText(REPORT_EN, 'cutAlongDesc', { cusp: cut.role.slice(-1) }) : REPORT_EN.cutAcrossDesc,
      trainingAt: [widthMm - 1.5, heightMm - 1.6],
    },
    image + marks + words + bar,
  );
}

function withCase(d: string, widthMm: number): string {
  return `<path class="case" stroke-width="${formatCoordinate(widthMm + 0.5)}" d="${d}"/><path class="mark" stroke-width="${formatCoordinate(widthMm)}" d="${d}"/>`;
}

function drawArrowMm(x: number, from: number, to: number): string {
  const back = to < from ? 1.2 : -1.2;
  return withCase(drawPath([[x, from], [x, to]]) + drawPath([[x - 0.8, to + back], [x, to], [x + 0.8, to + back]]), 0.35);
}

function drawDisc([x, y]: CutPoint, letter: string, labelAt: CutPoint): string {
  const [lx, ly] = labelAt;
  return (
    withCase(drawPath([[x, y], [lx, ly]]), 0.3) +
    `<circle class="disc" cx="${formatCoordinate(x)}" cy="${formatCoordinate(y)}" r=".8"/><circle class="disc" cx="${formatCoordinate(lx)}" cy="${formatCoordinate(ly)}" r="2.1"/>` +
    `<text class="disc-letter" x="${formatCoordinate(lx)}" y="${formatCoordinate(ly + 1.05)}">${letter}</text>`
  );
}

function drawMark(mark: CutMark, widthMm: number): string {
  switch (mark.kind) {
    case 'ring': return withCase(drawPath(mark.points, true), 0.4);
    case 'wall': {
      const dots = mark.points.map(([x, y]) => `M${formatCoordinate(x)} ${formatCoordinate(y)}h.01`).join('');
      return withCase(dots, 0.6);
    }
    case 'axis': return `<path class="mark" stroke-width=".2" stroke-opacity=".6" d="${drawPath([mark.from, mark.to])}"/>`;
    case 'plane': {
      const text = mark.level === 'basal' ? REPORT_EN.basalPlane : REPORT_EN.junction;
      const [x, y] = mark.to;
      return withCase(drawPath([mark.from, mark.to]), mark.level === 'basal' ? 0.4 : 0.2) +
        `<text x="${formatCoordinate(x - 1)}" y="${formatCoordinate(y - 0.8)}" text-anchor="end">${text}</text>`;
    }
    case 'nadir': {
      // The letter stands away from the middle of the picture, so that it never covers the ring's inside.
      const [x, y] = mark.at;
      const middle = widthMm / 2;
      const length = Math.hypot(x - middle, y - middle) || 1;
      const reach = 9;
      return drawDisc(mark.at, mark.cusp, [x + ((x - middle) / length) * reach, y + ((y - middle) / length) * reach]);
    }
    case 'ostium': {
      const [x, y] = mark.at;
      const words = mark.side === 'left' ? REPORT_EN.leftOstiumShort : REPORT_EN.rightOstiumShort;
      const off = Math.abs(mark.offMm) < 0.5 ? '' : formatText(REPORT_EN, 'cutOff', {
        mm: formatNumber(Math.abs(mark.offMm), 0), side: mark.offMm > 0 ? REPORT_EN.cutFront : REPORT_EN.cutBehind,
      });
      // Toward the axis, where blood gives a plain ground.
      const [tx, anchor] = x > widthMm / 2 ? [x - 2.4, 'end'] : [x + 2.4, 'start'];
      const line = (dy: number, text: string): string =>
        `<text x="${formatCoordinate(tx)}" y="${formatCoordinate(y + dy)}" text-anchor="${anchor}">${escapeText(text)}</text>`;
      return `<g>${withCase(`M${formatCoordinate(x - 1.3)} ${formatCoordinate(y)}a1.3 1.3 0 1 0 2.6 0a1.3 1.3 0 1 0 -2.6 0`, 0.35)}` +
        line(0.8, words) + (off ? line(3.6, off) : '') + '</g>';
    }
  }
}
