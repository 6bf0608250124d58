import { add, along, cross, dot, norm, scale, sub, unit, type Vec3 } from '../math/vec3.ts';
import { normalAt } from '../math/random.ts';
import type { PhantomTruth } from './phantom-types.ts';
import { findFluoroscopyMarks, measureScene, type FluoroscopyCamera, type FluoroscopyMarks, type FluoroscopyScene, type Pixel } from './draw-fluoroscopy.ts';

/** One run of the training case: what the C-arm saw, and four clicks on each point with their noise. */
export interface TrainingRun {
  readonly camera: FluoroscopyCamera;
  readonly marks: FluoroscopyMarks;
  readonly clicks: { readonly cuspN: readonly Pixel[]; readonly frameInflow: readonly [readonly Pixel[], readonly Pixel[]]; readonly frameAxis: readonly [readonly Pixel[], readonly Pixel[]] };
  readonly clickSdPx: number;
}
export interface TrainingFluoroscopy {
  readonly scene: FluoroscopyScene;
  readonly truth: ReturnType<typeof measureScene>;
  readonly runs: readonly [TrainingRun, TrainingRun];
}

/** Turn of the patient on the table against the CT, about the left, posterior and head axis, deg. */
const TURN_DEG: Vec3 = [1.5, -2, 2.5];
const DOWN_MM = 4;
const LEAN = 0.07;
const CLICKS = 4;
const CLICK_SD_MM = 0.7;
/** Primary angles of the two runs, and how far each looks off the plane. */
const VIEWS = [{ primaryDeg: -14, offDeg: 2 }, { primaryDeg: 34, offDeg: -4 }] as const;

/**
 * A frame half way out in the root of a drawn CT, on the table: the patient lies a little turned, the frame leans by 4 deg,
 * the table was moved between the runs. All of it is invented.
 * Frame     scene in LPS of the table, the middle of the nadirs where the CT has it
 */
export function makeTrainingFluoroscopy(truth: Pick<PhantomTruth, 'basalPlane' | 'basalRing'>, seed: number): TrainingFluoroscopy {
  const { nadirsLps, normalLps } = truth.basalPlane;
  const middle = scale(add(add(nadirsLps.R, nadirsLps.L), nadirsLps.N), 1 / 3);
  const turned = (p: Vec3): Vec3 => add(middle, turn(sub(p, middle)));
  const normal = turn(normalLps);
  const across = unit(cross(normal, [0, 0, 1]));
  const radiusMm = 0.93 * Math.sqrt(truth.basalRing.areaMm2 / Math.PI);
  const scene: FluoroscopyScene = {
    nadirsLps: { R: turned(nadirsLps.R), L: turned(nadirsLps.L), N: turned(nadirsLps.N) }, normalLps: normal,
    frame: { centreLps: along(along(middle, normal, -DOWN_MM), across, 1), axisLps: unit(along(normal, across, LEAN)), inflowRadiusMm: radiusMm, outflowRadiusMm: radiusMm * 1.3, heightMm: 45, cells: 15 },
    ballMm: 1.2, ballsAt: ['N'],
  };
  const runs = VIEWS.map(({ primaryDeg, offDeg }, r): TrainingRun => {
    const camera: FluoroscopyCamera = {
      primaryDeg, secondaryDeg: Math.round((onEdge(normalLps, primaryDeg) + offDeg) * 10) / 10, sourceToImageMm: 1100, sourceToPatientMm: 750, pixelMm: 0.308, columns: 512, rows: 512,
      isocentreLps: [middle[0] + 9 * (r === 0 ? 1 : -1), middle[1] + 12, middle[2] + 14 - 6 * r],
    };
    const clickSdPx = CLICK_SD_MM / ((camera.pixelMm * camera.sourceToPatientMm) / camera.sourceToImageMm);
    const marks = findFluoroscopyMarks(scene, camera);
    let draw = 0;
    const click = (p: Pixel): readonly Pixel[] => Array.from({ length: CLICKS }, () => [p[0] + clickSdPx * normalAt(seed, r, draw++, 2), p[1] + clickSdPx * normalAt(seed, r, draw++, 2)]);
    return { camera, marks, clickSdPx, clicks: { cuspN: click(marks.cuspN), frameInflow: [click(marks.frameInflow[0]), click(marks.frameInflow[1])], frameAxis: [click(marks.frameAxis[0]), click(marks.frameAxis[1])] } };
  });
  return { scene, truth: measureScene(scene), runs: [runs[0]!, runs[1]!] };
}

function turn(v: Vec3): [number, number, number] {
  const w = scale(TURN_DEG, Math.PI / 180);
  const angle = norm(w);
  const k = scale(w, 1 / angle);
  return add(add(scale(v, Math.cos(angle)), scale(cross(k, v), Math.sin(angle))), scale(k, dot(k, v) * (1 - Math.cos(angle))));
}

/** Secondary angle at which the beam lies in the plane. */
function onEdge(normal: Vec3, primaryDeg: number): number {
  const p = (primaryDeg * Math.PI) / 180;
  return (Math.atan2(normal[1] * Math.cos(p) - normal[0] * Math.sin(p), normal[2]) * 180) / Math.PI;
}
