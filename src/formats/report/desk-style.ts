import { FONTS, SECTION_CSS } from './page-style.ts';
import { DESK_COLOURS, PICTURE_CSS, ROOM_COLOURS } from './picture-style.ts';

/**
 * Style of sections and pictures for the pages of the desk: the same as on paper. The theme is the attribute
 * `data-theme` of the document (desk or room); without it the reader's own setting decides.
 */
export function drawDeskCss(): string {
  return (
    `:root{color-scheme:light;${DESK_COLOURS};${FONTS}}` +
    `@media (prefers-color-scheme:dark){:root:not([data-theme]){color-scheme:dark;${ROOM_COLOURS}}}` +
    `:root[data-theme=room]{color-scheme:dark;${ROOM_COLOURS}}` +
    `@media print{:root,:root[data-theme=room]{color-scheme:light;${DESK_COLOURS};--paper:#fff;--sheet:#fff}}\n` +
    SECTION_CSS + PICTURE_CSS
  );
}
