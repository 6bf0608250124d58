import { describe, expect, test } from 'vitest';
import { makeLog } from '../../../test/support/room-log.ts';
import { makeFrozenFixture } from '../../../test/support/frozen-fixture.ts';
import { EVERY_ENTRY, makeLogFixture } from '../../../test/support/room-log-fixtures.ts';
import { readPdfFonts } from '../../host/cli/pdf-fonts.ts';
import type { RoomRecord } from '../../core/room/room-types.ts';
import { makeLogSection } from '../report/make-log-section.ts';
import { writeLogPdf } from './write-log-pdf.ts';

const words = (html: string): string => html.replace(/<[^>]+>/g, ' ').replace(/\s+/g, ' ');

describe('makeLogSection', () => {
  test('says steps, totals against limits, attempts and every record, escaped', () => {
    const { document } = makeFrozenFixture();
    const section = makeLogSection(makeLogFixture(makeLog([...EVERY_ENTRY, { is: 'contrast', ml: 400 }]), document));
    const text = words(section.tables);
    expect(text).toContain('Contrast 412.5 mL 150.0 mL, unverified, PAST LIMIT');
    expect(text).toContain('Clotting time, last 262 s 250.0 s, unverified');
    expect(text).toContain('Heparin, total 5000 units');
    expect(text).toMatch(/1 10:00:05 3\.6 to 4\.4 mm, read 4\.0 .* recaptured 10:00:14/);
    expect(text).toMatch(/NOT SETTLED \(void since 10:00:\d\d\) wait open, post-dilate cannot say One aortogram\./);
    expect(section.tables).toContain('Wire &quot;stiff&quot;, kept; &lt;left&gt; &amp; checked');
    expect(section.tables.match(/<tr>/g)!.length).toBeGreaterThan(EVERY_ENTRY.length);
  });

  test('what the log lacks and how unsure its times are stands in front', () => {
    const [one, two] = makeLog([{ is: 'contrast', ml: 1 }, { is: 'clock', name: 'recorder', aheadS: -37 }]) as [RoomRecord, RoomRecord];
    const doubt = words(makeLogSection(makeLogFixture([{ ...one, offset: null }, { ...two, count: 4, offset: { addedMs: 5000, withinMs: 5000 } }])).doubt);
    for (const said of ['2 taps of one page (2, 3)', '1 records come from a page that never compared', 'no better than 5 s', 'recorder was 37 s behind']) expect(doubt).toContain(said);
    expect(makeLogSection(makeLogFixture(makeLog([{ is: 'contrast', ml: 1 }]))).doubt).toBe('');
  });

  test('replaced, taken-back and correcting records say so', () => {
    const [one, two] = makeLog([{ is: 'contrast', ml: 80 }, { is: 'act', seconds: 200 }]) as [RoomRecord, RoomRecord];
    const text = words(makeLogSection(makeLogFixture([one, two, { ...one, entryId: 'entry-3', count: 3, corrects: 'entry-1', entry: { is: 'contrast', ml: 8 } }, { ...one, entryId: 'entry-4', count: 4, corrects: 'entry-2', entry: null }])).tables);
    for (const said of ['Contrast 80 mL (replaced)', 'Contrast 8 mL (corrects an earlier tap)', 'Clotting time 200 s (withdrawn)', 'Takes an earlier tap back']) expect(text).toContain(said);
  });
});

describe('writeLogPdf', () => {
  test('the same log gives the same bytes; an empty one is a sheet too', async () => {
    const fonts = readPdfFonts();
    const log = makeLogFixture(makeLog(EVERY_ENTRY), makeFrozenFixture().document);
    const [a, b, empty] = [await writeLogPdf(log, fonts), await writeLogPdf(log, fonts), await writeLogPdf(makeLogFixture([]), fonts)];
    expect(Buffer.from(a).equals(Buffer.from(b))).toBe(true);
    for (const pdf of [a, empty]) expect(Buffer.from(pdf.subarray(0, 5)).toString()).toBe('%PDF-');
    if (process.env['KEEP_PDF']) (await import('node:fs')).writeFileSync(process.env['KEEP_PDF'], a);
  });
});
