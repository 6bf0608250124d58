import { describe, expect, test } from 'vitest';
import { drawPhantom } from '../phantom/draw-phantom.ts';
import { makeSeededShape } from '../phantom/draw-seeded-shape.ts';
import type { PhantomShape } from '../phantom/phantom-types.ts';
import { cutToRoot, makeTwoSinuses } from '../phantom/phantom-variants.ts';
import { makeCoarseField } from '../volume/coarse-field.ts';
import { findRootCandidates } from './find-root-axis.ts';
import { findTubes } from './find-tubes.ts';
import { isTwoLobed } from './refuse-two-cusps.ts';
import { findTwoCusps, seekTwoCusps } from './seek-two-cusps.ts';

const SEED = 4;
const { shape, scan } = makeSeededShape(SEED);
const volumeOf = (s: PhantomShape) => drawPhantom(s, cutToRoot(s, { ...scan, spacingMm: [0.6, 0.6, 0.6], sliceThicknessMm: 0.6 }, 84)).volume;

describe(`seekTwoCusps (phantom seed ${SEED})`, () => {
  test('two sinuses are named, whatever the survey had settled on', () => {
    const volume = volumeOf(makeTwoSinuses(shape));
    const tubes = findTubes(makeCoarseField(volume));
    const refused = findTwoCusps(volume, tubes);
    expect(refused && !refused.ok && refused.failure.code).toBe('valve-not-three-leaflet');
  });
  test('three sinuses are not', () => {
    const volume = volumeOf(shape);
    const field = makeCoarseField(volume);
    const tubes = findTubes(field);
    const lobes = seekTwoCusps(volume, findRootCandidates(field, tubes));
    expect(lobes && isTwoLobed(lobes)).toBe(false);
    expect(findTwoCusps(volume, tubes)).toBeNull();
  });
  test('without a candidate there is nothing to compare', () => {
    expect(seekTwoCusps(volumeOf(shape), [])).toBeNull();
  });
});
