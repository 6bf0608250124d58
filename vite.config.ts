import { createHash } from 'node:crypto';
import { resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build, defineConfig, type Plugin } from 'vite';
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

/** What the room's pages do without when they have no server: the CT's viewer. */
const LEFT_OUT = /\/(solid-view|root-viewer|placing-viewer|draw-worker|viewer-)[^/]*$/;

/** The service worker, built after the pages: it must know the files of this very build, and its own name must not change. */
function offlineWorker(): Plugin {
  let files: { url: string; revision: string | null }[] = [];
  let outDir = '';
  return {
    name: 'offline-worker',
    apply: 'build',
    configResolved: (config) => void (outDir = resolve(config.root, config.build.outDir)),
    writeBundle: (_options, bundle) => {
      files = Object.values(bundle).filter((each) => !LEFT_OUT.test(`/${each.fileName}`)).map((each) => ({
        url: `/${each.fileName}`,
        revision: each.fileName.startsWith('assets/') ? null : createHash('sha256').update(each.type === 'chunk' ? each.code : each.source).digest('hex').slice(0, 16),
      })).sort((a, b) => (a.url < b.url ? -1 : 1));
    },
    closeBundle: async () => {
      await build({
        configFile: false, logLevel: 'warn', root: 'src/web', publicDir: false,
        define: { PAGE_FILES: JSON.stringify(files), 'process.env.NODE_ENV': '"production"' },
        build: { outDir, emptyOutDir: false, target: 'es2022', rollupOptions: { input: fileURLToPath(new URL('./src/web/offline-worker.ts', import.meta.url)), output: { format: 'iife', entryFileNames: 'offline-worker.js' } } },
      });
    },
  };
}

/** The pages: dist/web, served by `trinadir serve`. No address outside the server is named anywhere in them. */
export default defineConfig({
  root: 'src/web',
  base: '/',
  plugins: [sectionStyle(), wordsWithoutScript(), offlineWorker()],
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
