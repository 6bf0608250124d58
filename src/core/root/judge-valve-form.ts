import { compareLobes, type LobeComparison } from './compare-lobes.ts';
import { gatherCrownEvidence } from './find-crown.ts';
import { findJunction, type WallTable } from './find-junction.ts';
import { TISSUE_HU } from './locate-root.ts';
import { measureCommissures, type CommissureView, type ValveView } from './measure-commissures.ts';
import { smoothPolarBlock, type PolarBlock } from './polar-block.ts';
import { isTwoLobed } from './refuse-two-cusps.ts';

/**
 * three-leaflet  three gaps between three cusps
 * maybe-fused    three sinuses, but one gap or two are closed by leaflet
 * two-lobed      two cusps explain the wall clearly better than three
 * cusp-missing   no leaflet stands above one of three supposed nadirs: it lies in the gap between two cusps
 * no-crown       neither does
 * not-seen       three cusps on the wall; the leaflets themselves are too blurred, too bright or too open to tell
 */
export type ValveForm = 'three-leaflet' | 'maybe-fused' | 'two-lobed' | 'cusp-missing' | 'no-crown' | 'not-seen';

export interface ValveJudgement {
  readonly form: ValveForm;
  /** Commissures that look closed, by index into those given. */
  readonly closed: readonly number[];
  readonly lobes: LobeComparison;
  readonly evidence: Readonly<Record<string, number>>;
}

/** Limits were set on phantoms of seeds 1 to 60 and checked on 61 to 100 (docs/methods/valve-form.md). */
const LEAST_THREE_CUSP_SCORE = 0.4;
/** A leaflet paler than this, or a lumen blurred over more, does not show its gaps. */
const LEAST_DARKNESS = 0.25;
const COARSEST_VOXEL_MM = 1.1;
const OPEN_GAP = 0.55;
/** Below this a gap is plainly open and no raphe, however low the attachment seems. */
const OPEN_RATIO = 0.4;
/** A raphe stands out from the clearest gap; three gaps equally dim are a picture too soft, or leaflets that hardly part. */
const LEAST_CONTRAST = 0.18;
/** The turning point of a low attachment, as a share of the junction's height; one above it proves that the hinges were followed up to a commissure. */
const HIGH_SHARE = 0.72;
/** Above a nadir leaflet is met: 0.83 and more in roots of three sinuses, at most 0.26 where one is supposed in a gap. */
const LEAST_LEAFLET = 0.5;

/**
 * How closed a commissure looks; above 0 it counts as closed. Two signs: leaflet bridges the gap (half a bare leaflet's
 * darkness is the turning point), and the attachment stays low (at 0.72 of the junction's height). At full height
 * no bridge is enough: that is calcium, or an edge that hardly parts. A marked root has no
 * attachment of its own (`heightShare` NaN): the bridge alone must then be as good as complete.
 */
export function scoreClosure(c: CommissureView): number {
  const bridge = (c.bridgedRatio - 0.55) / 0.1;
  const low = Number.isFinite(c.heightShare) ? Math.max(-5, Math.min(3, (HIGH_SHARE - c.heightShare) / 0.08)) : -2;
  return c.bridgedRatio < OPEN_RATIO ? Math.min(-1, bridge + low) : bridge + low;
}

/** Indices of the commissures that look closed, each judged beside the clearest. */
function findClosed(commissures: readonly CommissureView[]): number[] {
  const clearest = Math.min(...commissures.map((c) => c.bridgedRatio));
  return commissures.flatMap((c, i) => (c.bridgedRatio - clearest >= LEAST_CONTRAST && scoreClosure(c) > 0 ? [i] : []));
}

/** Weighs what was measured; `view` is null where there is no junction or the voxels are too coarse. */
export function weighValveForm(lobes: LobeComparison, view: ValveView | null): ValveJudgement {
  const evidence: Record<string, number> = {
    twoCuspScore: lobes.twoCuspScore, threeCuspScore: lobes.threeCuspScore, secondWaveMm: lobes.secondWaveMm, thirdWaveMm: lobes.thirdWaveMm,
  };
  if (view) {
    evidence['leafletDarkness'] = view.leafletDarkness;
    view.commissures.forEach((c, i) => {
      evidence[`bridgedRatio${i + 1}`] = c.bridgedRatio;
      if (Number.isFinite(c.heightShare)) evidence[`heightShare${i + 1}`] = c.heightShare;
    });
    evidence['leastLeafletRatio'] = Math.min(...view.leafletRatio);
    if (Number.isFinite(view.openingAspect)) evidence['openingAspect'] = view.openingAspect;
  }
  const rounded = Object.fromEntries(Object.entries(evidence).map(([k, v]) => [k, Math.round(100 * v) / 100]));
  const judged = (form: ValveForm, closed: readonly number[] = []): ValveJudgement => ({ form, closed, lobes, evidence: rounded });
  if (isTwoLobed(lobes)) return judged('two-lobed');
  if (!(lobes.threeCuspScore > LEAST_THREE_CUSP_SCORE)) return judged('no-crown');
  if (!view || !(view.leafletDarkness > LEAST_DARKNESS)) return judged('not-seen');
  if (view.leafletRatio.some((r) => r < LEAST_LEAFLET)) return judged('cusp-missing');
  // A gap that is seen proves that gaps can be seen: without one the valve is shut, or the picture too soft.
  if (!view.commissures.some((c) => c.bridgedRatio < OPEN_GAP)) return judged('not-seen');
  const closed = findClosed(view.commissures);
  if (closed.length === 0) return judged('three-leaflet');
  // A raphe is low beside commissures that stand high. Where none does, one of the two signs is missing: calcium bridges gaps as well.
  if (view.commissures.every((c) => c.heightShare < HIGH_SHARE)) return judged('not-seen');
  return judged('maybe-fused', closed);
}

/**
 * Which form of valve stands in a measured root.
 * Shape     block and wall in the basal frame; `commissures` with their heights over the basal plane, NaN when not measured
 * Accuracy  docs/methods/valve-form.md: fused, two-sinus and plain phantoms
 */
export function judgeValveForm(
  block: PolarBlock,
  wall: WallTable,
  commissures: readonly { readonly azimuthRad: number; readonly heightMm: number }[],
  nadirsRad: readonly number[],
  bloodHu: number,
  voxelMm: number,
): ValveJudgement {
  const smooth = smoothPolarBlock(block, 1);
  // Above the last sound row of the wall there is nothing to compare.
  const lobes = compareLobes(gatherCrownEvidence({ ...smooth, heights: wall.heights }, wall, bloodHu, TISSUE_HU), wall);
  const junction = findJunction(wall);
  const isFine = voxelMm <= COARSEST_VOXEL_MM;
  const view = junction && isFine ? measureCommissures(smooth, wall, commissures, nadirsRad, junction.heightMm, bloodHu) : null;
  return weighValveForm(lobes, view);
}
