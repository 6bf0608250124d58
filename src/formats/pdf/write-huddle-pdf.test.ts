import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { makeCompletedPlan } from '../../../test/support/example-plan.ts';
import { FONT_FILES } from '../../../test/support/wall-fonts.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import type { HuddleCase } from '../report/make-huddle-section.ts';
import { writeHuddlePdf } from './write-huddle-pdf.ts';

const folder = mkdtempSync(join(tmpdir(), 'huddle-pdf-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const hasReader = spawnSync('pdftotext', ['-v']).status === 0;
const about: HuddleCase = { planSha256: 'ab12cd34'.repeat(8), label: 'A 7', procedureOn: '2026-12-01', identity: { name: 'Anna Example', birthDate: '1944-02-03', patientId: 'H 77' }, pins: [], accepted: [] };

describe('writeHuddlePdf', () => {
  test('gives the same bytes twice', async () => {
    const [one, two] = [await writeHuddlePdf(makeCompletedPlan(), about, FONT_FILES), await writeHuddlePdf(makeCompletedPlan(), about, FONT_FILES)];
    expect(Buffer.from(one).equals(Buffer.from(two))).toBe(true);
    expect(Buffer.from(one.subarray(0, 5)).toString()).toBe('%PDF-');
  });
  test.skipIf(!hasReader)('everything that is read aloud stands on the first page; caution and training mark on all (skipped without pdftotext)', async () => {
    const path = join(folder, 'huddle.pdf');
    writeFileSync(path, await writeHuddlePdf(makeCompletedPlan(), about, FONT_FILES));
    const pages = spawnSync('pdftotext', ['-layout', path, '-']).stdout.toString().split('\f').slice(0, -1).map((p) => p.replace(/\s+/g, ' '));
    for (const words of ['Anna Example', '1944-02-03', 'H 77', 'plan ab12cd34', 'START depth', 'STOP: not deeper 4.6 mm', 'Second valve 27', 'Surgeon agreed for rescue']) expect(pages[0]).toContain(words);
    expect(pages.length).toBeLessThanOrEqual(3);
    pages.forEach((text, i) => {
      expect(text, `page ${i + 1}`).toContain('not a medical device');
      expect(text, `page ${i + 1}`).toContain(HOUSE_EN.training);
    });
  });
});
