import { SCAN_LIMITS as L } from './assess-scan-limits.ts';
import { makeFinding, sortFindings } from './assess-scan.ts';
import type { VolumeGrid } from './assemble-volume.ts';
import type { Finding } from './volume-types.ts';

/** What the header says beside the grid; null = the file does not say. */
export interface GeometryContext {
  /** 'research': NIfTI or NRRD, which carry a grid and nothing of the scan. */
  readonly origin: 'dicom' | 'research';
  /** Slices handed in, before a run was chosen; duplicates not counted. */
  readonly slicesGiven: number;
  readonly duplicates: number;
  readonly sliceThicknessMm: number | null;
  readonly patientPosition: string | null;
  readonly phasePercent: number | null;
  readonly hasTriggerTime: boolean;
  readonly hasPadding: boolean;
  readonly isDerived: boolean;
  readonly framesOfReference: number;
  readonly isFrameIgnored: boolean;
  readonly isRescaleMissing: boolean;
  readonly isLossy: boolean;
}

const REPEAT = 'Ask for a reconstruction of 1.0 mm or less of the same scan.';

/**
 * What grid and header say about measuring the root: coded findings, worst first.
 * Units     mm, per cent of the R-R interval
 * Source    docs/methods/scan-fitness.md; limits with status in assess-scan-limits.ts
 */
export function assessGeometry(grid: VolumeGrid, context: GeometryContext): readonly Finding[] {
  return sortFindings([
    ...assessSpacing(grid, context),
    ...assessExtent(grid),
    ...assessThickness(grid, context),
    ...assessPhase(context),
    ...assessPosture(context),
    ...assessOrigin(grid, context),
  ]);
}

function assessSpacing(grid: VolumeGrid, context: GeometryContext): Finding[] {
  const findings: Finding[] = [];
  const isLong = grid.coverageMm >= L.coverageMm.value;
  const used = grid.dims[2];
  const dropped = context.slicesGiven - used;
  const missing = grid.breaks.reduce((sum, b) => sum + b.missing, 0);
  const kept = `Used: ${used} slices in a row over ${grid.coverageMm.toFixed(0)} mm; left out: ${dropped}.`;
  if (missing > 0) {
    const places = describePlaces(grid, 'missing');
    findings.push(makeFinding('slice-missing', isLong ? 'doubt' : 'stop',
      `${missing} ${missing === 1 ? 'slice is' : 'slices are'} missing ${places}. ${kept}`,
      'Send the series again from the archive and check the number of pictures.'));
  }
  if (grid.breaks.some((b) => b.kind === 'uneven')) {
    // A stack that changes its step half way is two stacks; one of them may be enough.
    const isMost = isLong && used >= 0.8 * context.slicesGiven;
    findings.push(makeFinding('spacing-uneven', isMost ? 'doubt' : 'stop',
      `Gaps between slices run from ${grid.gapRangeMm[0].toFixed(2)} to ${grid.gapRangeMm[1].toFixed(2)} mm ` +
        `(usual ${grid.stepMm.toFixed(2)} mm) ${describePlaces(grid, 'uneven')}. ${kept}`,
      'Ask for one reconstruction with constant slice spacing.'));
  }
  if (grid.breaks.some((b) => b.kind === 'shifted')) {
    findings.push(makeFinding('slices-shifted', isLong ? 'doubt' : 'stop',
      `The picture centre jumps sideways between slices ${describePlaces(grid, 'shifted')}. ${kept}`,
      'Ask for one reconstruction with a constant centre.'));
  }
  if (context.duplicates > 0) {
    findings.push(makeFinding('slice-duplicate', 'note',
      `${context.duplicates} ${context.duplicates === 1 ? 'slice lies' : 'slices lie'} where another one lies already; the first by instance number was used.`,
      'Check that the export holds this series once.'));
  }
  return findings;
}

function describePlaces(grid: VolumeGrid, kind: 'missing' | 'uneven' | 'shifted'): string {
  const places = grid.breaks.filter((b) => b.kind === kind);
  const shown = places.slice(0, 3).map((b) => `${b.afterMm.toFixed(1)} mm`).join(', ');
  return `after ${shown}${places.length > 3 ? ` and ${places.length - 3} more places` : ''} along the table`;
}

function assessExtent(grid: VolumeGrid): Finding[] {
  const findings: Finding[] = [];
  const nz = grid.dims[2];
  if (nz < L.slices.value) {
    findings.push(makeFinding('too-few-slices', 'stop', `Only ${nz} slices lie in a row; ${L.slices.value} are the least.`,
      'Send the whole series.'));
  }
  if (grid.coverageMm < L.coverageMm.value) {
    findings.push(makeFinding('coverage-too-short', 'stop',
      `The slices cover ${grid.coverageMm.toFixed(0)} mm; root, outflow tract and ascending aorta need ${L.coverageMm.value} mm.`,
      'Send a series that covers the heart from below the valve to the ascending aorta.'));
  }
  const fieldMm = Math.min(grid.dims[0] * grid.spacingMm[0], grid.dims[1] * grid.spacingMm[1]);
  if (fieldMm < L.fieldMm.value) {
    findings.push(makeFinding('field-cropped', fieldMm < L.fieldMm.value / 2 ? 'stop' : 'doubt',
      `The picture is ${fieldMm.toFixed(0)} mm wide; parts of heart or aorta may be cut off.`,
      'Ask for a reconstruction with a field of 160 mm or more centred on the heart.'));
  }
  return findings;
}

function assessThickness(grid: VolumeGrid, context: GeometryContext): Finding[] {
  const findings: Finding[] = [];
  const { stepMm } = grid;
  const thicknessMm = context.sliceThicknessMm;
  const blurMm = Math.max(stepMm, thicknessMm ?? 0);
  if (blurMm > L.rootSliceMm.value * 1.02) {
    const isStop = blurMm > L.rootSliceStopMm.value * 1.02; // thickness is often written rounded
    findings.push(makeFinding('slices-thick', isStop ? 'stop' : 'doubt',
      `Root slices are ${blurMm.toFixed(2)} mm (step ${stepMm.toFixed(2)} mm, thickness ` +
        `${thicknessMm === null ? 'not stated' : `${thicknessMm.toFixed(2)} mm`}): root > ${L.rootSliceMm.value.toFixed(1)} mm.`,
      REPEAT));
  }
  if (thicknessMm !== null && thicknessMm > stepMm * 1.05) {
    findings.push(makeFinding('slices-overlap', 'note',
      `Slices of ${thicknessMm.toFixed(2)} mm overlap at a step of ${stepMm.toFixed(2)} mm.`,
      'Nothing to do: the step, not the thickness, is used.'));
  }
  if (thicknessMm !== null && thicknessMm > 0 && thicknessMm < stepMm * 0.95) {
    findings.push(makeFinding('slices-gapped', 'doubt',
      `Slices of ${thicknessMm.toFixed(2)} mm leave gaps at a step of ${stepMm.toFixed(2)} mm.`, REPEAT));
  }
  return findings;
}

function assessPhase(context: GeometryContext): Finding[] {
  const { phasePercent } = context;
  if (phasePercent === null) {
    if (context.origin === 'research' || context.hasTriggerTime) {
      return [makeFinding('phase-unknown', 'doubt', 'The file does not say which heart phase it shows.',
        'Look up the phase; the annulus is largest in systole.')];
    }
    return [makeFinding('not-gated', 'doubt', 'Nothing in the header says that the scan was ECG-gated.',
      'Use a gated systolic phase if there is one; motion blur widens every interval.')];
  }
  if (phasePercent < L.phaseLowPercent.value || phasePercent > L.phaseHighPercent.value) {
    const isLate = phasePercent > L.phaseHighPercent.value;
    return [makeFinding(isLate ? 'phase-diastolic' : 'phase-early', 'doubt',
      `The phase is ${phasePercent.toFixed(0)} % of the beat, outside the systolic ` +
        `${L.phaseLowPercent.value}-${L.phaseHighPercent.value} %: the annulus may measure too small.`,
      'Use a systolic phase of the same scan if there is one.')];
  }
  return [];
}

function assessPosture(context: GeometryContext): Finding[] {
  const position = context.patientPosition?.toUpperCase() ?? null;
  if (position === null || position === '') {
    return [makeFinding('posture-unknown', 'note', 'The file does not say how the patient lay; camera angles assume supine.',
      'Check that the patient lay on the back.')];
  }
  if (/^[HF]FS$/.test(position)) return [];
  return [makeFinding('not-supine', 'note', `The patient did not lie on the back (${position.slice(0, 4)}): angles withheld.`,
    'Camera angles need a scan in the position of the procedure.')];
}

function assessOrigin(grid: VolumeGrid, context: GeometryContext): Finding[] {
  const findings: Finding[] = [];
  if (context.framesOfReference > 1) {
    findings.push(makeFinding('frames-of-reference-mixed', 'doubt',
      context.isFrameIgnored
        ? `The series names ${context.framesOfReference} frames of reference, nearly one for each slice; positions were taken as belonging together.`
        : `The series holds ${context.framesOfReference} frames of reference; only slices of one were used.`,
      'Check that the patient was not moved between the slices; export the original series.'));
  }
  if (context.isRescaleMissing) {
    findings.push(makeFinding('rescale-missing', 'doubt', 'The file does not say how its values become Hounsfield units; slope 1 and intercept 0 were used.',
      'Export the original series from the scanner or archive.'));
  }
  if (context.isLossy) {
    findings.push(makeFinding('compressed-lossy', 'doubt', 'The pictures went through lossy compression: edges may have moved.',
      'Export the series uncompressed or with a lossless compression.'));
  }
  if (grid.shearDeg > 0.5) {
    findings.push(makeFinding('gantry-tilted', 'note', `The gantry was tilted: slices slide by ${grid.shearDeg.toFixed(1)} degrees. The grid follows it.`,
      'Nothing to do.'));
  }
  if (context.hasPadding) {
    findings.push(makeFinding('padding-declared', 'note', 'The scanner marked places without data (outside its circle).', 'Nothing to do.'));
  }
  if (context.isDerived) {
    findings.push(makeFinding('series-derived', 'note', 'The series is marked as derived from another one.',
      'Prefer the original series if there is one.'));
  }
  if (context.origin === 'research') {
    findings.push(makeFinding('header-bare', 'note',
      'A research file: it does not carry slice thickness, heart phase, posture, contrast, sex, or the scanner.',
      'Plan from the DICOM series when patient facts matter.'));
  }
  return findings;
}

