import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Element } from 'domhandler';
import { parseDocument } from 'htmlparser2';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { makeCompletedPlan, makeExampleVolume } from '../../../test/support/example-plan.ts';
import { FONT_FILES } from '../../../test/support/wall-fonts.ts';
import { NO_CUTS } from '../../core/root/cut-types.ts';
import { makeRootCuts } from '../../core/root/make-root-cuts.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { drawSvg } from './draw-svg.ts';
import { makePdf } from './make-document.ts';
import { writePlanPdf } from './write-plan-pdf.ts';

const folder = mkdtempSync(join(tmpdir(), 'plan-pdf-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const hasReader = spawnSync('pdftotext', ['-v']).status === 0;
const plan = makeCompletedPlan();
const file = join(folder, 'plan.pdf');
let bytes: Uint8Array;
const readPages = (path: string): string[] => spawnSync('pdftotext', ['-layout', path, '-']).stdout.toString().split('\f').slice(0, -1).map((p) => p.replace(/\s+/g, ' '));

/** Grey samples of each page at 30 dots per inch, the foot left out. */
function drawPages(path: string): Uint8Array[] {
  const bytes = spawnSync('pdftoppm', ['-gray', '-r', '30', '-H', '320', '-x', '0', '-y', '0', '-W', '248', path], { maxBuffer: 1 << 28 }).stdout;
  const pages: Uint8Array[] = [];
  for (let at = 0; at < bytes.length; ) {
    const [head, width, height] = /^P5\s(\d+)\s(\d+)\s255\s/.exec(bytes.subarray(at, at + 40).toString('latin1'))!;
    pages.push(bytes.subarray(at + head.length, at + head.length + Number(width) * Number(height)));
    at += head.length + Number(width) * Number(height);
  }
  return pages;
}

beforeAll(async () => {
  const made = makeRootCuts(makeExampleVolume(), plan.root!, 421);
  bytes = await writePlanPdf(plan, made.ok ? made.value : NO_CUTS, FONT_FILES);
  writeFileSync(file, bytes);
});

describe('writePlanPdf', () => {
  test('gives the same bytes twice', async () => {
    const [one, two] = [await writePlanPdf(plan, NO_CUTS, FONT_FILES), await writePlanPdf(makeCompletedPlan(), NO_CUTS, FONT_FILES)];
    expect(Buffer.from(one).equals(Buffer.from(two))).toBe(true);
  });
  test.skipIf(!hasReader)('holds text that can be read out, with the answers of each page (skipped without pdftotext)', () => {
    const text = readPages(file).join(' ');
    for (const words of ['size 27', '1.0 to 4.6 mm', 'Start at 3.0 mm; stop by 4.6 mm.', 'RAO 19 CAU 26', 'CANNOT SAY', 'reach of the room', 'start 3.0 mm']) expect(text).toContain(words);
  });
  test.skipIf(!hasReader)('carries caution, page number and training mark on every page (skipped without pdftotext)', async () => {
    const pages = readPages(file);
    expect(pages.length).toBeGreaterThan(5);
    pages.forEach((text, i) => {
      expect(text, `page ${i + 1}`).toContain("not a medical device; the device's instructions for use");
      expect(text, `page ${i + 1}`).toContain(`${i + 1} / ${pages.length}`);
      expect(text, `page ${i + 1}`).toContain(HOUSE_EN.training);
    });
    const [plain, marked] = [join(folder, 'plain.pdf'), join(folder, 'marked.pdf')];
    writeFileSync(plain, await writePlanPdf({ ...plan, training: false }, NO_CUTS, FONT_FILES));
    writeFileSync(marked, await writePlanPdf(plan, NO_CUTS, FONT_FILES));
    expect(readPages(plain).join(' ')).not.toContain(HOUSE_EN.training);
    // The mark across the page is turned, so that it cannot be read out as a line: it is seen where the plain page is white.
    const [without, withMark] = [drawPages(plain), drawPages(marked)];
    withMark.forEach((page, i) => {
      let seen = 0;
      for (let k = 0; k < page.length; k++) if (page[k]! < 253 && without[i]![k]! > 253) seen++;
      expect(seen, `page ${i + 1}`).toBeGreaterThan(500);
    });
  });
  test.skipIf(!hasReader)('embeds every font it uses (skipped without pdffonts)', () => {
    const fonts = spawnSync('pdffonts', [file]).stdout.toString().trim().split('\n').slice(2);
    expect(fonts.length).toBeGreaterThanOrEqual(2);
    for (const line of fonts) expect(line).toMatch(/ yes yes yes /);
  });
});

describe('drawSvg', () => {
  const draw = (inner: string): Promise<Uint8Array> => makePdf({ title: 't', madeAt: plan.madeAt }, FONT_FILES, (doc) => {
    doc.addPage({ size: 'A4', margin: 0 });
    drawSvg(doc, parseDocument(`<svg class="pic" viewBox="0 0 10 10">${inner}</svg>`, { lowerCaseAttributeNames: false }).children[0] as Element, 0, 0, 100);
  });
  test('knows every element of our pictures, and makes an unknown one a defect', async () => {
    await expect(draw('<g><path class="bold" d="M0 0L5 5"/><rect x="1" y="1" width="2" height="2"/><circle cx="5" cy="5" r="2"/><text x="1" y="9">R</text></g>')).resolves.toBeInstanceOf(Uint8Array);
    await expect(draw('<ellipse cx="5" cy="5" rx="2" ry="1"/>')).rejects.toThrow('The picture holds a ellipse');
  });
});
