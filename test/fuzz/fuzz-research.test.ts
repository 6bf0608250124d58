import { gzipSync, zipSync } from 'fflate';
import { describe, expect, test } from 'vitest';
import { parseNifti } from '../../src/formats/nifti/parse-nifti.ts';
import { parseNrrd } from '../../src/formats/nrrd/parse-nrrd.ts';
import { cleanEntryPath, listZipEntries, readZipEntry } from '../../src/formats/zip/read-zip.ts';
import { sourceOfBytes } from '../../src/formats/zip/zip-types.ts';
import { seed } from '../support/seed.ts';
import { buildNifti, buildNrrd, encodeSamples } from './build-research.ts';
import { makeDraw, makeMemoryWatch, mutateBytes } from './mutate-bytes.ts';

const ROUNDS = Number(process.env['FUZZ_ROUNDS'] ?? 520);
const CODE_FORM = /^[a-z][a-z0-9]*(-[a-z0-9]+)+$/;
const MEMORY_BOUND_MB = 512;

const samples = encodeSamples(
  'int16',
  Array.from({ length: 24 }, (_, i) => i),
  true,
);
const nrrdLines = [
  'type: short',
  'dimension: 3',
  'space: left-posterior-superior',
  'sizes: 2 3 4',
  'space directions: (0.5,0,0) (0,0.5,0) (0,0,0.75)',
  'endian: little',
  'space origin: (0,0,0)',
  'space units: "mm" "mm" "mm"',
];
const nifti = buildNifti({});
const text = (length: number, word: string): Uint8Array => new TextEncoder().encode(word.repeat(length));

function takeNifti(bytes: Uint8Array): string {
  const result = parseNifti(bytes);
  return result.ok ? 'ok' : result.failure.code;
}
function takeNrrd(bytes: Uint8Array): string {
  const result = parseNrrd(bytes);
  return result.ok ? 'ok' : result.failure.code;
}
function takeZip(bytes: Uint8Array): string {
  const source = sourceOfBytes(bytes);
  const listing = listZipEntries(source);
  if (!listing.ok) return listing.failure.code;
  for (const entry of listing.value.entries) {
    if (cleanEntryPath(entry.path) !== entry.path) return `Path leads outside: ${entry.path}`;
    const read = readZipEntry(source, entry, 1 << 24);
    if (!read.ok) return read.failure.code;
    if (read.value.length !== entry.bytes) return `Entry of ${read.value.length} bytes for ${entry.bytes}`;
  }
  return 'ok';
}

const subjects: readonly (readonly [string, Uint8Array, (bytes: Uint8Array) => string, number])[] = [
  ['NIfTI-1', nifti, takeNifti, 352],
  ['NIfTI-2, big endian', buildNifti({ version: 2, isLittleEndian: false, type: 'float32' }), takeNifti, 540],
  ['NIfTI-1, gzip', gzipSync(nifti), takeNifti, 400],
  ['NRRD, raw', buildNrrd([...nrrdLines, 'encoding: raw'], samples), takeNrrd, 300],
  ['NRRD, gzip', buildNrrd([...nrrdLines, 'encoding: gzip'], gzipSync(samples)), takeNrrd, 400],
  [
    'zip, deflated',
    zipSync({ 'a/b.dcm': text(90, 'abc'), 'c.dcm': text(5, 'x'), 'd/': new Uint8Array(0) }),
    takeZip,
    4096,
  ],
  [
    'zip, stored',
    zipSync({ 'a/b.dcm': text(30, 'abc'), 'c.dcm': text(5, 'x') }, { level: 0 }),
    takeZip,
    4096,
  ],
];

describe(`research volumes and archives, damaged (seed ${seed})`, () => {
  test.each(subjects)(
    '%s: every damaged copy is read or refused with a code',
    (name, original, take, hotBytes) => {
      const watch = makeMemoryWatch();
      const outcomes = new Set<string>();
      for (let index = 0; index < ROUNDS; index++) {
        const outcome = take(mutateBytes(original, makeDraw(seed, index), hotBytes));
        if (outcome !== 'ok') expect(outcome, `file ${index} of ${name}`).toMatch(CODE_FORM);
        outcomes.add(outcome);
        if (index % 64 === 0) watch.sample();
      }
      watch.sample();
      expect(outcomes.size).toBeGreaterThan(2);
      expect(watch.peakMb()).toBeLessThan(MEMORY_BOUND_MB);
    },
  );
});
