import { fail, succeed, type Result } from '../result.ts';
import type { Reason } from '../units/fact.ts';
import { judgeValveForm } from './judge-valve-form.ts';
import type { MappedWall } from './map-wall.ts';
import { cylinderFromLps } from './root-frame.ts';
import { MARK_TWO_CUSPS, refuseTwoCusps } from './refuse-two-cusps.ts';
import { CUSPS, type Cusp } from './root-types.ts';
import type { SettledRoot } from './settle-frame.ts';

export type ValveFailureCode = 'valve-not-three-leaflet' | 'root-model-does-not-fit';

export interface ValveRemarks {
  readonly messages: readonly Reason[];
  /** Those of the messages that make doubtful what hangs on single cusps: sinuses, leaflets. */
  readonly doubts: readonly Reason[];
}

/**
 * Whether the root may be measured as one of three free cusps.
 * Shape     no remark where three gaps are seen
 * Fails     valve-not-three-leaflet, root-model-does-not-fit; never on marked nadirs, where the person has decided
 * Source    docs/methods/valve-form.md
 */
export function checkValve(root: SettledRoot, mapped: MappedWall, voxelMm: number): Result<ValveRemarks, ValveFailureCode> {
  const commissures = CUSPS.map((c) => {
    const at = cylinderFromLps(root.frame, root.commissureAfterLps[c]);
    return { azimuthRad: at.azimuthRad, heightMm: root.isMarked ? NaN : at.heightMm };
  });
  const { form, closed, lobes, evidence } = judgeValveForm(mapped.block, mapped.table, commissures, CUSPS.map((c) => cylinderFromLps(root.frame, root.nadirsLps[c]).azimuthRad), mapped.blood.levelHu, voxelMm);
  switch (form) {
    case 'three-leaflet':
      return succeed(NO_REMARK);
    case 'maybe-fused': {
      const pairs = closed.map((i) => `${CUSPS[i]!} and ${findNext(root, CUSPS[i]!)}`).join(', ');
      return succeed(doubt({
        code: 'valve-maybe-fused',
        text: `No gap is seen between the cusps ${pairs}: they may have grown together (bicuspid valve with a raphe). What hangs on single cusps is doubtful.`,
        next: 'Look at the cut through the leaflet tips; if the cusps are fused, check the three nadirs on the long cuts and mark them by hand where they are wrong.',
      }));
    }
    case 'not-seen':
      return succeed({ doubts: [], messages: [{
        code: 'valve-form-not-seen',
        text: 'The gaps between the leaflets are not seen (coarse voxels, blur, or leaflets shut), so fused cusps are not excluded.',
        next: 'Look at the cut through the leaflet tips, or use a thinner systolic series.',
      }] });
    case 'two-lobed':
      if (root.isMarked) return succeed(doubt({ code: 'valve-not-three-leaflet', text: 'Two cusps explain the wall better than three marks do.', next: 'Check that the three marks fit a valve of two cusps; sinuses and leaflets by cusp do not mean much here.' }));
      return refuseTwoCusps(lobes);
    case 'cusp-missing':
      if (root.isMarked) return succeed(doubt({ code: 'valve-not-three-leaflet', text: 'No leaflet stands above one of the three marked nadirs.', next: 'Check the three marks on the long cuts; sinuses and leaflets by cusp do not mean much in a valve of two cusps.' }));
      return fail(
        'valve-not-three-leaflet',
        'No leaflet stands above one of the three places found for cusps: it lies in the gap between two, so the valve seems to have two cusps.',
        MARK_TWO_CUSPS,
        evidence,
      );
    case 'no-crown':
      if (root.isMarked) return succeed(NO_REMARK);
      return fail('root-model-does-not-fit', 'On the plane that was found the wall shows no leaflets attached in a crown: it may not be the root.', 'Mark the three nadirs by hand and plan again.', evidence);
  }
}

const NO_REMARK: ValveRemarks = { messages: [], doubts: [] };
const doubt = (reason: Reason): ValveRemarks => ({ messages: [reason], doubts: [reason] });

/** The cusp that follows counter-clockwise, seen from the aorta. */
function findNext(root: SettledRoot, cusp: Cusp): Cusp {
  const azimuth = (c: Cusp): number => cylinderFromLps(root.frame, root.nadirsLps[c]).azimuthRad;
  const after = (c: Cusp): number => {
    const d = azimuth(c) - azimuth(cusp);
    return d - 2 * Math.PI * Math.floor(d / (2 * Math.PI));
  };
  return CUSPS.filter((c) => c !== cusp).sort((a, b) => after(a) - after(b))[0]!;
}
