import { spawnSync } from 'node:child_process';
import { copyFileSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';

const top = fileURLToPath(new URL('../..', import.meta.url));

/** Rules that fire on a file of this text at this place. */
function listFiredRules(place: string, text: string): string[] {
  const folder = mkdtempSync(join(tmpdir(), 'trinadir-lint-'));
  copyFileSync(join(top, '.oxlintrc.json'), join(folder, '.oxlintrc.json'));
  mkdirSync(dirname(join(folder, place)), { recursive: true });
  writeFileSync(join(folder, place), text);
  const program = join(top, 'node_modules/oxlint/bin/oxlint');
  const done = spawnSync(process.execPath, [program, '--format=json', '.'], { cwd: folder, encoding: 'utf8' });
  rmSync(folder, { recursive: true });
  const found = JSON.parse(done.stdout) as { diagnostics: readonly { code: string }[] };
  return [...new Set(found.diagnostics.map((each) => /\(([\w-]+)\)/.exec(each.code)![1]!))].sort();
}

describe('the lint rules', () => {
  test('bite in core: chance, clock, any, default export, name of the file', () => {
    const text = 'const a: any = Math.random() + Date.now();\nexport default a;\n';
    const wanted = ['filename-case', 'no-default-export', 'no-explicit-any', 'no-restricted-globals', 'no-restricted-properties'];
    expect(listFiredRules('src/core/badName.ts', text)).toEqual(wanted);
  });
  test('bite in tests: focused, switched off, unseeded', () => {
    const head = "import { describe, test } from 'vitest';\nexport const kept = describe;\n";
    expect(listFiredRules('src/a.test.ts', `${head}test.only('a', () => {});\n`)).toEqual(['no-focused-tests']);
    expect(listFiredRules('src/a.test.ts', `${head}test.skip('a', () => {});\n`)).toEqual(['no-restricted-properties']);
    expect(listFiredRules('src/a.test.ts', `${head}test('a', () => { Math.random(); });\n`)).toEqual(['no-restricted-properties']);
    expect(listFiredRules('src/a.test.ts', `${head}test.skipIf(head)('a', () => {});\n`)).toEqual([]);
  });
  test('bite in the pages: HTML from text, requests past the table of routes, chance, default export', () => {
    const page = (body: string): string[] => listFiredRules('src/web/pages/a-page.tsx', body);
    expect(page('export function draw(e: HTMLElement): void {\n  e.innerHTML = String(Math.random());\n}\n')).toEqual(['no-restricted-properties']);
    expect(page('export const P = () => <p dangerouslySetInnerHTML={{ __html: "" }} />;\n')).toEqual(['no-danger']);
    expect(page("export const ask = (): Promise<Response> => fetch('/api/cases');\n")).toEqual(['no-restricted-globals']);
    expect(page('const a: any = 1;\nexport default a;\n')).toEqual(['no-default-export', 'no-explicit-any']);
    expect(listFiredRules('src/web/parts/markup.tsx', 'export function draw(e: HTMLElement): void {\n  e.innerHTML = "";\n}\n')).toEqual([]);
    expect(listFiredRules('src/web/pages/badName.tsx', 'export const a = 1;\n')).toEqual(['filename-case']);
  });
  test('bite on long files and on types imported as values', () => {
    expect(listFiredRules('src/host/long.ts', 'export const a = 1;\n' + '//\n'.repeat(601))).toEqual(['max-lines']);
    expect(listFiredRules('src/host/a.ts', "import { T } from './t.ts';\nexport type U = T;\n")).toEqual(['consistent-type-imports']);
  });
});
