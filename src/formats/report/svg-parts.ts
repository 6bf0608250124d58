import { HOUSE_EN } from '../../core/text/house-en.ts';
import { escapeText } from './escape-text.ts';
import { formatCoordinate } from './format-number.ts';

export interface PictureFrame {
  /** Unique on the page: names the title, the description and the hatch. */
  readonly id: string;
  readonly width: number;
  readonly height: number;
  readonly title: string;
  readonly description: string;
  readonly isTraining: boolean;
  /** Further classes of the svg element. */
  readonly kind?: string;
  /** Where the training mark stands; default the lower right corner. */
  readonly trainingAt?: readonly [number, number];
}

/** An svg element with title and description, the hatch for doubt, and the training mark where it is due. */
export function wrapPicture(frame: PictureFrame, body: string): string {
  const { id, width, height } = frame;
  const [x, y] = frame.trainingAt ?? [width - 4, height - 6];
  const training = frame.isTraining
    ? `<text class="training end" x="${formatCoordinate(x)}" y="${formatCoordinate(y)}">${escapeText(HOUSE_EN.training)}</text>`
    : '';
  return (
    `<svg class="pic${frame.kind ? ` ${frame.kind}` : ''}" role="img" aria-labelledby="${id}-title ${id}-desc" viewBox="0 0 ${formatCoordinate(width)} ${formatCoordinate(height)}">` +
    `<title id="${id}-title">${escapeText(frame.title)}</title><desc id="${id}-desc">${escapeText(frame.description)}</desc>` +
    `<defs><pattern id="${id}-hatch" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="hatch" d="M0 0V7"/></pattern></defs>` +
    `${body}${training}</svg>`
  );
}

/** Path data through points; closed with Z. */
export function drawPath(points: readonly (readonly [number, number])[], isClosed = false): string {
  if (points.length === 0) return '';
  const steps = points.map(([x, y], i) => `${i === 0 ? 'M' : 'L'}${formatCoordinate(x)} ${formatCoordinate(y)}`);
  return steps.join('') + (isClosed ? 'Z' : '');
}

export function drawLine(kind: string, x1: number, y1: number, x2: number, y2: number): string {
  return `<path class="${kind}" d="${drawPath([[x1, y1], [x2, y2]])}"/>`;
}

export function drawText(kind: string, x: number, y: number, text: string): string {
  return `<text class="${kind}" x="${formatCoordinate(x)}" y="${formatCoordinate(y)}">${escapeText(text)}</text>`;
}

export function drawBox(kind: string, x: number, y: number, width: number, height: number, extra = ''): string {
  return `<rect class="${kind}" x="${formatCoordinate(x)}" y="${formatCoordinate(y)}" width="${formatCoordinate(Math.max(0, width))}" height="${formatCoordinate(Math.max(0, height))}"${extra}/>`;
}

/** An upright arrow with its head at (x, y2). */
export function drawArrow(x: number, y1: number, y2: number): string {
  const back = y2 < y1 ? 7 : -7;
  return `<path class="line" d="${drawPath([[x, y1], [x, y2]])}${drawPath([[x - 4, y2 + back], [x, y2], [x + 4, y2 + back]])}"/>`;
}

/** Labels at wanted heights pushed apart to `gap`, order kept, inside `low`..`high` where they fit. */
export function spreadLabels(wanted: readonly number[], gap: number, low: number, high: number): readonly number[] {
  const order = wanted.map((y, i) => ({ y, i })).sort((a, b) => a.y - b.y || a.i - b.i);
  const placed = order.map((o) => Math.max(low, Math.min(high, o.y)));
  for (let k = 1; k < placed.length; k++) placed[k] = Math.max(placed[k]!, placed[k - 1]! + gap);
  let limit = high;
  for (let k = placed.length - 1; k >= 0; k--) {
    placed[k] = Math.min(placed[k]!, limit);
    limit = placed[k]! - gap;
  }
  const out = new Array<number>(wanted.length);
  order.forEach((o, k) => (out[o.i] = placed[k]!));
  return out;
}
