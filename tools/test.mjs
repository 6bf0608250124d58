// npm test: setup, test tools, checks, then all tests. The last line is "N passed, N failed".
// Arguments go to vitest: npm test -- src/core/root
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { runChecks } from './check.mjs';
import { countTests } from './count-tests.mjs';
import { setUp, TOP } from './setup.mjs';
import { installTestTools } from './test-tools.mjs';

const isCi = ['1', 'true'].includes(process.env.CI ?? '');

function runVitest(args) {
  const folder = mkdtempSync(join(tmpdir(), 'trinadir-test-'));
  const report = join(folder, 'vitest.json');
  const program = join(TOP, 'node_modules', 'vitest', 'vitest.mjs');
  const reporters = ['--reporter=default', '--reporter=json', `--outputFile.json=${report}`];
  const outcome = spawnSync(process.execPath, [program, 'run', ...reporters, ...args], { cwd: TOP, stdio: 'inherit' });
  try {
    return { isGreen: outcome.status === 0, files: JSON.parse(readFileSync(report, 'utf8')).testResults };
  } catch {
    return { isGreen: false, files: [] };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

if (!setUp()) {
  console.log('0 passed, 1 failed');
  process.exit(1);
}
const missing = installTestTools();
const failedChecks = runChecks();
if (missing.length > 0) {
  console.log(`${isCi ? 'FAILED' : 'note  '} test tools missing: ${missing.join(' ')}${isCi ? '' : ' (tests that need them are skipped)'}`);
  if (isCi) failedChecks.push('test tools');
}
const { passed, failed, skipped } = countTests(runVitest(process.argv.slice(2)));
if (skipped.length > 0) console.log(`${skipped.length} skipped:\n${skipped.map((name) => `  ${name}`).join('\n')}`);
if (failedChecks.length > 0) console.log(`Failed checks, counted as failed: ${failedChecks.join(', ')}`);
console.log(`${passed} passed, ${failed + failedChecks.length} failed`);
process.exitCode = failed + failedChecks.length === 0 && passed > 0 ? 0 : 1;
