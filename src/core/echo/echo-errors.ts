import type { EchoNumberCode } from './echo-fields.ts';

/**
 * How far a reading of an echo may be off: 95 % half-width, the larger of a share of the value and a fixed amount. All of them are
 * our assumptions [A], chosen so that two readers of one study usually agree within them; docs/methods/echo.md says how to
 * replace them. Hours of the clock: half an hour to either side, as in compare-leak-sites.ts.
 */
export interface ReadingError {
  readonly share: number;
  readonly amount: number;
}
const error = (share: number, amount: number): ReadingError => ({ share, amount });

export const READING_ERRORS: Readonly<Record<EchoNumberCode, ReadingError>> = {
  'heart-rate': error(0.03, 2),
  'body-surface': error(0.03, 0),
  'valve-velocity': error(0.04, 0.05),
  'valve-mean-gradient': error(0.08, 1),
  'valve-peak-gradient': error(0.08, 1),
  'valve-vti': error(0.06, 1),
  'valve-area': error(0.15, 0.1),
  'outflow-diameter': error(0.05, 0.1),
  'outflow-velocity': error(0.06, 0.05),
  'outflow-vti': error(0.08, 1),
  'stroke-volume': error(0.12, 3),
  'reference-stroke': error(0.12, 3),
  circumference: error(0.1, 3),
  'regurgitant-volume': error(0.2, 3),
  'regurgitant-fraction': error(0.1, 5),
  'regurgitant-orifice': error(0.2, 0.02),
  'vena-contracta': error(0.1, 0.1),
  'half-time': error(0.12, 20),
  'jet-width': error(0.1, 4),
  'isovelocity-radius': error(0.1, 0.05),
  'isovelocity-alias': error(0.02, 1),
  'leak-velocity': error(0.04, 0.05),
  'leak-vti': error(0.06, 2),
  'jet-1-from': error(0, 0.5), 'jet-1-to': error(0, 0.5), 'jet-2-from': error(0, 0.5), 'jet-2-to': error(0, 0.5), 'jet-3-from': error(0, 0.5), 'jet-3-to': error(0, 0.5),
  'clock-r': error(0, 0.5), 'clock-r-l': error(0, 0.5), 'clock-l-n': error(0, 0.5), 'clock-n-r': error(0, 0.5),
  'ejection-fraction': error(0, 7),
};
