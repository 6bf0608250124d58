import { formatText } from '../../core/text/catalogue.ts';
import { SCAN_EN } from '../../core/text/scan-en.ts';
import type { FactStamp } from '../../core/units/fact.ts';
import type { Failure } from '../../core/result.ts';
import type { ScanFacts } from '../../core/root/root-types.ts';
import type { Finding } from '../../core/volume/volume-types.ts';
import { loadProposedVolume } from '../intake/load-volume.ts';
import { makeScanFacts } from '../intake/make-scan-facts.ts';
import { scanPath } from '../intake/scan-path.ts';
import type { LoadedVolume, ScanReport, ScanSeries, ScanVolume } from '../intake/scan-types.ts';
import { readStamp } from './clock.ts';
import type { CommandIo } from './command-io.ts';
import { EXIT } from './exit-codes.ts';
import { makeProgressBar } from './progress-bar.ts';
import { reportFailure } from './report-failure.ts';

export interface ScanCommandOptions {
  readonly path: string;
  readonly json?: boolean;
  readonly quiet?: boolean;
}

const SHOWN_UNREADABLE = 20;

/**
 * `trinadir scan PATH [--json]`: what lies there, whether it can be measured, and why.
 * The answer is written also when it is "not fit" (exit 3): the listing is what tells the person what to do.
 */
export async function runScanCommand(options: ScanCommandOptions, io: CommandIo): Promise<number> {
  const json = options.json === true;
  const stamp = readStamp();
  if (!stamp.ok) {
    reportFailure(stamp.failure, 'scan', { json }, io);
    return EXIT.usage;
  }
  const progress = makeProgressBar(io, { quiet: options.quiet === true });
  progress.step(SCAN_EN.looking);
  const scanned = await scanPath(options.path, { onProgress: progress.report });
  if (!scanned.ok) {
    progress.end();
    reportFailure(scanned.failure, 'scan', { json }, io);
    return EXIT.refused;
  }
  const report = scanned.value;
  let loaded: LoadedVolume | null = null;
  let failure: Failure<string> | null = null;
  if (report.volumes.length > 0) {
    progress.step(SCAN_EN.reading);
    const result = await loadProposedVolume(report, { onProgress: progress.report });
    if (result.ok) loaded = result.value;
    else failure = result.failure;
  }
  progress.end();
  const judged = judgeVolumes(report, loaded);
  io.out(json ? `${JSON.stringify(makeScanDocument(report, judged, loaded, stamp.value), null, 2)}\n` : formatScan(report, judged, loaded, stamp.value));
  if (loaded && loaded.verdict !== 'not fit') return EXIT.answered;
  reportFailure(failure ?? describeStop(loaded, report), 'scan', { json }, io);
  return EXIT.refused;
}

/** The volumes of the report, the loaded one with what its pixels say. */
function judgeVolumes(report: ScanReport, loaded: LoadedVolume | null): readonly ScanVolume[] {
  return report.volumes.map((volume) =>
    loaded && volume.key === loaded.key
      ? { ...volume, dims: loaded.volume.dims, findings: loaded.findings, verdict: loaded.verdict }
      : volume,
  );
}

function describeStop(loaded: LoadedVolume | null, report: ScanReport): Failure<string> {
  const best = report.volumes.find((volume) => volume.key === report.ranking[0]?.key);
  const findings: readonly Finding[] = loaded?.findings ?? best?.findings ?? [];
  const stop = findings.find((finding) => finding.severity === 'stop');
  return {
    code: stop?.code ?? 'no-volume', message: stop?.text ?? SCAN_EN.noVolume,
    nextStep: stop?.next ?? 'Give the CT series with contrast of the heart.', evidence: {},
  };
}

/** The JSON answer: `trinadir.scan/1`. */
function makeScanDocument(report: ScanReport, volumes: readonly ScanVolume[], loaded: LoadedVolume | null, stamp: FactStamp) {
  const ranked = loaded ? report.ranking.find((one) => one.key === loaded.key) : undefined;
  return {
    format: 'trinadir.scan/1', madeBy: stamp.by, madeAt: stamp.at,
    verdict: loaded?.verdict ?? 'not fit',
    proposed: loaded && loaded.verdict !== 'not fit' ? { key: loaded.key, seriesUid: loaded.header.seriesUid, reasons: ranked?.reasons ?? [] } : null,
    examined: loaded ? { key: loaded.key, inputs: loaded.inputs, scan: makeScanFacts(loaded, stamp) } : null,
    input: report.input,
    series: report.series,
    volumes: volumes.map((volume) => ({
      key: volume.key, seriesUid: volume.seriesUid, frameOfReferenceUid: volume.header.frameOfReferenceUid,
      dims: volume.dims, spacingMm: volume.spacingMm.map((mm) => Math.round(mm * 1e6) / 1e6),
      coverageMm: Math.round(volume.coverageMm * 100) / 100, sliceThicknessMm: volume.header.sliceThicknessMm,
      phasePercent: volume.header.phasePercent, kernel: volume.header.kernel, patientPosition: volume.header.patientPosition,
      splitBy: volume.splitBy, verdict: volume.verdict, findings: volume.findings,
    })),
    ranking: report.ranking,
    unreadable: report.unreadable.map(({ label, code }) => ({ file: label, code })),
  };
}

function formatScan(report: ScanReport, volumes: readonly ScanVolume[], loaded: LoadedVolume | null, stamp: FactStamp): string {
  const lines: string[] = [];
  const verdict = loaded?.verdict ?? 'not fit';
  const chosen = volumes.find((volume) => volume.key === (loaded?.key ?? report.ranking[0]?.key));
  const answer = { fit: SCAN_EN.answerFit, 'fit with doubt': SCAN_EN.answerDoubt, 'not fit': SCAN_EN.answerNot }[verdict];
  lines.push(`${SCAN_EN.answer}  ${answer}`);
  if (loaded && chosen && verdict !== 'not fit') {
    const ranked = report.ranking.find((one) => one.key === loaded.key);
    lines.push(`  ${formatText(SCAN_EN, 'measure', { name: chosen.key, extent: formatExtent(chosen) })}`);
    lines.push(`${SCAN_EN.why}  ${formatText(SCAN_EN, 'because', { reasons: (ranked?.reasons ?? []).join('; ') })}`);
  } else {
    lines.push(`  ${SCAN_EN.noVolume}`);
  }
  if (loaded) lines.push(`  ${formatPixels(makeScanFacts(loaded, stamp))}`);
  const findings = chosen?.findings ?? [];
  lines.push(`${SCAN_EN.doubt}${findings.length === 0 ? `  ${SCAN_EN.noDoubt}` : ''}`);
  for (const finding of findings) lines.push(...formatFinding(finding));
  if (verdict !== 'not fit') lines.push(`${SCAN_EN.next}  ${SCAN_EN.plan}`);
  lines.push('', SCAN_EN.series);
  for (const series of report.series) lines.push(...formatSeries(series, volumes, chosen));
  lines.push('', formatText(SCAN_EN, 'input', {
    files: report.input.files, megabytes: (report.input.bytes / 1e6).toFixed(1), others: report.input.otherFiles, unreadable: report.unreadable.length,
  }));
  if (report.unreadable.length > 0) {
    lines.push(SCAN_EN.unreadable);
    for (const { label, code } of report.unreadable.slice(0, SHOWN_UNREADABLE)) lines.push(`  ${cleanText(label)}  ${code}`);
    const more = report.unreadable.length - SHOWN_UNREADABLE;
    if (more > 0) lines.push(`  ${formatText(SCAN_EN, 'more', { count: more })}`);
  }
  return `${lines.join('\n')}\n`;
}

function formatPixels(facts: ScanFacts): string {
  const show = (value: number | null): string => (value === null ? SCAN_EN.notMeasured : value.toFixed(0));
  const noise = show(facts.noiseHu.value);
  return facts.contrastHu.value === null
    ? formatText(SCAN_EN, 'bloodNone', { noise })
    : formatText(SCAN_EN, 'blood', { hu: show(facts.contrastHu.value), noise });
}

function formatFinding(finding: Finding): string[] {
  const lines = [`  ${finding.severity.padEnd(5)}  ${finding.code}: ${finding.text}`];
  if (finding.severity !== 'note') lines.push(`         ${SCAN_EN.next}: ${finding.next}`);
  return lines;
}

function formatSeries(series: ScanSeries, volumes: readonly ScanVolume[], chosen: ScanVolume | undefined): string[] {
  const lines = [`  ${formatText(SCAN_EN, 'seriesLine', {
    number: series.seriesNumber ?? '-', modality: series.modality, description: series.description === null ? '-' : `"${cleanText(series.description)}"`,
    files: series.files, frames: series.frames,
  })}`];
  for (const part of series.parts) {
    const volume = volumes.find((one) => one.key === part.volumeKey);
    if (volume) {
      lines.push(`    ${formatText(SCAN_EN, 'volumeLine', { key: volume.key, extent: formatExtent(volume), verdict: volume.verdict })}`);
      if (volume !== chosen) for (const f of volume.findings) if (f.severity !== 'note') lines.push(`      ${f.severity.padEnd(5)}  ${f.code}`);
      continue;
    }
    const key = ({ localiser: 'partLocaliser', capture: 'partCapture', unplaced: 'partUnplaced' } as const)[part.role as 'localiser'] ?? 'partOther';
    lines.push(`    ${formatText(SCAN_EN, key, { frames: part.frames })}`);
  }
  return lines;
}

function formatExtent(volume: ScanVolume): string {
  const [nx, ny, nz] = volume.dims;
  const [x, y, z] = volume.spacingMm.map((mm) => mm.toFixed(2)) as [string, string, string];
  const { phasePercent } = volume.header;
  const phase = phasePercent === null ? '' : formatText(SCAN_EN, 'phase', { percent: phasePercent.toFixed(0) });
  return formatText(SCAN_EN, 'extent', { nx, ny, nz, x, y, z, coverage: volume.coverageMm.toFixed(0), phase });
}

/** Text from a file goes to a terminal: no control characters, no endless lines. */
function cleanText(text: string): string {
  return text.replace(/[\u0000-\u001f\u007f-\u009f]/g, '?').slice(0, 120);
}
