/** Which HU are black and which are white; linear between. */
export interface GreyWindow {
  readonly lowHu: number;
  readonly highHu: number;
}

/** Little-endian RGBA: opaque black. */
const BLACK = 0xff000000;

/**
 * HU as opaque grey pixels (red = green = blue), for a canvas.
 *
 * Shape     rgba: 4 bytes a pixel, in the order of `hu`; its length is 4 times that of `hu`
 * Units     HU in, 0 to 255 out
 * Equation  round(255 (hu - low) / (high - low)), held within 0 to 255; where there is no sample (NaN): black
 * Limits    on a big-endian machine the bytes of a pixel would be turned round; no browser runs on one
 */
export function paintGrey(hu: Float32Array, window: GreyWindow, rgba: Uint8ClampedArray): void {
  const pixels = new Uint32Array(rgba.buffer, rgba.byteOffset, Math.min(hu.length, rgba.length >> 2));
  const widthHu = Math.max(1, window.highHu - window.lowHu);
  const scale = 255 / widthHu;
  const offset = 0.5 - window.lowHu * scale;
  for (let i = 0; i < pixels.length; i++) {
    const level = hu[i]! * scale + offset;
    // A NaN is neither; it ends as black.
    const grey = level >= 255 ? 255 : level > 0 ? level | 0 : 0;
    pixels[i] = BLACK | (grey * 0x010101);
  }
}
