import { describe, expect, test } from 'vitest';
import type { Channel } from '../../core/haemodynamics/recording-types.ts';
import { drawTrainingEcg } from '../../core/phantom/training-result.ts';
import { parseRecording } from './parse-recording.ts';
import { writeCsvRecording } from './write-csv-recording.ts';

const read = (text: string) => {
  const parsed = parseRecording(new TextEncoder().encode(text), 'recording', [], { choices: [] });
  if (!parsed.ok) throw new Error(parsed.failure.code);
  return parsed.value;
};

describe('writeCsvRecording', () => {
  test('reads back as what it was: kinds, units, times and samples', () => {
    const drawn = drawTrainingEcg(101, 'before');
    const again = read(writeCsvRecording(drawn, 'TRAINING, invented'));
    expect(again.channels.map((c) => [c.label, c.kind, c.unit, c.samplesPerS, c.samples.length])).toEqual(drawn.channels.map((c) => [c.label, c.kind, c.unit, c.samplesPerS, c.samples.length]));
    // Three decimals: half of the last one.
    for (const [k, c] of drawn.channels.entries()) expect(Math.max(...c.samples.map((v, i) => Math.abs(v - again.channels[k]!.samples[i]!)))).toBeLessThanOrEqual(0.00051);
  });
  test('the note stands first on one line, a gap is an empty cell, and a channel on another grid is left out', () => {
    const channel = (label: string, samples: readonly number[], samplesPerS = 250): Channel => ({ label, kind: 'aortic', unit: 'mm[Hg]', samplesPerS, startS: 0, samples: Float32Array.from(samples) });
    const text = writeCsvRecording({ channels: [channel('AO', [80, Number.NaN, 82]), channel('LV', [5, 6, 7]), channel('slow', [1, 2, 3], 125)] }, 'TRAINING,\n invented', 1);
    expect(text).toBe('# TRAINING, invented\ntime (s),AO (mmHg),LV (mmHg)\n0.0000,80.0,5.0\n0.0040,,6.0\n0.0080,82.0,7.0\n');
  });
  test('nothing but a head comes of no channel', () => expect(writeCsvRecording({ channels: [] }, 'x')).toBe('# x\ntime (s)\n'));
});
