// npm run check: everything that can be said about the code without running it. `npm test` runs this first.
// Prints one line per check; the names of failed ones are returned.
import { spawnSync } from 'node:child_process';
import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { setUp, TOP } from './setup.mjs';

const packageFile = (...parts) => join(TOP, 'node_modules', ...parts);

/** Makers rewrite a committed file from the code; with --check they only compare. */
function listMakers() {
  return readdirSync(join(TOP, 'tools')).filter((name) => /^make-.*\.mjs$/.test(name)).sort();
}

export function runChecks() {
  const checks = [
    ['lint', [packageFile('oxlint', 'bin', 'oxlint'), '--quiet', '.']],
    ['imports', [packageFile('dependency-cruiser', 'bin', 'dependency-cruise.mjs'), '--config', '.dependency-cruiser.mjs', 'src']],
    ['types', [packageFile('typescript', 'bin', 'tsc'), '-p', 'tsconfig.test.json']],
    ['types of the pages', [packageFile('typescript', 'bin', 'tsc'), '-p', 'tsconfig.test-web.json']],
    ...listMakers().map((name) => [name, [join('tools', name), '--check']]),
  ];
  const failed = [];
  for (const [name, args] of checks) {
    const outcome = spawnSync(process.execPath, args, { cwd: TOP, encoding: 'utf8', maxBuffer: 1 << 26 });
    const isSound = outcome.status === 0;
    console.log(`${isSound ? 'ok    ' : 'FAILED'} ${name}`);
    if (!isSound) {
      failed.push(name);
      console.log(`${outcome.stdout}${outcome.stderr}`.trimEnd());
    }
  }
  return failed;
}

if (process.argv[1] === fileURLToPath(import.meta.url)) process.exitCode = setUp() && runChecks().length === 0 ? 0 : 1;
