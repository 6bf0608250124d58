import type { Finding } from '../../core/volume/volume-types.ts';
import type { ScanReport } from '../intake/scan-types.ts';

/** A scan as it is kept: which stored files it consists of, and which volumes were found in them. No name of a patient, none of a file. */
export interface ScanManifest {
  readonly format: 'trinadir.manifest/1';
  readonly scanId: string;
  /** Neutral names in the order of the handed-in paths, which may have held a patient's name. */
  readonly files: readonly { readonly name: string; readonly sha256: string; readonly bytes: number }[];
  readonly volumes: readonly ManifestVolume[];
  /** Key of the volume that would be measured; null when none can be. */
  readonly proposed: string | null;
}
export interface ManifestVolume {
  readonly key: string;
  readonly seriesUid: string | null;
  readonly frameOfReferenceUid: string | null;
  readonly description: string | null;
  readonly phasePercent: number | null;
  readonly slices: number;
  readonly spacingMm: readonly [number, number, number];
  readonly verdict: string;
  readonly findings: readonly Finding[];
}

/** Endings that help a person who looks into the store; the content decides what a file is. */
const ENDING = /\.(dcm|ima|zip|nii|nii\.gz|nrrd)$/i;

export function nameNeutrally(path: string, k: number): string {
  return `${String(k + 1).padStart(6, '0')}${ENDING.exec(path)?.[0].toLowerCase() ?? ''}`;
}

/** Best first, as the scan ranks them. */
export function listManifestVolumes(report: ScanReport): readonly ManifestVolume[] {
  const rank = new Map(report.ranking.map(({ key }, k) => [key, k]));
  const place = (key: string): number => rank.get(key) ?? report.ranking.length;
  return [...report.volumes].sort((a, b) => place(a.key) - place(b.key)).map(({ key, seriesUid, header, dims, spacingMm, verdict, findings }) => ({
    key, seriesUid, frameOfReferenceUid: header.frameOfReferenceUid, description: header.seriesDescription, phasePercent: header.phasePercent,
    slices: dims[2], spacingMm, verdict, findings,
  }));
}

/**
 * How a volume is asked for from outside: by its series, or, where a series holds several, by its key for all but the
 * best of them.
 */
export function listVolumeIds(volumes: readonly ManifestVolume[]): readonly string[] {
  const seen = new Set<string>();
  return volumes.map(({ key, seriesUid }) => {
    const id = seriesUid !== null && !seen.has(seriesUid) ? seriesUid : key;
    if (seriesUid !== null) seen.add(seriesUid);
    return id;
  });
}
