import { execFileSync } from 'node:child_process';
import { readdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';

const top = fileURLToPath(new URL('../..', import.meta.url));

interface Cruise {
  readonly modules: readonly { readonly source: string }[];
  readonly summary: { readonly violations: readonly { readonly from: string; readonly to: string; readonly rule: { readonly name: string } }[] };
}
function cruise(folder: string): Cruise {
  const program = 'node_modules/dependency-cruiser/bin/dependency-cruise.mjs';
  const args = [program, '--config', '.dependency-cruiser.mjs', '--output-type', 'json', folder];
  return JSON.parse(execFileSync(process.execPath, args, { cwd: top, encoding: 'utf8', maxBuffer: 1 << 28 })) as Cruise;
}
function listBreaches(found: Cruise): string[] {
  const short = (path: string): string => path.replace('test/architecture/canary/', '');
  return found.summary.violations.map((v) => `${v.rule.name}: ${short(v.from)} -> ${short(v.to)}`).sort();
}

describe('the rings', () => {
  test('no import in src breaks a rule, and every source file was seen', () => {
    const found = cruise('src');
    expect(listBreaches(found)).toEqual([]);
    const seen = new Set(found.modules.map((m) => m.source));
    const sources = readdirSync(`${top}/src`, { recursive: true, encoding: 'utf8' })
      .filter((name) => /\.tsx?$/.test(name) && !name.endsWith('.d.ts'))
      .map((name) => `src/${name.replaceAll('\\', '/')}`);
    expect(sources.length).toBeGreaterThan(30);
    expect(sources.filter((name) => !seen.has(name))).toEqual([]);
  });

  test('each rule fires on the canary, exactly where the canary breaks it', async () => {
    const breaches = listBreaches(cruise('test/architecture/canary/src'));
    const fired = new Set(breaches.map((line) => line.slice(0, line.indexOf(':'))));
    const file = new URL('../../.dependency-cruiser.mjs', import.meta.url).href;
    const config = (await import(file)) as { default: { forbidden: readonly { name: string }[] } };
    const names = config.default.forbidden.map((rule) => rule.name);
    expect(names.filter((name) => !fired.has(name))).toEqual([]);
    await expect(`${breaches.join('\n')}\n`).toMatchFileSnapshot('./__snapshots__/canary-breaches.txt');
  });
});
