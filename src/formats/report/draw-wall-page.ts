import { HOUSE_EN } from '../../core/text/house-en.ts';
import { WALL_EN } from '../../core/text/wall-en.ts';
import { packFont } from '../font/pack-font.ts';
import { encodeBase64 } from '../png/encode-base64.ts';
import { escapeText } from './escape-text.ts';
import { formatCoordinate } from './format-number.ts';
import { CARD_MM, layOutWallCard, type CardSheet, type WallFonts } from './lay-out-wall-card.ts';
import type { WallCard } from './list-wall-cards.ts';

/**
 * wall.html: the cards one below the other, each A3 landscape in true millimetres, with its own font, no script and no request.
 * Shape     HTML text; the same cards and fonts give the same bytes
 * Source    docs/methods/pictures.md
 */
export function drawWallPage(cards: readonly WallCard[], fonts: WallFonts): string {
  const sheets = cards.map((card) => layOutWallCard(card, fonts));
  const faces = (['bold', 'plain'] as const).map((name) => {
    const text = sheets.flatMap((s) => s.texts.filter((t) => t.font === name).map((t) => t.text)).join('');
    return `@font-face{font-family:wall-${name};src:url(data:font/woff;base64,${encodeBase64(packFont(fonts[name], text))}) format("woff")}`;
  });
  return (
    '<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width,initial-scale=1">' +
    `<meta http-equiv="Content-Security-Policy" content="default-src 'none'; font-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'">` +
    `<meta name="referrer" content="no-referrer"><title>${escapeText(WALL_EN.title)}</title><style>${faces.join('')}${CSS}</style></head><body>` +
    `<h1>${escapeText(WALL_EN.title)}</h1><p class="hidden">${escapeText(HOUSE_EN.caution)}</p>${sheets.map(drawCard).join('')}</body></html>\n`
  );
}

const CSS = `
:root{color-scheme:only light}
*{margin:0;padding:0}
html{background:#777}
h1,.hidden{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
.card{width:${CARD_MM.width}mm;height:${CARD_MM.height}mm;background:#fff;margin:0 auto 12mm;overflow:hidden;break-inside:avoid;break-after:page}
.card svg{display:block;width:100%;height:100%}
.bold{font-family:wall-bold,sans-serif;font-weight:400}.plain{font-family:wall-plain,sans-serif}
text{fill:#000;font-kerning:none;font-variant-ligatures:none}
@page{size:${CARD_MM.width}mm ${CARD_MM.height}mm;margin:0}
@media print{html{background:#fff}.card{margin:0}.card:last-child{break-after:auto}}
`;

function drawCard({ card, texts, ruleMm, strip }: CardSheet): string {
  const c = formatCoordinate;
  const label = `card-${escapeText(card.id)}`;
  const box = `x="${c(strip.leftMm)}" y="${c(strip.topMm)}" width="${c(strip.widthMm)}" height="${c(strip.heightMm)}"`;
  const pattern = card.mark === 'plain' ? '' : card.mark === 'stop' ? `<rect ${box} fill="#000"/>` : `<rect ${box} fill="url(#hatch-${escapeText(card.id)})" stroke="#000" stroke-width="0.8"/>`;
  const words = texts.map((t) =>
    `<text class="${t.font}" data-part="${t.part}"${t.part === 'title' ? ` id="${label}"` : ''} x="${c(t.leftMm)}" y="${c(t.baselineMm)}" font-size="${t.fontMm.toFixed(4)}">${escapeText(t.text)}</text>`);
  return (
    `<section class="card" aria-labelledby="${label}"><svg viewBox="0 0 ${CARD_MM.width} ${CARD_MM.height}">` +
    `<defs><pattern id="hatch-${escapeText(card.id)}" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path d="M0 0V7" stroke="#000" stroke-width="4"/></pattern></defs>` +
    `${pattern}<path d="M${c(texts[0]!.leftMm)} ${c(ruleMm)}H${CARD_MM.width - 12}" stroke="#000" stroke-width="0.8"/>${words.join('')}</svg></section>`
  );
}
