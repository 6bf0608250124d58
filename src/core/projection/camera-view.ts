import { dot, type Vec3 } from '../math/vec3.ts';

/**
 * A C-arm angle as DICOM states it: Positioner Primary Angle (+ = LAO, -180 to 180) and Secondary Angle
 * (+ = CRAN, -90 to 90), both relative to the patient (PS3.3 C.8.7.5).
 */
export interface CameraView {
  readonly primaryDeg: number;
  readonly secondaryDeg: number;
}

/** The picture of a view: beam, and the two axes of the picture as the reader sees it. Unit vectors, LPS. */
export interface ViewAxes {
  /** From the isocentre to the detector; the X-ray source lies at the other end. */
  readonly beamLps: Vec3;
  /** To the right of the picture; at 0/0 the patient's left. */
  readonly rightLps: Vec3;
  /** To the top of the picture; at 0/0 the head. */
  readonly upLps: Vec3;
}

const RAD = Math.PI / 180;

/**
 * Beam and picture axes of a camera angle.
 * Frame     LPS; right-handed (right x up = beam): the reader looks from the detector toward the source
 * Equation  d = (sin P cos S, -cos P cos S, sin S): primary is a longitude, secondary a latitude on the turned arm
 * Source    PS3.3 C.8.7.5.1.2; checks CT-18, CT-20 (docs/methods/camera-views.md)
 */
export function makeViewAxes(view: CameraView): ViewAxes {
  const [sp, cp] = [Math.sin(view.primaryDeg * RAD), Math.cos(view.primaryDeg * RAD)];
  const [ss, cs] = [Math.sin(view.secondaryDeg * RAD), Math.cos(view.secondaryDeg * RAD)];
  return { beamLps: [sp * cs, -cp * cs, ss], rightLps: [cp, sp, 0], upLps: [-sp * ss, cp * ss, cs] };
}

/** The angle whose beam runs along `beamLps` (any length but zero). At the poles, where primary has no meaning, it is 0. */
export function readView(beamLps: Vec3): CameraView {
  const flat = Math.hypot(beamLps[0], beamLps[1]);
  return {
    primaryDeg: flat < 1e-12 * Math.abs(beamLps[2]) ? 0 : Math.atan2(beamLps[0], -beamLps[1]) / RAD,
    secondaryDeg: Math.atan2(beamLps[2], flat) / RAD,
  };
}

/** Of a beam and its opposite, which show the same shadows mirrored, the one with the detector in front of the patient. */
export function turnToFront(beamLps: Vec3): Vec3 {
  const [x, y, z] = beamLps;
  const isBehind = y > 1e-12 || (Math.abs(y) <= 1e-12 && (x < -1e-12 || (Math.abs(x) <= 1e-12 && z < 0)));
  return isBehind ? [-x, -y, -z] : beamLps;
}

/** Angle between two views, deg. */
export function measureViewAngle(a: CameraView, b: CameraView): number {
  const c = dot(makeViewAxes(a).beamLps, makeViewAxes(b).beamLps);
  return Math.acos(Math.max(-1, Math.min(1, c))) / RAD;
}

/** PS3.3: primary -180 to 180, secondary -90 to 90. */
export function isCameraView(view: CameraView): boolean {
  return Math.abs(view.primaryDeg) <= 180 && Math.abs(view.secondaryDeg) <= 90;
}

/** An angle as the trade writes it: "LAO 10 CAU 12", zeros named too. */
export function nameView(view: CameraView): string {
  const p = Math.round(view.primaryDeg);
  const s = Math.round(view.secondaryDeg);
  return `${p >= 0 ? 'LAO' : 'RAO'} ${Math.abs(p)} ${s >= 0 ? 'CRA' : 'CAU'} ${Math.abs(s)}`;
}
