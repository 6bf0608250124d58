// Makes docs/methods/README.md: one line per page, from its title and its first sentence.
//   node tools/make-method-index.mjs [--check]
import { existsSync, readFileSync, readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { TOP } from './setup.mjs';

const FOLDER = join(TOP, 'docs', 'methods');
const OUT = join(FOLDER, 'README.md');

function describePage(name) {
  const text = readFileSync(join(FOLDER, name), 'utf8').replace(/<!--[\s\S]*?-->\s*/g, '');
  const title = /^# (.+)$/m.exec(text)?.[1] ?? name;
  const paragraphs = text.split(/\n\s*\n/).map((each) => each.replace(/\s+/g, ' ').trim());
  const first = paragraphs.find((each) => each !== '' && !/^([#|>`-]|Code:|\*\*Code)/.test(each)) ?? '';
  const sentence = (/^.*?[.?](?= |$)/.exec(first)?.[0] ?? first).replace(/^\*\*[^*]+\*\*\s*/, '').replaceAll('|', '\\|');
  return `| [${title}](${name}) | ${sentence} |`;
}

function build() {
  const pages = readdirSync(FOLDER).filter((name) => name.endsWith('.md') && name !== 'README.md').sort();
  return [
    '<!-- Made by tools/make-method-index.mjs; do not edit. -->',
    '# How each number is found',
    '',
    'One page per algorithm: the question in clinical words, the equation with units, the source, the figures measured',
    'when it was checked, when it refuses, and when not to believe it. A value marked [M] is from memory or common',
    'practice and unverified.',
    '',
    '| page | question |',
    '|---|---|',
    ...pages.map(describePage),
    '',
  ].join('\n');
}

const wanted = build();
if (process.argv.includes('--check')) {
  if (!(existsSync(OUT) && readFileSync(OUT, 'utf8') === wanted)) {
    console.error('docs/methods/README.md is out of date. Run: node tools/make-method-index.mjs');
    process.exitCode = 1;
  }
} else writeFileSync(OUT, wanted);
