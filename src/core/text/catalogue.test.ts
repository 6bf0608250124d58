import { readdirSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { formatText, makeCatalogue, type Catalogue } from './catalogue.ts';
import { HOUSE_EN } from './house-en.ts';

const TEXTS = makeCatalogue({ plain: 'No holes.', ring: 'The ring is {areaMm2} mm2 at {heightMm} mm.' });

describe('formatText', () => {
  test('fills each hole with its value', () => {
    expect(formatText(TEXTS, 'ring', { areaMm2: 450.1, heightMm: 0 })).toBe('The ring is 450.1 mm2 at 0 mm.');
    expect(formatText(TEXTS, 'plain')).toBe('No holes.');
  });
  test('leaves a hole visible when an untyped caller forgot its value', () => {
    const untyped = formatText as unknown as (c: Catalogue, key: string, values: object) => string;
    expect(untyped(TEXTS, 'ring', { areaMm2: 1 })).toBe('The ring is 1 mm2 at {heightMm} mm.');
  });
  test('does not compile with a wrong key or a missing value', () => {
    const neverCalled = (): void => {
      // @ts-expect-error no such key
      formatText(TEXTS, 'wring');
      // @ts-expect-error heightMm is missing
      formatText(TEXTS, 'ring', { areaMm2: 1 });
    };
    expect(neverCalled).toBeTypeOf('function');
  });
});

describe('the catalogues', () => {
  test('the caution names what decides', () => {
    expect(HOUSE_EN.caution).toBe(
      "A planning aid for research and teaching, not a medical device; the device's instructions for use, local protocol and licensed practice decide.",
    );
    expect(HOUSE_EN.training).toBe('training, invented sizes');
  });
  test('every catalogue has texts, all ended, with well-formed holes', async () => {
    const files = readdirSync(new URL('.', import.meta.url)).filter((name) => /-en\.ts$/.test(name));
    expect(files.length).toBeGreaterThan(0);
    for (const file of files) {
      const module = (await import(new URL(file, import.meta.url).href)) as Record<string, unknown>;
      for (const [name, texts] of Object.entries(module)) {
        expect(name, file).toMatch(/_EN$/);
        for (const [key, text] of Object.entries(texts as Catalogue)) {
          expect(text.trim(), `${file} ${key}`).not.toBe('');
          expect(text.replace(/\{\w+\}/g, '').replace(/\{ ?"[^{}]*\}/g, ''), `${file} ${key}`).not.toMatch(/[{}]/);
        }
      }
    }
  });
});
