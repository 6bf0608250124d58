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
  if (major < 20 || (major === 20 && minor < 10)) {
    throw new SetupFailure(`Node ${process.versions.node} is too old.\n  Next: install Node 24 (20.10 or newer works) and try again.`);
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

/** Names, sizes and times of everything the build reads. */
function describeSources() {
  const hash = createHash('sha256');
  const add = (path) => {
    const { size, mtimeMs } = statSync(join(TOP, path));
    hash.update(`${path} ${size} ${mtimeMs}\n`);
  };
  for (const name of readdirSync(TOP)) if (/^tsconfig\..*json$|^package-lock\.json$/.test(name)) add(name);
  for (const name of readdirSync(join(TOP, 'src'), { recursive: true }).sort()) {
    if (name.endsWith('.ts') && !/\.(test|suite|bench)\.ts$/.test(name)) add(join('src', name));
  }
  return hash.digest('hex');
}

function build(sources) {
  console.error('Building (tsc -b) ...');
  const compiler = join(TOP, 'node_modules', 'typescript', 'bin', 'tsc');
  run(process.execPath, [compiler, '-b', 'tsconfig.json'], 'The build', 'correct the lines named above; in an unchanged checkout, remove dist and node_modules and run npm run setup again.');
  mkdirSync(join(TOP, 'dist'), { recursive: true });
  writeFileSync(BUILT, sources);
}

/** True when everything is in place; otherwise says what to do and gives false. */
export function setUp() {
  try {
    checkNode();
    if (!isInstalled()) install();
    const sources = describeSources();
    if (!existsSync(BUILT) || readFileSync(BUILT, 'utf8') !== sources) build(sources);
    return true;
  } catch (problem) {
    if (!(problem instanceof SetupFailure) && !problem.code) throw problem;
    console.error(`setup: ${problem.message}`);
    return false;
  }
}

if (process.argv[1] === fileURLToPath(import.meta.url)) process.exitCode = setUp() ? 0 : 1;
