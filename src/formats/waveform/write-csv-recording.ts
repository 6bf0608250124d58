import type { Recording } from '../../core/haemodynamics/recording-types.ts';

/**
 * A recording as CSV: `note` as a comment line, a header with units, a time column in seconds. Gaps are empty cells.
 * Shape    all channels on the grid of the first
 * Fails    never; a channel of another rate or start is left out
 */
export function writeCsvRecording({ channels }: Pick<Recording, 'channels'>, note: string, decimals = 3): string {
  const first = channels[0];
  if (!first) return `# ${note}\ntime (s)\n`;
  const written = channels.filter((c) => c.samplesPerS === first.samplesPerS && c.startS === first.startS && c.samples.length === first.samples.length);
  const unitOf = (unit: string): string => (unit === 'mm[Hg]' ? 'mmHg' : unit);
  const lines = [`# ${note.replaceAll(/\s+/g, ' ')}`, ['time (s)', ...written.map((c) => `${c.label} (${unitOf(c.unit ?? '')})`)].join(',')];
  for (let i = 0; i < first.samples.length; i++) {
    const cells = written.map((c) => (Number.isFinite(c.samples[i]!) ? c.samples[i]!.toFixed(decimals) : ''));
    lines.push([(first.startS + i / first.samplesPerS).toFixed(4), ...cells].join(','));
  }
  return `${lines.join('\n')}\n`;
}
