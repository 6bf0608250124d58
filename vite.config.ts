import { defineConfig, type Plugin } from 'vite';
import { DESK_EN } from './src/core/text/desk-en.ts';
import { drawDeskCss } from './src/formats/report/desk-style.ts';

/** The sections of a plan look on the page as they do in print: their style is made from the same text. */
function sectionStyle(): Plugin {
  return {
    name: 'section-style',
    enforce: 'pre',
    transform: (_code, id) => (id.split('?')[0]!.endsWith('/style/section-style.css') ? drawDeskCss() : null),
  };
}

/** The one sentence for a browser without scripts stands in the catalogue with all others. */
function wordsWithoutScript(): Plugin {
  return { name: 'words-without-script', transformIndexHtml: (html) => html.replace('<body>', `<body><noscript><p>${DESK_EN.noScript}</p></noscript>`) };
}

/** The pages: dist/web, served by `trinadir serve`. No address outside the server is named anywhere in them. */
export default defineConfig({
  root: 'src/web',
  base: '/',
  plugins: [sectionStyle(), wordsWithoutScript()],
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  build: {
    outDir: '../../dist/web',
    emptyOutDir: true,
    target: 'es2022',
    // The content policy allows scripts and styles of the server alone: nothing is put into the page itself.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    // The 3-D library is one chunk of its own and is fetched only by the page that shows it.
    chunkSizeWarningLimit: 1500,
  },
  worker: { format: 'es' },
});
