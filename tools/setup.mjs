// Brings a checkout to the state in which everything runs: packages installed, sources built. Plain Node, no packages.
// Does nothing when both are up to date.
import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readFileSync, readdirSync, statSync, utimesSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

export const TOP = fileURLToPath(new URL('..', import.meta.url));
const INSTALLED = join(TOP, 'node_modules', '.package-lock.json');
const BUILT = join(TOP, 'dist', '.built-from');
const BUILT_PAGES = join(TOP, 'dist', '.pages-built-from');
const PAGES_FROM = /^src\/(web|core|formats)\//; // what the pages are made of

class SetupFailure extends Error {}

/** Runs a program in the checkout; its output goes to standard error, so that standard output stays a command's own. */
function run(program, args, what, next) {
  const outcome = spawnSync(program, args, { cwd: TOP, stdio: ['ignore', 2, 2], shell: process.platform === 'win32' && program === 'npm' });
  if (outcome.status !== 0) {
    const how = outcome.error ? outcome.error.code : outcome.signal ?? `exit ${outcome.status}`;
    throw new SetupFailure(`${what} failed (${how}); the reason is above.\n  Next: ${next}`);
  }
}

function checkNode() {
  const [major, minor] = process.versions.node.split('.').map(Number);
  if (major < 20 || (major === 20 && minor < 19)) {
    throw new SetupFailure(`Node ${process.versions.node} is too old.\n  Next: install Node 24 (20.19 or newer works) and try again.`);
  }
}

function isInstalled() {
  if (!existsSync(INSTALLED)) return false;
  return statSync(join(TOP, 'package-lock.json')).mtimeMs <= statSync(INSTALLED).mtimeMs;
}

function install() {
  console.error('Installing packages (npm ci) ...');
  const args = ['ci', '--no-audit', '--no-fund'];
  const next = 'check that this machine reaches the package registry (npm ping) and may write here, then run npm run setup again.';
  const npm = process.env.npm_execpath;
  if (npm && /\.c?js$/.test(npm)) run(process.execPath, [npm, ...args], 'npm ci', next);
  else run('npm', args, 'npm ci', next);
  utimesSync(INSTALLED, new Date(), new Date());
}

/** Names, sizes and times of everything the build reads: of the program, and of the pages alone. */
function describeSources() {
  const [all, pages] = [createHash('sha256'), createHash('sha256')];
  const add = (path) => {
    const { size, mtimeMs } = statSync(join(TOP, path));
    const line = `${path} ${size} ${mtimeMs}\n`;
    const place = path.replaceAll('\\', '/');
    if (!/^src\/web\/.*\.(css|html|svg)$|^vite\.config/.test(place)) all.update(line); // the compiler does not read these
    if (!place.startsWith('src/') || PAGES_FROM.test(place)) pages.update(line);
  };
  for (const name of readdirSync(TOP).sort()) if (/^tsconfig\..*json$|^package-lock\.json$|^vite\.config\.ts$/.test(name)) add(name);
  for (const name of readdirSync(join(TOP, 'src'), { recursive: true }).sort()) {
    if (/\.(ts|tsx|css|html|svg)$/.test(name) && !/\.(test|suite|bench)\.tsx?$/.test(name) && !name.includes('__snapshots__')) add(join('src', name));
  }
  return { all: all.digest('hex'), pages: pages.digest('hex') };
}

const wasMadeFrom = (mark, sources) => existsSync(mark) && readFileSync(mark, 'utf8') === sources;

function build(sources) {
  console.error('Building (tsc -b) ...');
  const compiler = join(TOP, 'node_modules', 'typescript', 'bin', 'tsc');
  run(process.execPath, [compiler, '-b', 'tsconfig.json'], 'The build', 'correct the lines named above; in an unchanged checkout, remove dist and node_modules and run npm run setup again.');
  mkdirSync(join(TOP, 'dist'), { recursive: true });
  writeFileSync(BUILT, sources);
}

/** The pages of `trinadir serve`: dist/web. The mark lies beside the folder, which each build empties. */
function buildPages(sources) {
  if (!existsSync(join(TOP, 'vite.config.ts'))) return; // a checkout without pages
  console.error('Building the pages (vite build) ...');
  run(process.execPath, [join(TOP, 'node_modules', 'vite', 'bin', 'vite.js'), 'build', '--logLevel', 'warn'], 'The build of the pages', 'correct the lines named above; in an unchanged checkout, remove dist and node_modules and run npm run setup again.');
  mkdirSync(join(TOP, 'dist'), { recursive: true });
  writeFileSync(BUILT_PAGES, sources);
}

/** True when everything is in place; otherwise says what to do and gives false. */
export function setUp() {
  try {
    checkNode();
    if (!isInstalled()) install();
    const sources = describeSources();
    if (!wasMadeFrom(BUILT, sources.all)) build(sources.all);
    if (!wasMadeFrom(BUILT_PAGES, sources.pages)) buildPages(sources.pages);
    return true;
  } catch (problem) {
    if (!(problem instanceof SetupFailure) && !problem.code) throw problem;
    console.error(`setup: ${problem.message}`);
    return false;
  }
}

if (process.argv[1] === fileURLToPath(import.meta.url)) process.exitCode = setUp() ? 0 : 1;
