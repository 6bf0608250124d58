import { HOUSE_EN } from '../../core/text/house-en.ts';

const escapeHtml = (text: string): string =>
  text.replace(/[&<>"']/g, (c) => ({ '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;', "'": '&#39;' })[c]!);

function drawList(title: string, files: readonly string[]): string {
  if (files.length === 0) return '';
  const rows = files.map((file) => {
    const address = `/${file.split('/').map(encodeURIComponent).join('/')}`;
    return `<li><a href="${escapeHtml(address)}">${escapeHtml(file)}</a></li>`;
  });
  return `<h2>${title}</h2>\n<ul>\n${rows.join('\n')}\n</ul>\n`;
}

/** The first page of the demo: what there is, in the order in which a person wants it. `files` are paths below the folder. */
export function drawAnswerIndex(files: readonly string[]): string {
  const rank = (file: string): number => ['html', 'pdf', 'json'].indexOf(file.slice(file.lastIndexOf('.') + 1));
  const answers = files.filter((file) => /^plan\/[^/]+\.(html|pdf|json)$/.test(file)).sort((a, b) => rank(a) - rank(b));
  const surfaces = files.filter((file) => /^plan\/surfaces\//.test(file));
  const truth = files.filter((file) => file === 'ct/truth.json');
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${HOUSE_EN.demoTitle}</title>
<style>
:root { color-scheme: light dark; }
body { font: 1.05rem/1.5 Georgia, 'DejaVu Serif', serif; max-width: 42rem; margin: 2rem auto; padding: 0 1rem; }
footer { border-top: 1px solid; margin-top: 2rem; padding-top: .5rem; font-size: .9rem; }
</style>
</head>
<body>
<h1>${HOUSE_EN.demoTitle}</h1>
<p>${HOUSE_EN.training}</p>
${drawList(HOUSE_EN.demoPages, answers)}${drawList(HOUSE_EN.demoSurfaces, surfaces)}${drawList(HOUSE_EN.demoTruth, truth)}<footer>${escapeHtml(HOUSE_EN.caution)}</footer>
</body>
</html>
`;
}
