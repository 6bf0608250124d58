import { DESK_COLOURS, PICTURE_CSS, ROOM_COLOURS } from './picture-style.ts';

/**
 * Style of the plan page: desk (light), room (dark) and print, from phone to wide screen. `footer` stands at the foot
 * of each printed page; browsers without page margin boxes print the caution at the end of each section only.
 */
export function drawPageCss(footer: string): string {
  return PAGE_CSS + `@page{@bottom-left{content:"${quoteCss(footer)}";width:88%;text-align:left;vertical-align:top;padding-top:2mm;font:8pt/1.3 sans-serif;color:#444;border-top:.4pt solid #999}}`;
}

/** Text inside a CSS string inside a style element: everything but plain letters, digits and marks as an escape. */
function quoteCss(text: string): string {
  return text.replace(/[^A-Za-z0-9 ,.;:'-]/g, (sign) => `\\${(sign.codePointAt(0) ?? 0).toString(16)} `);
}

/** Typefaces of text and labels; none is fetched. */
export const FONTS = '--text:"Iowan Old Style","Palatino Linotype",Palatino,"URW Palladio L","Book Antiqua",Charter,Georgia,serif;--label:"Gill Sans","Gill Sans MT",Optima,Candara,"Noto Sans",sans-serif';

const ROOT_CSS = `
:root{color-scheme:light dark;${DESK_COLOURS};${FONTS}}
@media (prefers-color-scheme:dark){:root{${ROOM_COLOURS}}}
@media print{:root{color-scheme:light;${DESK_COLOURS};--paper:#fff;--sheet:#fff}}
`;

/** Head, navigation and the elements of a page. */
const BASE_CSS = `*{box-sizing:border-box}
html{background:var(--paper);-webkit-text-size-adjust:100%}
body{margin:0;color:var(--ink);font:1.0625rem/1.5 var(--text);overflow-wrap:break-word}
a{color:var(--act);text-underline-offset:.2em}
:focus-visible{outline:3px solid var(--act);outline-offset:3px;border-radius:2px}
.skip{position:absolute;left:-99rem;background:var(--sheet);padding:.6rem 1rem;z-index:3}
.skip:focus{left:1rem;top:1rem}
.sheet{max-width:74rem;margin:0 auto;padding:0 1.25rem 3rem}
header{padding:2.5rem 0 1.25rem}
h1{font-size:1.25rem;font-weight:400;margin:0;letter-spacing:.01em}
h2{font-size:2rem;font-weight:400;margin:0 0 1.25rem;line-height:1.15}
h3{font:600 .8125rem/1.5 var(--label);letter-spacing:.09em;margin:.35rem 0 .5rem;color:var(--soft)}
.soft{color:var(--soft)}
nav ol{list-style:none;display:flex;flex-wrap:wrap;margin:1rem 0 0;padding:0;border-top:1px solid var(--rule)}
nav li{position:relative;padding:.55rem 2.25rem 0 0}
nav li::before{content:"";position:absolute;left:0;top:-4px;width:7px;height:7px;border-radius:50%;background:var(--ink)}
nav a{display:inline-block;min-height:1.75rem;font-family:var(--label)}
`;

/** The four parts of a section and what stands in them. */
export const SECTION_CSS = `.page{background:var(--sheet);border:1px solid var(--rule);padding:2rem 2.25rem 1.25rem;margin:0 0 1.75rem}
.part{display:grid;grid-template-columns:6.5rem minmax(0,1fr);border-top:1px solid var(--rule);padding:1rem 0 1.25rem}
.part>h3{margin-top:.5rem}
.body>:first-child{margin-top:0}
.say{font-size:1.625rem;line-height:1.35;margin:0 0 .35rem;max-width:44rem;text-wrap:balance}
.number{display:inline-block}
.say .value{font-size:2.75rem;line-height:1.15;white-space:nowrap;font-variant-numeric:lining-nums tabular-nums}
.say .interval{font-size:1.375rem;white-space:normal;font-variant-numeric:lining-nums tabular-nums;color:var(--soft)}
p{margin:.35rem 0 .6rem;max-width:46rem}
ul{margin:.25rem 0 .75rem;padding:0;list-style:none;max-width:46rem}
ul li{margin:.3rem 0;padding-left:1.1rem;position:relative}
.plain li::before{content:"\\2013";position:absolute;left:0;color:var(--soft)}
.acts li{color:var(--act)}
.acts li::before{content:"\\25B8";position:absolute;left:0}
.tag{font:600 .8125rem/1.35 var(--label);color:var(--doubt);border:1px solid var(--doubt);padding:0 .4em;display:inline-block;background:repeating-linear-gradient(45deg,var(--doubt-wash) 0 2px,transparent 2px 7px)}
.doubtful{background:repeating-linear-gradient(45deg,var(--doubt-wash) 0 2px,transparent 2px 7px);padding:0 .15em}
.note{border-left:4px solid;border-image:repeating-linear-gradient(45deg,var(--doubt) 0 2px,transparent 2px 6px) 4;padding:.1rem 0 .1rem .9rem;margin:.75rem 0;max-width:46rem}
.note p{margin:.2rem 0}
.absent{border:1px dashed var(--rule);padding:.75rem 1rem}
figure{margin:0 0 1.5rem}
figcaption{font:.9375rem/1.45 var(--label);color:var(--soft);margin:0 0 .6rem;max-width:46rem}
figcaption b{color:var(--ink);font-weight:600}
figure.wide .pic{max-width:58rem}figure.narrow .pic{max-width:26rem}
.scroll{overflow-x:auto;max-width:100%}
.rings{display:grid;grid-template-columns:minmax(0,1.6fr) minmax(0,1fr);gap:0 1.75rem;align-items:start}
.cut-row{display:grid;gap:1rem 1.25rem;grid-template-columns:repeat(3,minmax(0,1fr));margin:0 0 1.25rem}
.caption{font:.9375rem/1.45 var(--label);color:var(--soft);margin:.75rem 0 1.25rem}
.cut-figure{margin:0;display:flex;flex-direction:column;justify-content:space-between}
.tables{columns:2;column-gap:2.5rem;margin-bottom:.5rem}
table{border-collapse:collapse;width:100%;margin:0 0 1.5rem;font-family:var(--label);font-size:.9375rem;line-height:1.45;break-inside:avoid;font-variant-numeric:lining-nums tabular-nums}
caption{text-align:left;font-weight:600;padding:0 0 .35rem;border-bottom:2px solid var(--ink)}
th,td{text-align:left;vertical-align:top;padding:.3rem .75rem .3rem 0;border-bottom:1px solid var(--rule);font-weight:400}
thead th{color:var(--soft);font-size:.8125rem}
td{min-width:8.5rem}.deposits td{min-width:0}.levels th[scope=row]{white-space:nowrap}
.facts th[scope=row]{width:46%}
.interval{color:var(--soft);white-space:nowrap}
.value{white-space:nowrap}
.cusps{min-width:36rem}.levels table{min-width:52rem}
abbr{text-decoration:underline dotted;cursor:help}
summary{cursor:pointer;list-style:none;display:inline-block;min-height:1.5rem}
summary::-webkit-details-marker{display:none}
.fact>summary{text-decoration:underline dotted var(--act) 1.5px;text-underline-offset:.28em}
.levels>summary{color:var(--act);font-family:var(--label);border:1px solid var(--act);padding:.3rem .9rem;margin-bottom:1rem}
.inside{padding:.3rem 0 .4rem .8rem;border-left:2px solid var(--act);margin:.3rem 0}
.inside p,.refused p{margin:.15rem 0}
.calcium{display:grid;grid-template-columns:minmax(0,1fr) minmax(0,1fr);gap:0 2.5rem;align-items:start}
.caution{font:.8125rem/1.45 var(--label);color:var(--soft);border-top:1px solid var(--rule);padding-top:.6rem;margin:1rem 0 0;max-width:none}
.training-banner{font:italic 1rem/1.4 var(--label);border:1px solid var(--ink);display:inline-block;padding:.15rem .7rem;margin:.75rem 0 0}
.watermark{position:fixed;inset:0;display:flex;align-items:center;justify-content:center;pointer-events:none;z-index:2;font:italic 6vw/1 var(--label);color:var(--ink);opacity:.05;transform:rotate(-32deg);white-space:nowrap;overflow:hidden}
dl{display:grid;grid-template-columns:minmax(9rem,16rem) minmax(0,1fr);gap:.25rem 1.25rem;font-family:var(--label);font-size:.9375rem;margin:0 0 1rem}
dt{color:var(--soft)}dd{margin:0;overflow-wrap:anywhere}
@media (max-width:56rem){.rings{grid-template-columns:minmax(0,1fr)}.tables{columns:1}.calcium{grid-template-columns:minmax(0,1fr)}}
@media (max-width:40rem){
.sheet{padding:0 .5rem 2rem}header{padding:1.25rem .5rem 1rem}.page{padding:1.25rem 1rem .75rem}
.part{grid-template-columns:minmax(0,1fr)}
.say{font-size:1.375rem}.say .value{font-size:2.25rem}.say .interval{font-size:1.2rem}
figure.wide .pic{min-width:38rem}.cut-row{grid-template-columns:minmax(0,1fr)}.sheet-figure .pic{font-size:18px}
dl{grid-template-columns:minmax(0,1fr)}dd{margin-bottom:.4rem}
td{min-width:6rem}
.limits thead,.views thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
.limits,.limits tbody,.limits caption,.views,.views tbody,.views caption{display:block}
.limits tr,.views tr{display:grid;grid-template-columns:minmax(0,1fr) minmax(0,1fr);border-bottom:1px solid var(--rule);padding:.35rem 0}
.limits td,.limits th,.views td,.views th{border:0;padding:.1rem .5rem .1rem 0;min-width:0}
.limits td:last-child,.views td:nth-child(3),.views td:last-child{grid-column:1/-1}
.views td:last-child::before{content:attr(data-name) ": ";color:var(--soft)}
}
`;

const PRINT_CSS = `@page{size:A4 portrait;margin:14mm 14mm 20mm;@bottom-right{content:counter(page) " / " counter(pages);vertical-align:top;padding-top:2mm;font:8pt/1.3 sans-serif;color:#444;border-top:.4pt solid #999}}
@media print{
html{font-size:9.5pt}
.skip,nav,.hint{display:none}
.sheet{max-width:none;padding:0}header{padding:0 0 4mm}
.page{border:0;padding:0;margin:0 0 6mm}.page~.page{break-before:page}
.page~.page.close{break-before:auto;break-inside:avoid}
h2{font-size:20pt;margin-bottom:3mm}h2,h3,caption,figcaption{break-after:avoid}
.part{grid-template-columns:20mm minmax(0,1fr);padding:2.5mm 0 3mm}
.say{font-size:15pt}.say .value{font-size:24pt}.say .interval{font-size:13pt}
figure,tr,.note,li{break-inside:avoid}
figure.wide .pic{max-width:100%;min-width:0}
.rings{grid-template-columns:minmax(0,1.6fr) minmax(0,1fr)}.cut-row{grid-template-columns:repeat(3,1fr);gap:3mm}.tables{columns:2}.calcium{grid-template-columns:minmax(0,1fr) minmax(0,1fr)}
.scroll{overflow:visible}
table,dl{font-size:8.5pt}thead th{font-size:7.5pt}.cusps,.levels table{min-width:0}td{min-width:0}
.levels>summary,.levels td:last-child,.levels th:last-child{display:none}
.levels::details-content{content-visibility:visible;display:block;block-size:auto}
.levels table{break-inside:auto}
.fact>summary{text-decoration:none}
.acts li{color:var(--ink)}
.watermark{font-size:14mm;opacity:.06}
}
`;

const PAGE_CSS = ROOT_CSS + BASE_CSS + SECTION_CSS + PRINT_CSS + PICTURE_CSS;
