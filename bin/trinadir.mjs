#!/usr/bin/env node
import { existsSync } from 'node:fs';

const main = new URL('../dist/host/cli/main.js', import.meta.url);
if (existsSync(main)) {
  const { runProgram } = await import(main.href);
  await runProgram();
} else {
  const text = 'Trinadir is not built yet.';
  const next = 'Run npm run setup, then try again.';
  const error = { code: 'not-built', text, next, where: 'trinadir' };
  console.error(process.argv.includes('--json') ? JSON.stringify({ error }) : `trinadir: ${text}\n  Next: ${next}`);
  process.exitCode = 2;
}
