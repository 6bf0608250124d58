// Draws docs/pictures/training-root.svg, the picture of the README: the training case, made, measured and drawn by the
// program itself. Run it by hand when the pictures or the survey have changed:  node tools/draw-readme-picture.mjs
import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { setUp, TOP } from './setup.mjs';

const OUT = join(TOP, 'docs', 'pictures', 'training-root.svg');

if (!setUp()) process.exit(1);
const { drawRootPicture } = await import(pathToFileURL(join(TOP, 'dist', 'formats', 'report', 'draw-root-picture.js')).href);
const folder = mkdtempSync(join(tmpdir(), 'trinadir-picture-'));
try {
  const done = spawnSync(process.execPath, [join(TOP, 'bin', 'trinadir.mjs'), 'demo', '--once', '--quiet', '--out', join(folder, 'demo')], {
    stdio: ['ignore', 2, 2], env: { ...process.env, SOURCE_DATE_EPOCH: '0' },
  });
  if (done.status !== 0) throw new Error(`The demo ended with exit code ${done.status}.`);
  const plan = JSON.parse(readFileSync(join(folder, 'demo', 'plan', 'plan.json'), 'utf8'));
  const svg = drawRootPicture(plan.root, plan.training);
  if (svg === null) throw new Error('The training root gave no picture.');
  mkdirSync(join(TOP, 'docs', 'pictures'), { recursive: true });
  writeFileSync(OUT, svg);
  console.log(`docs/pictures/training-root.svg, ${svg.length} characters`);
} finally {
  rmSync(folder, { recursive: true, force: true });
}
