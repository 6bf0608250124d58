import type { SurveyDocument } from '../../src/core/root/survey-document.ts';
import { makeWallTable, PLAIN_FRAME } from './survey-fixtures.ts';

/** A root with sinuses of three lobes from 0 to 20 mm over an outflow tract that narrows downward. */
export const lobedRadiusMm = (azimuthRad: number, heightMm: number): number => {
  const sinus = heightMm > 0 && heightMm < 20 ? Math.sin((Math.PI * heightMm) / 20) ** 2 : 0;
  return 12 + 0.02 * Math.max(-12, Math.min(0, heightMm)) + sinus * (2.5 + 0.8 * Math.cos(3 * azimuthRad));
};

/** The survey document of a wall that is a function of azimuth and height; plane z = 0 of LPS, nothing bridged. */
export function makeSurveyFixture(radiusMm: (azimuthRad: number, heightMm: number) => number = lobedRadiusMm, change: Partial<SurveyDocument> = {}): SurveyDocument {
  const wall = makeWallTable({ heights: 121, azimuths: 96, lowMm: -16, stepMm: 0.5 }, radiusMm);
  return {
    format: 'trinadir.survey/1', madeBy: 'test', frameOfReferenceUid: '1.2.3', patientPosition: 'HFS', frame: PLAIN_FRAME, wall, seenWall: wall,
    isBridged: new Uint8Array(wall.radiusMm.length), blood: { levelHu: 380, perMmHu: 0, noiseHu: 25 }, blurMm: 0.7, voxelMm: 0.5,
    nadirSdMm: { R: 0.2, L: 0.2, N: 0.2 }, isMarked: false, doubts: [], valve: [], cuts: { cuts: [] }, ...change,
  };
}
