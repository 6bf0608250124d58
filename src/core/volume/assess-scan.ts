import type { Finding } from './volume-types.ts';

export type ScanVerdict = 'fit' | 'fit with doubt' | 'not fit';

/** Stops before doubts before notes; among equals the most basic reason first, since the first stop is the answer. */
const ORDER: readonly string[] = [
  'wrong-modality', 'slice-without-position', 'one-slice', 'spacing-uneven', 'frames-of-reference-mixed',
  'slice-missing', 'too-few-slices', 'coverage-too-short', 'field-cropped', 'contrast-none', 'slices-thick',
  'noise-high',
];

export function sortFindings(findings: readonly Finding[]): readonly Finding[] {
  const grade = { stop: 0, doubt: 1, note: 2 } as const;
  const place = (code: string): number => (ORDER.includes(code) ? ORDER.indexOf(code) : ORDER.length);
  return findings
    .map((finding, i) => ({ finding, i }))
    .sort((a, b) =>
      grade[a.finding.severity] - grade[b.finding.severity] ||
      place(a.finding.code) - place(b.finding.code) || a.i - b.i)
    .map(({ finding }) => finding);
}

export function decideVerdict(findings: readonly Finding[]): ScanVerdict {
  if (findings.some((f) => f.severity === 'stop')) return 'not fit';
  return findings.some((f) => f.severity === 'doubt') ? 'fit with doubt' : 'fit';
}

export function makeFinding(code: string, severity: Finding['severity'], text: string, next: string): Finding {
  return { code, severity, text, next };
}
