/** Where the contrast is, mL of contrast per mL of blood, one number for each time. */
export interface ContrastMix {
  readonly root: Float64Array;
  /** Segments of the ascending aorta, from the root on. */
  readonly aorta: readonly Float64Array[];
  readonly ventricle: Float64Array;
  readonly descending: Float64Array;
}
export interface MixInput {
  readonly ratePerMin: number;
  readonly regurgitantFraction: number;
  /** Ejected in a beat, what leaks back included, mL. */
  readonly strokeMl: number;
  readonly endSystolicMl: number;
  readonly injectedMl: number;
  /** Start of the injection, and time from there to its fastest, s. */
  readonly injectAtS: number;
  readonly injectRiseS: number;
  /** Place in the cycle at time 0, 0 to 1. */
  readonly phase: number;
}
export const SYSTOLE_SHARE = 0.35;
const ROOT_ML = 20;
const SEGMENT_ML = 14;
const SEGMENTS = 5;
const STEP_S = 0.002;
const DESCENDING_DELAY_S = 0.7;

/**
 * A bolus in the aortic root, washed on by each beat and leaking back into the ventricle: mixed vessels in a row.
 *
 * Equation  V dc/dt = sum of inflow x its concentration - outflow x c. Systole: half a sine of the stroke from the ventricle through
 *           root and segments. Diastole: fraction x stroke from the root into the ventricle, the rest of it from a clean atrium.
 *           Injection: gamma variate of power 2 (t / rise)^2 exp(2 (1 - t / rise)).
 * Truth     over the whole washout the ventricle's area over the root's is the regurgitant fraction, whatever rate and volumes:
 *           all that leaks in is ejected
 * Source    docs/methods/contrast.md, "Drawn runs"
 */
export function mixContrast(input: MixInput, timesS: readonly number[]): ContrastMix {
  const { ratePerMin, regurgitantFraction, strokeMl, endSystolicMl, injectedMl, injectAtS, injectRiseS, phase } = input;
  const cycleS = 60 / ratePerMin;
  const systoleS = SYSTOLE_SHARE * cycleS;
  // Integral of (t/r)^2 e^(2(1 - t/r)) over t is r e^2 / 4.
  const scale = injectedMl / ((injectRiseS * Math.E ** 2) / 4);
  let [root, ventricle, volume] = [0, 0, endSystolicMl + strokeMl];
  const chain = new Float64Array(SEGMENTS);
  const out: ContrastMix = { root: new Float64Array(timesS.length), aorta: Array.from({ length: SEGMENTS }, () => new Float64Array(timesS.length)), ventricle: new Float64Array(timesS.length), descending: new Float64Array(timesS.length) };
  const delayed: number[] = [];
  let k = 0;
  // A cycle begins with ejection; the start is moved back so that the asked phase falls on time 0.
  const begin = -phase * cycleS;
  for (let step = 0; k < timesS.length; step++) {
    const t = begin + step * STEP_S;
    while (k < timesS.length && timesS[k]! <= t) {
      out.root[k] = root;
      out.ventricle[k] = ventricle;
      out.aorta.forEach((segment, i) => (segment[k] = chain[i]!));
      out.descending[k] = delayed[delayed.length - Math.round(DESCENDING_DELAY_S / STEP_S)] ?? 0;
      k++;
    }
    const within = (((t - begin) % cycleS) + cycleS) % cycleS;
    const u = (t - injectAtS) / injectRiseS;
    const injected = u > 0 ? scale * u * u * Math.exp(2 * (1 - u)) : 0;
    const isSystole = within < systoleS;
    const ejected = isSystole ? ((strokeMl * Math.PI) / (2 * systoleS)) * Math.sin((Math.PI * within) / systoleS) : 0;
    const filled = isSystole ? 0 : strokeMl / (cycleS - systoleS);
    const leaked = regurgitantFraction * filled;
    // Ventricle: concentration falls with clean inflow, keeps with ejection.
    const contrast = ventricle * volume + STEP_S * (leaked * root - ejected * ventricle);
    volume += STEP_S * (filled - ejected);
    ventricle = contrast / volume;
    const onward = ejected + injected - leaked; // > 0 into the segments, < 0 back from them
    root += (STEP_S * (ejected * ventricle + injected - leaked * root - (onward > 0 ? onward * root : onward * chain[0]!))) / ROOT_ML;
    const before = Float64Array.from(chain);
    for (let i = 0; i < SEGMENTS; i++) {
      const upstream = i === 0 ? root : before[i - 1]!;
      const downstream = i === SEGMENTS - 1 ? 0 : before[i + 1]!;
      chain[i]! += (STEP_S * (onward > 0 ? onward * (upstream - before[i]!) : -onward * (downstream - before[i]!))) / SEGMENT_ML;
    }
    delayed.push(chain[SEGMENTS - 1]!);
  }
  return out;
}
