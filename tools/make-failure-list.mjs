// Makes docs/failures.md from the code: every code with which something is refused or doubted, its words and its place.
//   node tools/make-failure-list.mjs            writes it
//   node tools/make-failure-list.mjs --check    only compares
import { existsSync, readFileSync, readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import ts from 'typescript';
import { TOP } from './setup.mjs';

const OUT = join(TOP, 'docs', 'failures.md');
const CODE = /^[a-z0-9]+(-[a-z0-9]+)+$|^defect$/;

/** Texts of the catalogues in src/core/text: "HOUSE_EN.caution" -> text. */
const catalogueTexts = new Map();
function readCatalogues() {
  const folder = join(TOP, 'src', 'core', 'text');
  for (const name of readdirSync(folder).filter((each) => each.endsWith('-en.ts'))) {
    const source = ts.createSourceFile(name, readFileSync(join(folder, name), 'utf8'), ts.ScriptTarget.Latest, true);
    const look = (node) => {
      if (ts.isVariableDeclaration(node) && node.initializer && ts.isCallExpression(node.initializer)) {
        const [texts] = node.initializer.arguments;
        for (const each of texts && ts.isObjectLiteralExpression(texts) ? texts.properties : []) {
          if (ts.isPropertyAssignment(each)) catalogueTexts.set(`${node.name.text}.${each.name.text}`, readTexts(each.initializer)[0]);
        }
      }
      ts.forEachChild(node, look);
    };
    look(source);
  }
}

/** Text of a literal; what is filled in at run time stands as an ellipsis. Several for a choice (a ? 'x' : 'y'). */
function readTexts(node) {
  if (!node) return [];
  if (ts.isParenthesizedExpression(node) || ts.isAsExpression(node) || ts.isSatisfiesExpression(node)) return readTexts(node.expression);
  if (ts.isStringLiteralLike(node)) return [node.text];
  if (ts.isTemplateExpression(node)) return [node.head.text + node.templateSpans.map((span) => `…${span.literal.text}`).join('')];
  if (ts.isPropertyAccessExpression(node)) return readCatalogueText(node.expression, node.name.text);
  if (ts.isCallExpression(node) && node.expression.getText() === 'formatText') {
    return readCatalogueText(node.arguments[0], readTexts(node.arguments[1])[0]);
  }
  if (ts.isConditionalExpression(node)) return [...readTexts(node.whenTrue), ...readTexts(node.whenFalse)];
  if (ts.isBinaryExpression(node) && node.operatorToken.kind === ts.SyntaxKind.PlusToken) {
    const [left] = readTexts(node.left);
    const [right] = readTexts(node.right);
    return left === undefined && right === undefined ? [] : [(left ?? '…') + (right ?? '…')];
  }
  return [];
}

function readCatalogueText(catalogue, key) {
  const text = catalogueTexts.get(`${catalogue.getText()}.${key}`);
  return text === undefined ? [] : [text.replace(/\{\w+\}/g, '…')];
}

function listUnionTexts(node) {
  if (ts.isUnionTypeNode(node)) return node.types.flatMap(listUnionTexts);
  return ts.isLiteralTypeNode(node) && ts.isStringLiteral(node.literal) ? [node.literal.text] : [];
}

/** Calls visit(code, text, next) for each place in one file that names a code. */
function walk(file, visit) {
  const source = ts.createSourceFile(file, readFileSync(join(TOP, file), 'utf8'), ts.ScriptTarget.Latest, true);
  const look = (node) => {
    if (ts.isCallExpression(node) && node.arguments.length >= 3) {
      // fail('code', 'what', 'next'), and helpers that take a code and then, somewhere, what and next in this order
      const [code, ...others] = node.arguments;
      const isFail = node.expression.getText(source) === 'fail';
      const texts = others.map((each) => readTexts(each)[0]);
      const [text, next] = isFail ? texts : texts.filter((each) => each?.includes(' '));
      for (const each of readTexts(code)) if (CODE.test(each) && (isFail || next)) visit(each, text, next);
    }
    if (ts.isObjectLiteralExpression(node)) {
      const get = (name) => node.properties.find((p) => ts.isPropertyAssignment(p) && p.name.getText(source) === name)?.initializer;
      if (get('code') && (get('next') || get('nextStep'))) {
        for (const code of readTexts(get('code'))) visit(code, readTexts(get('text') ?? get('message'))[0], readTexts(get('next') ?? get('nextStep'))[0]);
      }
    }
    if (ts.isTypeAliasDeclaration(node) && /Code$/.test(node.name.text)) {
      for (const code of listUnionTexts(node.type)) visit(code);
    }
    ts.forEachChild(node, look);
  };
  look(source);
}

function build() {
  const rows = new Map();
  const files = readdirSync(join(TOP, 'src'), { recursive: true })
    .map((name) => `src/${name.replaceAll('\\', '/')}`)
    .filter((name) => name.endsWith('.ts') && !/\.(test|suite|bench|d)\.ts$/.test(name))
    .sort();
  for (const file of files) {
    walk(file, (code, text, next) => {
      if (!CODE.test(code)) return;
      const row = rows.get(code) ?? { texts: new Set(), nexts: new Set(), files: new Set() };
      if (text) row.texts.add(text);
      if (next) row.nexts.add(next);
      row.files.add(file);
      rows.set(code, row);
    });
  }
  const cell = (set) => [...set].sort().map((text) => text.replaceAll('|', '\\|').replace(/\s+/g, ' ').trim()).join('<br>');
  const lines = [...rows.entries()]
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([code, row]) => `| \`${code}\` | ${cell(row.texts)} | ${cell(row.nexts)} | ${[...row.files].map((f) => `\`${f.slice(4)}\``).join('<br>')} |`);
  return [
    '<!-- Made by tools/make-failure-list.mjs from the code; do not edit. -->',
    '# Every refusal and doubt, by code',
    '',
    'A code never changes its meaning. An ellipsis stands for a number or word filled in at run time. `defect` is the',
    'program\'s own fault; all others are answers: they say what is wrong with the input and what a person can do.',
    '',
    '| code | what is wrong | what to do | where |',
    '|---|---|---|---|',
    ...lines,
    '',
  ].join('\n');
}

readCatalogues();
const wanted = build();
if (process.argv.includes('--check')) {
  const isCurrent = existsSync(OUT) && readFileSync(OUT, 'utf8') === wanted;
  if (!isCurrent) {
    console.error('docs/failures.md is out of date. Run: node tools/make-failure-list.mjs');
    process.exitCode = 1;
  }
} else writeFileSync(OUT, wanted);
