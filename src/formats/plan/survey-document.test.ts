import { describe, expect, it } from 'vitest';
import { makeSurveyFixture } from '../../../test/support/survey-document-fixtures.ts';
import type { SurveyDocument } from '../../core/root/survey-document.ts';
import { parseSurveyDocument } from './parse-survey-document.ts';
import { writeSurveyDocument } from './write-survey-document.ts';

const document: SurveyDocument = {
  ...makeSurveyFixture(), isBridged: Uint8Array.from({ length: 121 * 96 }, (_, i) => i % 2),
  cuts: { cuts: [{
    role: 'basal', heightMm: 0, plane: { originLps: [1, 2, 3], acrossLps: [1, 0, 0], downLps: [0, 1, 0], widthMm: 1, heightMm: 1 },
    image: { greyLevels: Uint8Array.from([0, 255, 7, 9, 11, 13]), widthPx: 3, heightPx: 2, lowHu: -150, highHu: 700 },
    marks: [{ kind: 'nadir', cusp: 'R', at: [0.5, 0.5], offMm: 0 }],
  }] },
};
const codeOf = (text: string): string => {
  const read = parseSurveyDocument(text);
  return read.ok ? 'read' : read.failure.code;
};
const changed = (change: object): string => JSON.stringify({ ...(JSON.parse(writeSurveyDocument(document)) as object), ...change });

describe('survey document as text', () => {
  it('comes back as it was, radii to a micrometre, and is written the same again', () => {
    const text = writeSurveyDocument(document);
    const read = parseSurveyDocument(text);
    if (!read.ok) throw new Error(read.failure.message);
    expect({ ...read.value, wall: null, seenWall: null }).toEqual({ ...document, wall: null, seenWall: null });
    const off = Math.max(...read.value.wall.radiusMm.map((r, i) => Math.abs(r - document.wall.radiusMm[i]!)));
    expect(off).toBeLessThan(1e-6 * 16); // Float32 of radii below 16 mm
    expect(writeSurveyDocument(read.value)).toBe(text);
  });
  it('opened pockets are kept where there are any', () => {
    const wall = { ...document.wall, openedMm: document.wall.radiusMm.map(() => 0.5) };
    const read = parseSurveyDocument(writeSurveyDocument({ ...document, wall }));
    expect(read.ok && read.value.wall.openedMm![5]).toBe(0.5);
    expect(read.ok && 'openedMm' in read.value.seenWall).toBe(false);
  });
  it('refuses what is cut off, of another format, or does not fit together', () => {
    expect(codeOf(writeSurveyDocument(document).slice(0, 1000))).toBe('survey-not-json');
    expect(codeOf(changed({ format: 'trinadir.survey/9' }))).toBe('survey-other-format');
    expect(codeOf(changed({ isBridged: 'AAAA' }))).toBe('survey-invalid');
    expect(codeOf(changed({ isBridged: '*' }))).toBe('survey-invalid');
    expect(codeOf(changed({ wall: { heights: 4, azimuths: 96, lowMm: 0, stepMm: 1, radiusMm: 'AAAA' } }))).toBe('survey-invalid');
    expect(codeOf(changed({ patient: 'x' }))).toBe('survey-invalid');
  });
});
