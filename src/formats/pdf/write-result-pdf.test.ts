import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { CLOCK, NO_ENTRIES, NO_SIGNS, VERDICT_RULES, witness } from '../../../test/support/verdict-fixtures.ts';
import { FONT_FILES } from '../../../test/support/wall-fonts.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { composeVerdict } from '../../core/verdict/compose-verdict.ts';
import { makeResultSheet, type ResultSheet } from '../report/make-result-sheet.ts';
import { writeResultPdf } from './write-result-pdf.ts';

const folder = mkdtempSync(join(tmpdir(), 'result-pdf-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const hasReader = spawnSync('pdftotext', ['-v']).status === 0;
const verdict = composeVerdict({
  clock: CLOCK, present: ['one'], grades: [{ by: 'one', at: '2026-03-02T10:15:00.000Z', interval: [1, 1], kind: null }], witnesses: [witness('pressure', [0, 1]), witness('echo', [1, 2]), witness('angiogram', [0, 1])],
  rules: VERDICT_RULES, valve: { kind: 'self-expanding', isWaitAllowed: null, size: null }, root: null, balloonsMm: [], second: null, pressure: null, entries: NO_ENTRIES, signs: NO_SIGNS, gaps: null, seen: null,
});
const sheet: ResultSheet = makeResultSheet(verdict, { label: 'A 7', answerSha256: 'ab12cd34'.repeat(8), shownAt: '2026-03-02T10:16:00.000Z', readers: ['one'], nameOf: () => 'Reader One', decided: [] })!;

describe('writeResultPdf', () => {
  test('gives the same bytes twice', async () => {
    const [one, two] = [await writeResultPdf(sheet, FONT_FILES), await writeResultPdf(sheet, FONT_FILES)];
    expect(Buffer.from(one).equals(Buffer.from(two))).toBe(true);
    expect(Buffer.from(one.subarray(0, 5)).toString()).toBe('%PDF-');
  });
  test.skipIf(!hasReader)('the word and its intervals stand on the first page, all remedies in the document, caution and training mark on each page (skipped without pdftotext)', async () => {
    const path = join(folder, 'result.pdf');
    writeFileSync(path, await writeResultPdf(sheet, FONT_FILES));
    const pages = spawnSync('pdftotext', ['-layout', path, '-']).stdout.toString().split('\f').slice(0, -1).map((p) => p.replace(/\s+/g, ' '));
    for (const said of ['AGREE', 'mild to moderate (1 to 2)', 'decision line', 'Reader One']) expect(pages[0]).toContain(said);
    for (const said of ['Post-dilate', 'Surgery', 'No decision is stored yet']) expect(pages.join(' ')).toContain(said);
    pages.forEach((text, i) => {
      expect(text, `page ${i + 1}`).toContain('not a medical device');
      expect(text, `page ${i + 1}`).toContain(HOUSE_EN.training);
    });
  });
});
