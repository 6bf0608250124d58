import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import ts from 'typescript';
import { describe, expect, test } from 'vitest';

const top = fileURLToPath(new URL('../..', import.meta.url));
const canary = `${top}/test/architecture/canary/types/platform-words.ts`;

/** Names on the canary that a file of this ring could not use, by the ring's own tsconfig. */
function listUnknownWords(ring: string): string[] {
  const path = `${top}/tsconfig.${ring}.json`;
  const parsed = ts.parseJsonConfigFileContent(ts.readConfigFile(path, ts.sys.readFile).config, ts.sys, top);
  const declarations = parsed.fileNames.filter((name) => name.endsWith('.d.ts')); // formats/platform.d.ts
  const { tsBuildInfoFile: _unused, ...kept } = parsed.options;
  const options: ts.CompilerOptions = { ...kept, composite: false, incremental: false, noEmit: true, rootDir: top };
  const program = ts.createProgram([canary, ...declarations], options);
  const source = program.getSourceFile(canary)!;
  return program.getSemanticDiagnostics(source).map((d) => source.text.slice(d.start!, d.start! + d.length!));
}

const words = readFileSync(canary, 'utf8').matchAll(/^void (\w+);$/gm);
const all = [...words].map((match) => match[1]!);
const without = (...known: string[]): string[] => all.filter((word) => !known.includes(word));

describe('what each ring sees of the platform', () => {
  test('core sees the language and shared memory, nothing else', () => {
    expect(all.length).toBe(12);
    expect(listUnknownWords('core')).toEqual(without('SharedArrayBuffer'));
  });
  test('formats sees the text decoder as well', () => {
    expect(listUnknownWords('formats')).toEqual(without('TextDecoder', 'SharedArrayBuffer'));
  });
  test('tasks sees neither Node nor the page', () => {
    expect(listUnknownWords('tasks')).toEqual(without('SharedArrayBuffer'));
  });
  test('the pages see the page, not Node', () => {
    expect(listUnknownWords('web')).toEqual(['process', 'Buffer']);
  });
  test('host sees Node, not the page', () => {
    expect(listUnknownWords('host')).toEqual(['document', 'window', 'localStorage']);
  });
});
