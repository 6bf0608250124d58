import { describe, expect, test } from 'vitest';
import type { DepthFrame } from '../projection/depth-types.ts';
import { makeViewAxes } from '../projection/camera-view.ts';
import { projectPoint } from '../projection/depth-camera.ts';
import { measureDepth } from '../projection/measure-depth.ts';
import { sub } from '../math/vec3.ts';
import { drawFluoroscopy, findFluoroscopyMarks, measureScene, projectToPixel, type FluoroscopyCamera, type FluoroscopyScene } from './draw-fluoroscopy.ts';
import { makeTrainingFluoroscopy } from './training-fluoroscopy.ts';

const SCENE: FluoroscopyScene = {
  nadirsLps: { R: [0, -12, 0], L: [10, 6, 0], N: [-10, 6, 0] }, normalLps: [0, 0, 1],
  frame: { centreLps: [0, 0, -4], axisLps: [0, 0, 1], inflowRadiusMm: 11, outflowRadiusMm: 16, heightMm: 40, cells: 12 }, ballMm: 1.5, ballsAt: ['N'],
};
const CAMERA: FluoroscopyCamera = { primaryDeg: 0, secondaryDeg: 0, sourceToImageMm: 1100, sourceToPatientMm: 750, pixelMm: 0.616, columns: 160, rows: 150, isocentreLps: [0, 0, 0] };

describe('a drawn frame', () => {
  test('its depth and lean are those it was given', () => {
    expect(measureScene(SCENE)).toEqual({ depthMm: 4, centreDepthMm: 4, frameTiltDeg: 0 });
    const leaning = measureScene({ ...SCENE, frame: { ...SCENE.frame, axisLps: [Math.sin(0.1), 0, Math.cos(0.1)] } });
    expect(leaning.frameTiltDeg).toBeCloseTo((0.1 * 180) / Math.PI, 9);
    expect(leaning.centreDepthMm).toBe(4);
    // Leaning to the patient's left, away from N at the right: the edge on that side rises by r sin 0.1 times the share of N's direction.
    expect(leaning.depthMm).toBeLessThan(4);
    expect(leaning.depthMm).toBeGreaterThan(4 - 11 * Math.sin(0.1));
  });
  test('a point falls where projection/depth-camera.ts puts it, at any angle', () => {
    for (const [primaryDeg, secondaryDeg] of [[0, 0], [30, 20], [-45, -25], [90, 10]] as const) {
      const camera = { ...CAMERA, primaryDeg, secondaryDeg, isocentreLps: [3, -8, 11] as const };
      for (const p of [[0, 0, 0], [12, -30, 7], [-20, 25, -9]] as const) {
        const [rightMm, upMm] = projectPoint(sub(p, camera.isocentreLps), makeViewAxes(camera), 750);
        const mmPerPx = (0.616 * 750) / 1100;
        const [column, row] = projectToPixel(p, camera);
        expect(column).toBeCloseTo(79.5 + rightMm / mmPerPx, 9);
        expect(row).toBeCloseTo(74.5 - upMm / mmPerPx, 9);
      }
    }
  });
  test('the ends of the edge are a diameter apart, magnified, and lie on the edge', () => {
    const { frameInflow } = findFluoroscopyMarks(SCENE, CAMERA);
    const widthMm = Math.abs(frameInflow[0][0] - frameInflow[1][0]) * ((0.616 * 750) / 1100);
    // A round edge seen from 750 mm shows 2 r / sqrt(1 - (r / 750)^2) at its middle.
    expect(widthMm).toBeCloseTo(22 / Math.sqrt(1 - (11 / 750) ** 2), 4);
  });
  test('its picture is dark at the edge and the ball, and brighter where there is neither', () => {
    const picture = drawFluoroscopy(SCENE, CAMERA, { seed: 1, ratio: 0 });
    const at = ([column, row]: readonly [number, number]): number => picture[Math.round(row) * CAMERA.columns + Math.round(column)]!;
    const { cuspN } = findFluoroscopyMarks(SCENE, CAMERA);
    const ball = at(cuspN);
    const beside = at([cuspN[0] - 15, cuspN[1]]);
    expect(ball).toBeLessThan(0.7 * beside);
    expect(Math.max(...picture)).toBeLessThanOrEqual(4095);
  });
  test('noise depends on its seed alone', () => {
    const draw = (seed: number) => drawFluoroscopy(SCENE, { ...CAMERA, columns: 40, rows: 40 }, { seed, ratio: 0.6 });
    expect(draw(3)).toEqual(draw(3));
    expect(draw(3)).not.toEqual(draw(4));
  });
});

describe('fluoroscopy of the training case', () => {
  const truth = {
    basalPlane: { pointLps: [0, -120, 60], normalLps: [-0.4195, -0.2622, 0.8691], nadirsLps: { R: [-2, -131.5, 55.6], L: [9.4, -114.5, 66.2], N: [-7.4, -114, 58.2] } },
    basalRing: { areaMm2: 450 },
  } as unknown as Parameters<typeof makeTrainingFluoroscopy>[0];

  test('its marks give its depth', () => {
    const made = makeTrainingFluoroscopy(truth, 20260302);
    const frames = made.runs.map(({ camera, clicks, clickSdPx }): DepthFrame => ({
      view: camera, sizePx: camera, clickSdPx, marks: clicks,
      calibration: { by: 'geometry', sourceToImageMm: camera.sourceToImageMm, sourceToPatientMm: camera.sourceToPatientMm, pixelMm: camera.pixelMm, pixelAt: 'detector' },
    }));
    const { nadirsLps, normalLps } = truth.basalPlane;
    const found = measureDepth(frames, { basalPlane: { pointLps: nadirsLps.N, normalLps, nadirsLps, tiltUncertaintyDeg: 2, nadirUncertaintyMm: { R: 1, L: 1, N: 1 } }, frameAxisLps: null, ringCentreLps: null, frameInflowMm: null });
    if (!found.ok) throw new Error(found.failure.code);
    expect(found.value.reading.lowMm).toBeLessThan(made.truth.depthMm);
    expect(found.value.reading.highMm).toBeGreaterThan(made.truth.depthMm);
    expect(found.value.reading.clicks).toBe(4);
    expect(found.value.separationDeg).toBeGreaterThan(40);
  });
  test('is the same each time', () => {
    expect(makeTrainingFluoroscopy(truth, 5)).toEqual(makeTrainingFluoroscopy(truth, 5));
  });
});
