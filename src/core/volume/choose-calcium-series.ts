/** What is known of a volume from its headers when a calcium-scoring series is looked for. */
export interface CalciumCandidate {
  readonly key: string;
  readonly frameOfReferenceUid: string | null;
  readonly isContrastDeclared: boolean | null;
  readonly sliceThicknessMm: number | null;
  readonly stepMm: number;
  readonly slices: number;
  /** Angle of the slices' normal to the body's axis. */
  readonly leanDeg: number;
  readonly isGated: boolean;
  readonly kvp: number | null;
}

/** Slice thickness of calcium scoring; written rounded by some scanners. */
const THICKNESS_MM = [2.5, 3] as const;
const ROUNDED_MM = 0.03;
const MOST_LEAN_DEG = 10;
const LEAST_SLICES = 8;

/**
 * Non-contrast axial series of 2.5 to 3 mm beside the measured volume, best first: gated, nearest to 3 mm, nearest to
 * 120 kV, more slices. Contrast that no header declares shows in the root alone: marrow is as bright as faint contrast. Only those of the same frame of reference can be scored; `elsewhere` counts the others.
 * Source    docs/methods/agatston.md, "Two series"
 */
export function chooseCalciumSeries(
  candidates: readonly CalciumCandidate[], measured: { readonly key: string; readonly frameOfReferenceUid: string | null },
): { readonly keys: readonly string[]; readonly elsewhere: number } {
  const fit = candidates.filter((c) => c.key !== measured.key && isScoringSeries(c));
  const isSameFrame = (c: CalciumCandidate): boolean => measured.frameOfReferenceUid !== null && c.frameOfReferenceUid === measured.frameOfReferenceUid;
  const cost = (c: CalciumCandidate): readonly number[] => [c.isGated ? 0 : 1, Math.abs(3 - (c.sliceThicknessMm ?? 0)), Math.abs(120 - (c.kvp ?? 0)), -c.slices];
  const here = fit.filter(isSameFrame).map((c) => ({ key: c.key, cost: cost(c) })).sort((a, b) => {
    const at = a.cost.findIndex((v, i) => v !== b.cost[i]);
    return at >= 0 ? a.cost[at]! - b.cost[at]! : a.key < b.key ? -1 : 1;
  });
  return { keys: here.map((c) => c.key), elsewhere: fit.length - here.length };
}

function isScoringSeries(c: CalciumCandidate): boolean {
  const mm = c.sliceThicknessMm;
  return (
    c.isContrastDeclared !== true && mm !== null && mm >= THICKNESS_MM[0] - ROUNDED_MM && mm <= THICKNESS_MM[1] + ROUNDED_MM &&
    c.stepMm > 0 && c.stepMm <= THICKNESS_MM[1] + ROUNDED_MM && c.slices >= LEAST_SLICES && c.leanDeg <= MOST_LEAN_DEG
  );
}
