import { statSync } from 'node:fs';
import type { PatientIdentity } from '../../core/case/compare-identity.ts';
import type { TraceRegion } from '../../core/echo/trace-region.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RECORDINGS_EN } from '../../core/text/recordings-en.ts';
import { parseEchoReport, readEchoReportIdentity } from '../../formats/dicom-sr/parse-echo-report.ts';
import { decodeUltrasoundFrame } from '../../formats/dicom/decode-ultrasound.ts';
import { readUltrasound, readUltrasoundIdentity, type UltrasoundRun } from '../../formats/dicom/read-ultrasound.ts';
import { readPart } from '../intake/read-input.ts';
import { loadCodecs } from './load-codecs.ts';

type Refused = { readonly code: string; readonly text: string; readonly next: string };
export interface EchoFileRead {
  readonly is: 'report' | 'picture';
  readonly identity: PatientIdentity;
  /** By ECHO_FIELDS, in their units; of a picture none. */
  readonly fields: Readonly<Record<string, string | number | boolean>>;
  /** 95 %, where a report states the spread of its beats. */
  readonly halfWidths: Readonly<Record<string, number>>;
  readonly findings: readonly Refused[];
}
const NOBODY: PatientIdentity = { name: null, birthDate: null, sex: null, patientId: null };

function readWhole(path: string): Result<Uint8Array, string> {
  try {
    return readPart(path, 0, statSync(path).size);
  } catch {
    return fail('picture-gone', RECORDINGS_EN.pictureGone, RECORDINGS_EN.pictureGoneNext);
  }
}

/**
 * A file of an echo: a structured report, whose measurements become entries, or a picture with its calibrated regions. Runs in a thread.
 * Fails     echo-file-other, echo-file-empty, and as parseEchoReport and readUltrasound
 */
export function readEchoFile({ path }: { readonly path: string }): Result<EchoFileRead, string> {
  const bytes = readWhole(path);
  if (!bytes.ok) return bytes;
  const report = parseEchoReport(bytes.value);
  if (report.ok) {
    const fields = Object.fromEntries(Object.entries(report.value.entries).flatMap(([code, v]): [string, string | number | boolean][] => (v === null || v === undefined ? [] : [[code, v]])));
    if (Object.keys(fields).length === 0) return fail('echo-file-empty', RECORDINGS_EN.echoFileEmpty, RECORDINGS_EN.echoFileEmptyNext);
    return succeed({ is: 'report', identity: readEchoReportIdentity(bytes.value) ?? NOBODY, fields, halfWidths: keepPositive(report.value.halfWidths), findings: report.value.findings.map(bare) });
  }
  if (report.failure.code !== 'not-a-report') return report;
  const run = readUltrasound(bytes.value);
  if (!run.ok) return run.failure.code === 'not-ultrasound' ? fail('echo-file-other', RECORDINGS_EN.echoFileOther, RECORDINGS_EN.echoFileOtherNext) : run;
  return succeed({ is: 'picture', identity: readUltrasoundIdentity(bytes.value) ?? NOBODY, fields: {}, halfWidths: {}, findings: listGaps(run.value) });
}

/** A spread of nothing is no spread. */
const keepPositive = (widths: Readonly<Record<string, number>>): Readonly<Record<string, number>> => Object.fromEntries(Object.entries(widths).filter(([, width]) => width > 0));

/** What a page is told of a picture: nothing about the patient. */
export interface EchoPicture {
  readonly rows: number;
  readonly columns: number;
  readonly frames: number;
  readonly frameTimesMs: readonly number[] | null;
  readonly heartRatePerMin: number | null;
  readonly regions: readonly TraceRegion[];
  readonly findings: readonly Refused[];
}
export function readEchoPicture({ path }: { readonly path: string }): Result<EchoPicture, string> {
  const bytes = readWhole(path);
  if (!bytes.ok) return bytes;
  const run = readUltrasound(bytes.value);
  if (!run.ok) return run;
  const { rows, columns, frameCount, frameTimesMs, heartRatePerMin, regions } = run.value;
  return succeed({ rows, columns, frames: frameCount, frameTimesMs, heartRatePerMin, regions, findings: listGaps(run.value) });
}

/** One frame for the screen: 8 bit grey, row by row, or the file's own JPEG. Marks are set on it; no value is read off its greys. */
export interface EchoFrame {
  readonly kind: 'grey' | 'jpeg';
  readonly rows: number;
  readonly columns: number;
  readonly bytes: Uint8Array;
}
export async function drawEchoFrame({ path, number }: { readonly path: string; readonly number: number }): Promise<Result<EchoFrame, string>> {
  const bytes = readWhole(path);
  if (!bytes.ok) return bytes;
  const run = readUltrasound(bytes.value);
  if (!run.ok) return run;
  const frame = decodeUltrasoundFrame(bytes.value, run.value, number, await loadCodecs());
  if (!frame.ok) return frame;
  const { kind, rows, columns } = frame.value;
  if (frame.value.kind === 'jpeg') return succeed({ kind: 'jpeg', rows, columns, bytes: frame.value.bytes.slice() });
  return succeed({ kind: 'grey', rows, columns, bytes: kind === 'grey' ? frame.value.levels : weighColours(frame.value.levels) });
}

/** Luma as ITU-R BT.601 weighs red, green and blue. */
function weighColours(rgb: Uint8Array): Uint8Array {
  return Uint8Array.from({ length: rgb.length / 3 }, (_, i) => Math.round(0.299 * rgb[3 * i]! + 0.587 * rgb[3 * i + 1]! + 0.114 * rgb[3 * i + 2]!));
}

const bare = ({ code, text, next }: Refused): Refused => ({ code, text, next });
function listGaps({ gaps, regions }: UltrasoundRun): readonly Refused[] {
  const sound = regions.filter((r) => r.fault === null).length;
  return gaps.map((code) => ({
    code, text: code === 'region-faulty' ? formatText(RECORDINGS_EN, 'gap-region-faulty', { sound, count: regions.length }) : RECORDINGS_EN[`gap-${code}`], next: RECORDINGS_EN[`next-${code}`],
  }));
}
