import { describe, expect, test } from 'vitest';
import { askReference } from '../../../test/support/release-fixtures.ts';
import { normalAt } from '../math/random.ts';
import { planEnsemble } from './forecast-release.ts';
import { findBand, judgeMovement } from './judge-verdict.ts';
import { REFERENCE_ROOTS } from './reference-roots.ts';
import { runEnsemblePart } from './run-ensemble.ts';

// The full run (150 patients, 200 draws, ranks, all worlds) is tools/measure-release-anchors.mjs; this is its small guard.
const PATIENTS = 20;
const DRAWS = 40;

describe('simulation-based calibration in the matched world (seed 21)', () => {
  test('a truth drawn like the samples lies in the 5-95 band, and no direction is contradicted', () => {
    let inside = 0;
    let contradicted = 0;
    let spreadRanks = 0;
    for (let i = 0; i < PATIENTS; i++) {
      const n = (v: number): number => normalAt(21, i, 100 + v, 2.5);
      const root = { ...REFERENCE_ROOTS.straight, outflow5Mm: 11.5 + 0.5 * n(1), outflow10Mm: 11.5 + 0.9 * n(2) };
      const plan = { ...planEnsemble(askReference(root, { startMm: 4 + n(3) })), worlds: ['middle'] as const, withUndamped: false, seed: 22 };
      const part = runEnsemblePart(plan, 0, DRAWS);
      const truth = runEnsemblePart({ ...plan, seed: 23 }, i, 1);
      const band = findBand(part.depthMm);
      if (truth.depthMm[0]! >= band.low && truth.depthMm[0]! <= band.high) inside++;
      spreadRanks += part.depthMm.filter((d) => d < truth.depthMm[0]!).length / DRAWS / PATIENTS;
      const verdict = judgeMovement(findBand(part.movementMm));
      if ((verdict === 'up' || verdict === 'stays or up') && truth.movementMm[0]! <= -1.5) contradicted++;
      if ((verdict === 'down' || verdict === 'stays or down') && truth.movementMm[0]! >= 1.5) contradicted++;
    }
    expect(inside).toBeGreaterThanOrEqual(14); // 20 draws at 90 %: fewer than 14 once in 400 sound models
    expect(contradicted).toBe(0);
    // Mean rank of a uniform rank is 0.5 with a standard error of 0.29 / sqrt(20) = 0.065.
    expect(Math.abs(spreadRanks - 0.5)).toBeLessThan(3 * 0.065);
  });
});
