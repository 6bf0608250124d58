import { formatText } from '../text/catalogue.ts';
import { FINDINGS_EN } from '../text/findings-en.ts';
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
  const kept = formatText(FINDINGS_EN, 'kept', { used, coverage: grid.coverageMm.toFixed(0), dropped });
  if (missing > 0) {
    const places = describePlaces(grid, 'missing');
    findings.push(makeFinding('slice-missing', isLong ? 'doubt' : 'stop',
      missing === 1 ? formatText(FINDINGS_EN, 'sliceMissing', { places, kept }) : formatText(FINDINGS_EN, 'slicesMissing', { missing, places, kept }),
      FINDINGS_EN.slicesMissingNext));
  }
  if (grid.breaks.some((b) => b.kind === 'uneven')) {
    // A stack that changes its step half way is two stacks; one of them may be enough.
    const isMost = isLong && used >= 0.8 * context.slicesGiven;
    findings.push(makeFinding('spacing-uneven', isMost ? 'doubt' : 'stop',
      formatText(FINDINGS_EN, 'spacingUneven', {
        low: grid.gapRangeMm[0].toFixed(2), high: grid.gapRangeMm[1].toFixed(2), step: grid.stepMm.toFixed(2), places: describePlaces(grid, 'uneven'), kept,
      }),
      FINDINGS_EN.spacingUnevenNext));
  }
  if (grid.breaks.some((b) => b.kind === 'shifted')) {
    findings.push(makeFinding('slices-shifted', isLong ? 'doubt' : 'stop',
      formatText(FINDINGS_EN, 'slicesShifted', { places: describePlaces(grid, 'shifted'), kept }),
      FINDINGS_EN.slicesShiftedNext));
  }
  if (context.duplicates > 0) {
    findings.push(makeFinding('slice-duplicate', 'note',
      context.duplicates === 1 ? FINDINGS_EN.sliceDuplicate : formatText(FINDINGS_EN, 'slicesDuplicate', { count: context.duplicates }),
      FINDINGS_EN.slicesDuplicateNext));
  }
  return findings;
}

function describePlaces(grid: VolumeGrid, kind: 'missing' | 'uneven' | 'shifted'): string {
  const places = grid.breaks.filter((b) => b.kind === kind);
  const list = places.slice(0, 3).map((b) => formatText(FINDINGS_EN, 'place', { mm: b.afterMm.toFixed(1) })).join(', ');
  return places.length > 3 ? formatText(FINDINGS_EN, 'placesMore', { list, more: places.length - 3 }) : formatText(FINDINGS_EN, 'places', { list });
}

function assessExtent(grid: VolumeGrid): Finding[] {
  const findings: Finding[] = [];
  const nz = grid.dims[2];
  if (nz < L.slices.value) {
    findings.push(makeFinding('too-few-slices', 'stop', formatText(FINDINGS_EN, 'tooFewSlices', { slices: nz, least: L.slices.value }),
      FINDINGS_EN.tooFewSlicesNext));
  }
  if (grid.coverageMm < L.coverageMm.value) {
    findings.push(makeFinding('coverage-too-short', 'stop',
      formatText(FINDINGS_EN, 'coverageTooShort', { coverage: grid.coverageMm.toFixed(0), least: L.coverageMm.value }),
      FINDINGS_EN.coverageTooShortNext));
  }
  const fieldMm = Math.min(grid.dims[0] * grid.spacingMm[0], grid.dims[1] * grid.spacingMm[1]);
  if (fieldMm < L.fieldMm.value) {
    findings.push(makeFinding('field-cropped', fieldMm < L.fieldMm.value / 2 ? 'stop' : 'doubt',
      formatText(FINDINGS_EN, 'fieldCropped', { field: fieldMm.toFixed(0) }),
      FINDINGS_EN.fieldCroppedNext));
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
      formatText(FINDINGS_EN, 'slicesThick', {
        blur: blurMm.toFixed(2), step: stepMm.toFixed(2), most: L.rootSliceMm.value.toFixed(1),
        thickness: thicknessMm === null ? FINDINGS_EN.thicknessNotStated : formatText(FINDINGS_EN, 'thickness', { mm: thicknessMm.toFixed(2) }),
      }),
      FINDINGS_EN.thinnerNext));
  }
  if (thicknessMm !== null && thicknessMm > stepMm * 1.05) {
    findings.push(makeFinding('slices-overlap', 'note',
      formatText(FINDINGS_EN, 'slicesOverlap', { thickness: thicknessMm.toFixed(2), step: stepMm.toFixed(2) }),
      FINDINGS_EN.slicesOverlapNext));
  }
  if (thicknessMm !== null && thicknessMm > 0 && thicknessMm < stepMm * 0.95) {
    findings.push(makeFinding('slices-gapped', 'doubt',
      formatText(FINDINGS_EN, 'slicesGapped', { thickness: thicknessMm.toFixed(2), step: stepMm.toFixed(2) }), FINDINGS_EN.thinnerNext));
  }
  return findings;
}

function assessPhase(context: GeometryContext): Finding[] {
  const { phasePercent } = context;
  if (phasePercent === null) {
    if (context.origin === 'research' || context.hasTriggerTime) {
      return [makeFinding('phase-unknown', 'doubt', FINDINGS_EN.phaseUnknown, FINDINGS_EN.phaseUnknownNext)];
    }
    return [makeFinding('not-gated', 'doubt', FINDINGS_EN.notGated, FINDINGS_EN.notGatedNext)];
  }
  if (phasePercent < L.phaseLowPercent.value || phasePercent > L.phaseHighPercent.value) {
    const isLate = phasePercent > L.phaseHighPercent.value;
    return [makeFinding(isLate ? 'phase-diastolic' : 'phase-early', 'doubt',
      formatText(FINDINGS_EN, 'phaseOutside', { phase: phasePercent.toFixed(0), low: L.phaseLowPercent.value, high: L.phaseHighPercent.value }),
      FINDINGS_EN.phaseOutsideNext)];
  }
  return [];
}

function assessPosture(context: GeometryContext): Finding[] {
  const position = context.patientPosition?.toUpperCase() ?? null;
  if (position === null || position === '') {
    return [makeFinding('posture-unknown', 'note', FINDINGS_EN.postureUnknown, FINDINGS_EN.postureUnknownNext)];
  }
  if (/^[HF]FS$/.test(position)) return [];
  return [makeFinding('not-supine', 'note', formatText(FINDINGS_EN, 'notSupine', { position: position.slice(0, 4) }),
    FINDINGS_EN.notSupineNext)];
}

function assessOrigin(grid: VolumeGrid, context: GeometryContext): Finding[] {
  const findings: Finding[] = [];
  if (context.framesOfReference > 1) {
    findings.push(makeFinding('frames-of-reference-mixed', 'doubt',
      context.isFrameIgnored
        ? formatText(FINDINGS_EN, 'framesIgnored', { frames: context.framesOfReference })
        : formatText(FINDINGS_EN, 'framesMixed', { frames: context.framesOfReference }),
      FINDINGS_EN.framesNext));
  }
  if (context.isRescaleMissing) {
    findings.push(makeFinding('rescale-missing', 'doubt', FINDINGS_EN.rescaleMissing, FINDINGS_EN.rescaleMissingNext));
  }
  if (context.isLossy) {
    findings.push(makeFinding('compressed-lossy', 'doubt', FINDINGS_EN.compressedLossy, FINDINGS_EN.compressedLossyNext));
  }
  if (grid.shearDeg > 0.5) {
    findings.push(makeFinding('gantry-tilted', 'note', formatText(FINDINGS_EN, 'gantryTilted', { deg: grid.shearDeg.toFixed(1) }), FINDINGS_EN.nothingToDo));
  }
  if (context.hasPadding) {
    findings.push(makeFinding('padding-declared', 'note', FINDINGS_EN.paddingDeclared, FINDINGS_EN.nothingToDo));
  }
  if (context.isDerived) {
    findings.push(makeFinding('series-derived', 'note', FINDINGS_EN.seriesDerived, FINDINGS_EN.seriesDerivedNext));
  }
  if (context.origin === 'research') {
    findings.push(makeFinding('header-bare', 'note', FINDINGS_EN.headerBare, FINDINGS_EN.headerBareNext));
  }
  return findings;
}

