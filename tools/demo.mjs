// npm run demo [-- --once --out DIR --port N]: setup, then `trinadir demo` with the same arguments.
import { spawn } from 'node:child_process';
import { join } from 'node:path';
import { setUp, TOP } from './setup.mjs';

if (!setUp()) process.exit(1);
const program = join(TOP, 'bin', 'trinadir.mjs');
const child = spawn(process.execPath, [program, 'demo', ...process.argv.slice(2)], { stdio: 'inherit' });
for (const signal of ['SIGINT', 'SIGTERM']) process.on(signal, () => child.kill(signal));
child.on('exit', (code, signal) => (process.exitCode = signal ? 1 : (code ?? 1)));
