import { findWidestSinus } from '../../core/root/make-root-cuts.ts';
import { makeSurveyFrame } from '../../core/root/make-survey-frame.ts';
import { cylinderFromLps, type RootFrame } from '../../core/root/root-frame.ts';
import { CUSPS, type LevelRing, type RootSurvey, type Xyz } from '../../core/root/root-types.ts';
import { isContourByHand } from '../../core/root/use-contour.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { formatCoordinate, formatFact, formatHeight, isAnswered } from './format-number.ts';
import { drawBox, drawLine, drawPath, drawText, spreadLabels, wrapPicture } from './svg-parts.ts';

const SIDE = 500;
/** Room around the sheet for the directions of the body. */
const EDGE = 26;
const LABELS = 150;
const FOOT = 38;
/** Fine lines are drawn at every second measured millimetre: more would run together. */
export const SHEET_STEP_MM = 2;
type Place = (p: readonly [number, number]) => [number, number];

/**
 * The ring sheet: contours of all heights over one another, seen from the aorta, R on top (azimuth 0 up, turning left).
 *
 * Shape     SVG text; null when the basal ring has no contour
 * Source    docs/methods/pictures.md
 */
export function drawRingSheet(root: RootSurvey, picture: { readonly id: string; readonly isTraining: boolean }): string | null {
  const frame = makeSurveyFrame(root);
  const ring = flatten(frame, root.basalRing.contourLps);
  if (ring.length < 3) return null;
  const levels = root.levels.filter((l) => l.contourLps.length >= 3);
  const junctionMm = root.sinotubularJunction.heightMm.value;
  const shown = levels.filter((l) => l.heightMm <= (junctionMm ?? Infinity) + 1);
  const reach = [...shown.flatMap((l) => flatten(frame, l.contourLps)), ...ring].reduce((most, p) => Math.max(most, Math.abs(p[0]), Math.abs(p[1])), 8);
  const halfMm = Math.min(60, Math.ceil(reach) + 3);
  const scale = SIDE / (2 * halfMm);
  // Azimuth 0 is up and azimuth +90 degrees is on the left: that is how it looks from the aorta.
  const place: Place = ([u, v]) => [SIDE / 2 - v * scale, SIDE / 2 - u * scale];

  const parts: string[] = [drawGrid(halfMm, scale)];
  const outflow = nearestLevel(shown, root.outflowTract.heightMm);
  for (const level of shown) {
    if (level.heightMm >= 0 || Math.round(level.heightMm) % SHEET_STEP_MM !== 0) continue;
    parts.push(`<path class="tint" d="${drawPath(flatten(frame, level.contourLps).map(place), true)}"/>`);
  }
  for (const level of shown) {
    if (level.heightMm <= 0 || Math.round(level.heightMm) % SHEET_STEP_MM !== 0) continue;
    parts.push(`<path class="hair" d="${drawPath(flatten(frame, level.contourLps).map(place), true)}"/>`);
  }
  const widest = findWidestSinus(levels, junctionMm);
  const junction = junctionMm === null ? null : nearestLevel(levels, junctionMm);
  const named: { readonly points: readonly [number, number][]; readonly text: string; readonly height: string }[] = [];
  const name = (level: LevelRing | null, text: string): void => {
    if (level) named.push({ points: flatten(frame, level.contourLps), text, height: formatHeight(level.heightMm) });
  };
  name(widest, REPORT_EN.widest);
  name(junction, REPORT_EN.junction);
  const isByHand = isContourByHand(root.basalRing);
  named.push({ points: ring, text: isByHand ? REPORT_EN.sheetByHand : REPORT_EN.ring, height: REPORT_EN.onPlane });
  name(outflow, REPORT_EN.outflow);
  for (const n of named) if (n.points !== ring) parts.push(`<path class="line" d="${drawPath(n.points.map(place), true)}"/>`);
  for (const cusp of CUSPS) {
    const at = toPlane(frame, root.basalPlane.nadirsLps[cusp]);
    const length = Math.hypot(...at) || 1;
    const end = place([(at[0] / length) * (halfMm - 4), (at[1] / length) * (halfMm - 4)]);
    const letter = place([(at[0] / length) * (halfMm - 2.4), (at[1] / length) * (halfMm - 2.4)]);
    const [x, y] = place(at);
    parts.push(drawLine(`cusp-${cusp}`, x, y, end[0], end[1]));
    parts.push(`<circle class="solid" cx="${formatCoordinate(x)}" cy="${formatCoordinate(y)}" r="5.5"/>`);
    parts.push(drawText('letter halo', letter[0], letter[1] + 8, cusp));
  }
  parts.push(`<path class="bold" d="${drawPath(ring.map(place), true)}"/>`);
  parts.push(drawDiameters(root, ring, CUSPS.map((c) => place(toPlane(frame, root.basalPlane.nadirsLps[c]))), place));
  parts.push(drawLeaders(named, place));
  parts.push(drawFront(frame, halfMm, place));
  parts.push(drawText('soft', 8, 20, REPORT_EN.sheetSeen));
  const barLeft = 12;
  parts.push(`<path class="line" d="M${barLeft} ${SIDE + 8}v8h${formatCoordinate(10 * scale)}v-8"/>`);
  parts.push(drawText('', barLeft + 10 * scale + 8, SIDE + 20, REPORT_EN.scaleBar));
  const [min, max] = [formatFact(root.basalRing.minDiameterMm), formatFact(root.basalRing.maxDiameterMm)];
  const diameters = min && max ? formatText(REPORT_EN, 'sheetDiameters', { min: min.value, max: max.value }) : '';
  const whose = isByHand ? ` ${REPORT_EN.sheetByHandDesc}` : '';
  return wrapPicture(
    {
      ...picture, width: SIDE + EDGE + LABELS, height: SIDE + EDGE + FOOT, title: REPORT_EN.sheetTitle,
      description: formatText(REPORT_EN, 'sheetDesc', { diameters }) + whose,
    },
    `<g transform="translate(${EDGE} ${EDGE})">${parts.join('')}</g>`,
  );
}

function toPlane(frame: RootFrame, point: Xyz): [number, number] {
  const c = cylinderFromLps(frame, point);
  return [c.radiusMm * Math.cos(c.azimuthRad), c.radiusMm * Math.sin(c.azimuthRad)];
}
function flatten(frame: RootFrame, contour: readonly Xyz[]): [number, number][] {
  return contour.map((p) => toPlane(frame, p)).filter((p) => Number.isFinite(p[0]) && Number.isFinite(p[1]));
}
function nearestLevel(levels: readonly LevelRing[], heightMm: number): LevelRing | null {
  let best: LevelRing | null = null;
  for (const level of levels) {
    if (best === null || Math.abs(level.heightMm - heightMm) < Math.abs(best.heightMm - heightMm)) best = level;
  }
  return best && Math.abs(best.heightMm - heightMm) <= 1 ? best : null;
}

function drawGrid(halfMm: number, scale: number): string {
  const d: string[] = [];
  for (let mm = -Math.floor(halfMm / 5) * 5; mm <= halfMm; mm += 5) {
    const at = formatCoordinate(SIDE / 2 + mm * scale);
    d.push(`M${at} 0V${SIDE}M0 ${at}H${SIDE}`);
  }
  return `<path class="faint" d="${d.join('')}"/>${drawBox('frame', 0.5, 0.5, SIDE - 1, SIDE - 1)}`;
}

/** Widest and narrowest extent of the basal ring, each as a measuring line with stops, through the ring's middle. */
function drawDiameters(root: RootSurvey, ring: readonly [number, number][], nadirs: readonly [number, number][], place: Place): string {
  const extents = Array.from({ length: 180 }, (_, deg) => {
    const [c, s] = [Math.cos((deg * Math.PI) / 180), Math.sin((deg * Math.PI) / 180)];
    const along = ring.map((p) => p[0] * c + p[1] * s);
    const [low, high] = [along.reduce((a, b) => Math.min(a, b)), along.reduce((a, b) => Math.max(a, b))];
    return { c, s, low, high };
  });
  const width = (e: { low: number; high: number }): number => e.high - e.low;
  const smallest = extents.reduce((a, b) => (width(b) < width(a) ? b : a));
  const largest = extents.reduce((a, b) => (width(b) > width(a) ? b : a));
  return [
    { e: largest, fact: root.basalRing.maxDiameterMm, key: 'sheetMax' as const },
    { e: smallest, fact: root.basalRing.minDiameterMm, key: 'sheetMin' as const },
  ].map(({ e, fact, key }) => {
    const words = formatFact(fact);
    if (!words || !isAnswered(fact)) return '';
    const a = place([e.c * e.low, e.s * e.low]);
    const b = place([e.c * e.high, e.s * e.high]);
    const length = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1;
    const [nx, ny] = [(-(b[1] - a[1]) / length) * 7, ((b[0] - a[0]) / length) * 7];
    const stop = ([x, y]: readonly [number, number]): string => drawPath([[x - nx, y - ny], [x + nx, y + ny]]);
    // The label lies along its line, turned so that it never stands on its head, on the half further from the nadirs.
    let turn = (Math.atan2(b[1] - a[1], b[0] - a[0]) * 180) / Math.PI;
    if (turn > 90) turn -= 180;
    if (turn <= -90) turn += 180;
    const spots = [0.25, 0.75].map((t) => [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])] as const);
    const room = ([x, y]: readonly [number, number]): number => Math.min(...nadirs.map((n) => Math.hypot(n[0] - x, n[1] - y)));
    const [x, y] = room(spots[0]!) >= room(spots[1]!) ? spots[0]! : spots[1]!;
    const label = `<text class="halo mid" transform="translate(${formatCoordinate(x)} ${formatCoordinate(y)}) rotate(${formatCoordinate(turn)}) translate(0 -7)">${formatText(REPORT_EN, key, { value: words.value })}</text>`;
    return `<path class="line" d="${drawPath([a, b])}${stop(a)}${stop(b)}"/>${label}`;
  }).join('');
}

/** Names of the main contours in the right margin, each with a line to its contour. */
function drawLeaders(named: readonly { readonly points: readonly [number, number][]; readonly text: string; readonly height: string }[], place: Place): string {
  const targets = named.map(({ points }, i) => {
    // Each name takes another direction on the right side, from the upper right to the lower right.
    const wanted = ((-58 + (116 * (i + 0.5)) / named.length) * Math.PI) / 180;
    let best: [number, number] = place(points[0]!);
    let nearest = Infinity;
    for (const p of points) {
      const [x, y] = place(p);
      const gap = Math.abs(Math.atan2(y - SIDE / 2, x - SIDE / 2) - wanted);
      if (gap < nearest) [nearest, best] = [gap, [x, y]];
    }
    return best;
  });
  const ys = spreadLabels(targets.map((t) => t[1]), 46, 40, SIDE - 30);
  return named.map((n, i) => {
    const [x, y] = targets[i]!;
    const labelY = ys[i]!;
    return (
      `<path class="rule" d="${drawPath([[x, y], [SIDE - 14, labelY], [SIDE + 8, labelY]])}"/><circle class="solid" cx="${formatCoordinate(x)}" cy="${formatCoordinate(y)}" r="3"/>` +
      drawText('', SIDE + 13, labelY + 2, n.text) + drawText('soft', SIDE + 13, labelY + 19, n.height)
    );
  }).join('');
}

/** Where the front of the body and the patient's left lie, as far as the plane shows them. */
function drawFront(frame: RootFrame, halfMm: number, place: Place): string {
  const marks: readonly { readonly lps: Xyz; readonly text: string }[] = [
    { lps: [0, -1, 0], text: REPORT_EN.sheetFront },
    { lps: [1, 0, 0], text: REPORT_EN.sheetPatientLeft },
  ];
  return marks.map(({ lps, text }) => {
    const u = lps[0] * frame.uLps[0] + lps[1] * frame.uLps[1] + lps[2] * frame.uLps[2];
    const v = lps[0] * frame.vLps[0] + lps[1] * frame.vLps[1] + lps[2] * frame.vLps[2];
    if (!(Math.hypot(u, v) > 0.3)) return '';
    const out = halfMm / Math.max(Math.abs(u), Math.abs(v));
    const [x, y] = place([u * out, v * out]);
    const [outX, outY] = [x < 1 ? -1 : x > SIDE - 1 ? 1 : 0, y < 1 ? -1 : y > SIDE - 1 ? 1 : 0];
    const along = outX === 0 ? Math.max(40, Math.min(SIDE - 40, x)) : Math.max(60, Math.min(SIDE - 60, y));
    const spot = outX === 0 ? `${formatCoordinate(along)} ${formatCoordinate(outY < 0 ? -11 : SIDE + 22)}` : `${formatCoordinate(outX < 0 ? -11 : SIDE + 20)} ${formatCoordinate(along)}`;
    const turn = outX === 0 ? '' : ' rotate(-90)';
    return (
      `<path class="solid" d="M${formatCoordinate(x)} ${formatCoordinate(y)}l${outX === 0 ? '-6' : outX * -9} ${outX === 0 ? outY * -9 : '-6'}${outX === 0 ? 'h12' : 'v12'}Z"/>` +
      `<text class="soft mid" transform="translate(${spot})${turn}">${text}</text>`
    );
  }).join('');
}
