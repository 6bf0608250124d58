import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { drawPhantom } from '../../core/phantom/draw-phantom.ts';
import { makeSeededShape } from '../../core/phantom/draw-seeded-shape.ts';
import { parsePart10 } from './parse-part10.ts';
import { readCtSlices } from './read-ct-slice.ts';
import type { CtSeriesLabels } from './write-ct-slice.ts';
import { writeEnhancedCt } from './write-enhanced-ct.ts';

const SEED = 9;
const { shape, scan } = makeSeededShape(SEED);
const { volume } = drawPhantom(shape, { ...scan, dims: [31, 24, 5] });
const labels: CtSeriesLabels = {
  seed: SEED, seriesNumber: 3, seriesDescription: 'TRAINING invented sizes', sliceThicknessMm: 0.6, gantryTiltDeg: 0,
  phasePercent: 35, isContrast: true, kvp: 100, kernel: 'INVENTED', stored: 'signed-16',
};
const folder = mkdtempSync(join(tmpdir(), 'enhanced-ct-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const hasValidator = spawnSync('dciodvfy', ['-version'], { stdio: 'ignore' }).error === undefined;
const hasReader = spawnSync('/usr/bin/python3', ['-c', 'import pydicom'], { stdio: 'ignore' }).status === 0;

describe(`writeEnhancedCt (seed ${SEED})`, () => {
  test.skipIf(!hasValidator)('passes the conformance checker without an error', () => {
    for (const phasePercent of [35, null]) {
      for (const kind of ['explicit-little', 'implicit-little', 'rle'] as const) {
        const path = join(folder, `${kind}.dcm`);
        writeFileSync(path, writeEnhancedCt(volume, { ...labels, phasePercent }, { kind }));
        const said = spawnSync('dciodvfy', [path], { encoding: 'utf8' });
        expect(`${said.stdout}${said.stderr}`).toContain('EnhancedCTImage');
        expect(`${said.stdout}${said.stderr}`).not.toContain('Error');
      }
    }
  });

  test.skipIf(!hasReader)('gives an independent reader every frame as drawn', () => {
    const paths = (['explicit-little', 'rle'] as const).map((kind) => {
      const path = join(folder, `read-${kind}.dcm`);
      writeFileSync(path, writeEnhancedCt(volume, labels, { kind }));
      return path;
    });
    const script = 'import sys, json, pydicom\nfor p in sys.argv[1:]:\n  print(json.dumps(pydicom.dcmread(p).pixel_array.ravel().tolist()))';
    for (const line of execFileSync('/usr/bin/python3', ['-c', script, ...paths], { encoding: 'utf8' }).trim().split('\n')) {
      expect(JSON.parse(line)).toEqual(Array.from(volume.samplesHu));
    }
  });

  test('is read back by the intake, one header per frame, in place', () => {
    const dataset = parsePart10(writeEnhancedCt(volume, labels));
    const read = dataset.ok ? readCtSlices(dataset.value) : dataset;
    if (!read.ok) throw new Error(read.failure.code);
    expect(read.value).toHaveLength(5);
    const r = volume.lpsFromVoxel.rows;
    read.value.forEach((h, k) => {
      expect(h.phasePercent).toBe(35);
      expect(h.positionLps![2]).toBeCloseTo(r[11]! + r[10]! * k, 8);
      expect(h.pixelSpacingMm![0]).toBeCloseTo(scan.spacingMm[1], 8);
    });
  });
});
