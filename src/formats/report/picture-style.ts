/**
 * The look of every picture and page: ink on paper by day, light ink in the dark room. `--act` is the one colour for
 * "you can act here", `--doubt` the one for doubt, always with a hatch. Cusps are letters with solid, dashed and
 * dotted lines; no meaning rests on a hue.
 */
export const DESK_COLOURS =
  '--paper:#f1ece0;--sheet:#fbf8f1;--ink:#211d17;--soft:#5a5346;--rule:#cdc4b0;--faint:#e6dfd0;--act:#0b5273;--doubt:#7d4b00;--doubt-wash:rgba(176,112,16,.22);--shade:rgba(60,48,28,.13);--band:rgba(60,48,28,.22)';
export const ROOM_COLOURS =
  '--paper:#07090b;--sheet:#0f1316;--ink:#f4f0e6;--soft:#c0b9aa;--rule:#454b51;--faint:#20262b;--act:#8fd3f4;--doubt:#f4bf62;--doubt-wash:rgba(244,191,98,.26);--shade:rgba(244,236,216,.15);--band:rgba(244,236,216,.26)';

export const PICTURE_CSS = `
.pic{display:block;width:100%;height:auto;font-family:var(--label,"Gill Sans","Gill Sans Nova","Optima","Candara","Noto Sans",sans-serif);font-size:14px;fill:var(--ink);color:var(--ink)}
.pic text{fill:var(--ink);font-variant-numeric:tabular-nums lining-nums}
.pic .soft{fill:var(--soft)}
.pic .halo{stroke:var(--sheet);stroke-width:4px;stroke-linejoin:round;paint-order:stroke}
.pic .letter{font-size:22px;font-weight:700;text-anchor:middle}
.pic .mid{text-anchor:middle}.pic .end{text-anchor:end}
.pic .frame{fill:none;stroke:var(--rule);stroke-width:1}
.pic .faint{fill:none;stroke:var(--faint);stroke-width:1}
.pic .rule{fill:none;stroke:var(--soft);stroke-width:1}
.pic .iso{fill:none;stroke:var(--soft);stroke-width:.8}
.pic .iso2{fill:none;stroke:var(--ink);stroke-width:1.2}
.pic .bold{fill:none;stroke:var(--ink);stroke-width:2.8;stroke-linejoin:round}
.pic .broken{stroke-dasharray:5 4}
.pic .line{fill:none;stroke:var(--ink);stroke-width:1.6;stroke-linejoin:round}
.pic .hair{fill:none;stroke:var(--ink);stroke-width:.6;stroke-opacity:.75}
.pic .shade{fill:var(--shade);stroke:none}
.pic .tint{fill:var(--shade);fill-opacity:.38;stroke:var(--ink);stroke-width:.5;stroke-opacity:.5}
.pic .band{fill:var(--band);stroke:none}
.pic .dots{fill:none;stroke:var(--ink);stroke-linecap:round}
.pic .solid{fill:var(--ink);stroke:none}
.pic .open{fill:var(--sheet);stroke:var(--ink);stroke-width:1.8}
.pic .cusp-R,.pic .cusp-L,.pic .cusp-N{fill:none;stroke:var(--ink);stroke-width:1.8;stroke-linecap:round}
.pic .cusp-L{stroke-dasharray:9 6}.pic .cusp-N{stroke-dasharray:.1 5.5;stroke-width:2.6}
.pic .hatch{stroke:var(--doubt);stroke-width:1.4}
.pic .hatchbox{stroke:var(--doubt);stroke-width:1}
.pic .training{fill:var(--soft);font-style:italic}
.cut{font-size:2.5px;background:#000}
.cut text{fill:#fff;stroke:#000;stroke-width:.5px;stroke-linejoin:round;paint-order:stroke}
.cut .case{fill:none;stroke:#000;stroke-opacity:.75;stroke-linejoin:round;stroke-linecap:round}
.cut .mark{fill:none;stroke:#fff;stroke-linejoin:round;stroke-linecap:round}
.cut .disc{fill:#fff;stroke:#000;stroke-width:.25}
.cut .disc-letter{fill:#000;stroke:none;font-weight:700;font-size:3px;text-anchor:middle}
.cut .training{fill:#fff}
`;
