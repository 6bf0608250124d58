import type { DeviceFrame } from '../device/device-types.ts';
import { computeFreeRadius } from '../release/frame-shape.ts';

/**
 * Radius of the freely expanded frame at a height above its inflow edge; below it and above the outflow edge there is
 * no frame: radius 0.
 * Units     mm
 * Source    the shape of the release model (docs/methods/release.md)
 */
export function measureFreeRadius(frame: DeviceFrame, heightMm: number): number {
  if (heightMm < 0 || heightMm > frame.heightMm) return 0;
  return computeFreeRadius(
    { heightMm: frame.heightMm, inflowRadiusMm: frame.inflowMm / 2, waistRadiusMm: frame.waistMm / 2, waistHeightMm: frame.waistHeightMm, outflowRadiusMm: frame.outflowMm / 2 },
    heightMm,
  );
}
