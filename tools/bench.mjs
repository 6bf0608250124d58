/**
 * npm run bench [-- NAME ...]: builds when sources are newer than the build, then runs bench/*.bench.mjs in name order.
 * A bench exports `name` and `run({ print, root })`, which gives (or promises) { title, rows, notes }.
 * Row: { what, oursMs, theirsMs, goal, note?, oursPeakMb?, theirsPeakMb?, limitMb? }. A ratio above its goal is marked, not failed: times on
 * a shared machine are for reading. --json prints one JSON document instead of tables. Exit 2: no bench of that name.
 */
import { spawnSync } from 'node:child_process';
import { existsSync, readdirSync, statSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';

const root = dirname(dirname(fileURLToPath(import.meta.url)));
const args = process.argv.slice(2);
const isJson = args.includes('--json');
const wanted = args.filter((a) => !a.startsWith('--'));

function newestMs(folder) {
  let newest = 0;
  for (const entry of readdirSync(folder, { withFileTypes: true })) {
    const path = join(folder, entry.name);
    if (entry.isDirectory()) newest = Math.max(newest, newestMs(path));
    else if (entry.name.endsWith('.ts') && !entry.name.endsWith('.test.ts'))
      newest = Math.max(newest, statSync(path).mtimeMs);
  }
  return newest;
}

function buildIfNeeded() {
  const info = join(root, 'dist', 'core.tsbuildinfo');
  const hostInfo = join(root, 'dist', 'host.tsbuildinfo');
  const built = Math.min(...[info, hostInfo].map((path) => (existsSync(path) ? statSync(path).mtimeMs : 0)));
  if (newestMs(join(root, 'src')) <= built) return;
  console.error('building ...');
  // Through the compiler's own entry, so that it works with the checkout's version and without a shell.
  const done = spawnSync(
    process.execPath,
    [join(root, 'node_modules/typescript/bin/tsc'), '-b', 'tsconfig.json'],
    { cwd: root, stdio: ['ignore', 2, 2] },
  );
  if (done.status !== 0) {
    console.error('The build failed; run: npm run build');
    process.exit(4);
  }
}

const number = (value, digits) => (Number.isFinite(value) ? value.toFixed(digits) : '-');

function printTable({ title, rows, notes = [] }) {
  console.log(`\n${title}`);
  if (rows.length > 0) {
    const head = ['', 'ours ms', 'theirs ms', 'ratio', 'goal', 'ours MB', 'theirs MB', ''];
    const lines = rows.map((r) => {
      const ratio = r.oursMs / r.theirsMs;
      const mark =
        ratio > r.goal
          ? '! '
          : r.limitMb !== undefined && r.oursPeakMb > r.limitMb
            ? `! above ${number(r.limitMb, 0)} MB `
            : '';
      return [
        r.what,
        number(r.oursMs, 1),
        number(r.theirsMs, 1),
        number(ratio, 2),
        r.goal === undefined ? '-' : `<= ${r.goal}`,
        number(r.oursPeakMb, 0),
        number(r.theirsPeakMb, 0),
        `${mark}${r.note ?? ''}`,
      ];
    });
    const widths = head.map((h, c) => Math.max(h.length, ...lines.map((l) => l[c].length)));
    const isText = (c) => c === 0 || c === head.length - 1;
    for (const line of [head, ...lines]) {
      console.log(
        line
          .map((cell, c) => (isText(c) ? cell.padEnd(widths[c]) : cell.padStart(widths[c])))
          .join('  ')
          .trimEnd(),
      );
    }
  }
  for (const note of notes) console.log(`  ${note}`);
}

const found = [];
for (const file of readdirSync(join(root, 'bench'))
  .filter((f) => f.endsWith('.bench.mjs'))
  .sort()) {
  found.push(await import(pathToFileURL(join(root, 'bench', file)).href));
}
const chosen = wanted.length === 0 ? found : found.filter((b) => wanted.includes(b.name));
if (chosen.length < Math.max(1, wanted.length)) {
  console.error(`No such bench. There are: ${found.map((b) => b.name).join(', ')}`);
  process.exit(2);
}
buildIfNeeded();
const answers = [];
for (const bench of chosen) {
  console.error(`bench ${bench.name}`);
  const answer = await bench.run({ root, print: (line) => console.error(line) });
  answers.push({ name: bench.name, ...answer });
  if (!isJson) printTable(answer);
}
if (isJson) console.log(JSON.stringify(answers, null, 2));
