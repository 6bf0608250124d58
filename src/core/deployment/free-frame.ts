import type { DeviceFrame } from '../device/device-types.ts';

const quintic = (t: number): number => {
  const x = Math.max(0, Math.min(1, t));
  return x * x * x * (6 * x * x - 15 * x + 10);
};

/**
 * Radius of the freely expanded frame at a height above its inflow edge: inflow to waist to outflow, each half a
 * smooth blend. Below the inflow edge and above the outflow edge there is no frame: radius 0.
 * Units     mm
 * Source    docs/methods/landing.md; the same shape as the release model's frame
 */
export function measureFreeRadius(frame: DeviceFrame, heightMm: number): number {
  if (heightMm < 0 || heightMm > frame.heightMm) return 0;
  const [a, w, b] = [frame.inflowMm / 2, frame.waistMm / 2, frame.outflowMm / 2];
  if (heightMm <= frame.waistHeightMm) return a + (w - a) * quintic(heightMm / frame.waistHeightMm);
  return w + (b - w) * quintic((heightMm - frame.waistHeightMm) / (frame.heightMm - frame.waistHeightMm));
}
