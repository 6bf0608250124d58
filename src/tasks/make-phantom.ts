import { drawPhantom } from '../core/phantom/draw-phantom.ts';
import type { DrawnPhantom, PhantomScan, PhantomShape } from '../core/phantom/phantom-types.ts';
import { succeed } from '../core/result.ts';
import type { Task } from './task.ts';

/** Draws one phantom with its truth; the same input always gives the same samples. */
export const makePhantom: Task<'make-phantom', { readonly shape: PhantomShape; readonly scan: PhantomScan }, DrawnPhantom, never> = {
  name: 'make-phantom',
  run(input, report) {
    const drawn = drawPhantom(input.shape, input.scan, report);
    return succeed(drawn);
  },
};
