import { normalAt, uniformAt } from '../math/random.ts';
import type { BeatTruth, CirculationShape, CirculationTruth } from './circulation-types.ts';

/** An older person after a good release: no gradient of note, no leak. All numbers are drawn, not measured [P]. */
export const PLAIN_CIRCULATION: CirculationShape = {
  ratePerMin: 72, rateVariation: 0.02, elastanceMax: 2.6, elastanceVariation: 0.02, stiffness: 0.02, venousMmHg: 12, hasAtrialKick: true,
  valveAreaCm2: 2.2, leakAreaCm2: 0, resistance: 1.2, rootCompliance: 0.35, bodyCompliance: 0.9, inertance: 0.004,
  breathMmHg: 2, breathsPerMin: 14, prematureEvery: 0, pacedFast: null,
};

/** Steps per second of the integration; samples are taken out of it. */
export const STEPS_PER_S = 2000;
const SETTLE_S = 8;
const UNSTRESSED_ML = 10; // of the ventricle
const PASSIVE_MMHG = 1.6;
const MITRAL_RESISTANCE = 0.008; // mmHg s/mL
const VENOUS_RESISTANCE = 0.04;
const ATRIAL_V0 = 20;
const ATRIAL_ELASTANCE = 0.18; // mmHg/mL
const ATRIAL_KICK = 0.22;
const BODY_DAMPING = 0.04; // mmHg s/mL, in the inertance branch
const VEIN_MMHG = 5;
/** mmHg per (cm/s)^2: rho/2 at 1060 kg/m3. */
const JET = 3.98e-4;
/** Of the blood in the valve, mmHg s2/mL per 1/cm2: rho times 1 cm. */
const VALVE_INERTIA = 8e-4;
/** Opening and closing of the valve per mmHg and second (form of Mynard et al. 2012 [M]). */
const VALVE_RATE = 16;
const LEAST_AREA = 1e-4;

interface Beat {
  readonly onset: number;
  readonly length: number;
  readonly strength: number;
  readonly isPremature: boolean;
  readonly isPacedFast: boolean;
}

/** What drives the ventricle and the atrium at one instant. */
interface Drive {
  readonly active: number;
  readonly passive: number;
  readonly atrial: number;
  readonly venous: number;
}

/** Double Hill activation, its peak scaled to 1 (form of Stergiopulos et al. 1996 [M]). */
function activate(t: number, base: number): number {
  if (t <= 0) return 0;
  const rise = (t / (0.303 * base)) ** 1.32;
  const fall = (t / (0.508 * base)) ** 21.9;
  return (1.672 * (rise / (1 + rise))) / (1 + fall);
}

function planBeats(shape: CirculationShape, untilS: number, seed: number): Beat[] {
  const beats: Beat[] = [];
  const usual = 60 / shape.ratePerMin;
  let at = 0;
  let isDue = false;
  for (let k = 0; at < untilS + 2; k++) {
    const paced = shape.pacedFast;
    const isPacedFast = paced !== null && at - SETTLE_S >= paced.fromS && at - SETTLE_S < paced.toS;
    const isPremature = isDue;
    isDue = !isPacedFast && shape.prematureEvery > 0 && k % shape.prematureEvery === shape.prematureEvery - 1;
    let length = usual * Math.max(0.45, 1 + shape.rateVariation * normalAt(seed, k, 1, 2.5));
    if (isPacedFast) length = 60 / paced.ratePerMin;
    else if (isDue) length *= 0.62; // the next one comes early
    else if (isPremature) length *= 1.36; // and is followed by a pause
    const strength = (1 + shape.elastanceVariation * normalAt(seed, k, 2, 2.5)) * (isPacedFast ? 0.55 : isPremature ? 0.8 : 1);
    beats.push({ onset: at, length, strength, isPremature, isPacedFast });
    at += length;
  }
  return beats;
}

/**
 * Draws a left heart and its arteries: ventricle and atrium of changing elastance, a mitral valve, an aortic valve with
 * inertia and a leak, a root and a body joined by inertia. Open loop: the pulmonary veins are a given pressure.
 *
 * Units     mmHg, mL, s, cm2
 * Equation  docs/methods/circulation-model.md; RK4 with steps of 0.5 ms
 * Fails     never; the samples per second must divide 2,000
 */
export function simulateCirculation(shape: CirculationShape, durationS: number, samplesPerS: number, seed: number): CirculationTruth {
  const total = durationS + SETTLE_S;
  const beats = planBeats(shape, total, seed);
  const dt = 1 / STEPS_PER_S;
  const n = Math.round(durationS * STEPS_PER_S);
  const settle = SETTLE_S * STEPS_PER_S;
  const [aortic, ventricular, flow] = [new Float64Array(n), new Float64Array(n), new Float64Array(n)];
  let which = 0;
  const breath = (t: number): number => shape.breathMmHg * Math.sin((2 * Math.PI * shape.breathsPerMin * (t - SETTLE_S)) / 60);
  // Systole shortens with the beat, less than in proportion.
  const baseOf = (b: Beat): number => 0.8 * Math.sqrt(Math.min(1.3, b.length) / 0.8);
  const drive = (t: number): Drive => {
    const beat = beats[which]!;
    const since = t - beat.onset;
    const before = which > 0 && since < 0.1 ? beats[which - 1]! : null;
    const act = Math.max(activate(since, baseOf(beat)), before ? activate(t - before.onset, baseOf(before)) : 0);
    const kickAt = since - (beat.length - 0.15);
    const hasKick = shape.hasAtrialKick && !beat.isPacedFast && !beats[which + 1]?.isPremature && kickAt > 0 && kickAt < 0.12;
    return {
      active: act * shape.elastanceMax * beat.strength, passive: (1 - Math.min(1, act)) * PASSIVE_MMHG,
      atrial: ATRIAL_ELASTANCE + (hasKick ? ATRIAL_KICK * Math.sin((Math.PI * kickAt) / 0.12) ** 2 : 0), venous: shape.venousMmHg - 0.3 * breath(t),
    };
  };
  const pressLv = (v: number, d: Drive): number => d.active * (v - UNSTRESSED_ML) + d.passive * (Math.exp(shape.stiffness * (v - UNSTRESSED_ML)) - 1);
  const closed = Math.max(LEAST_AREA, shape.leakAreaCm2);
  const opens = Math.max(0, shape.valveAreaCm2 - closed);
  const slope = (s: Float64Array, d: Drive, out: Float64Array): void => {
    const lv = pressLv(s[0]!, d);
    const la = d.atrial * (s[1]! - ATRIAL_V0);
    const mitral = Math.max(0, (la - lv) / MITRAL_RESISTANCE);
    const open = Math.min(1, Math.max(0, s[3]!));
    const area = closed + opens * open;
    const drop = lv - s[4]!;
    const v = s[2]! / area;
    out[0] = mitral - s[2]!;
    out[1] = (d.venous - la) / VENOUS_RESISTANCE - mitral;
    out[2] = ((drop - JET * v * Math.abs(v)) * area) / VALVE_INERTIA;
    out[3] = (drop > 0 ? 1 - open : open) * VALVE_RATE * drop;
    out[4] = (s[2]! - s[5]!) / shape.rootCompliance;
    out[5] = (s[4]! - s[6]! - BODY_DAMPING * s[5]!) / shape.inertance;
    out[6] = (s[5]! - (s[6]! - VEIN_MMHG) / shape.resistance) / shape.bodyCompliance;
  };
  // State: ventricle mL, atrium mL, valve flow mL/s, valve opening 0-1, root mmHg, branch flow mL/s, body mmHg.
  const y = Float64Array.of(110, 60, 0, 0, 85, 60, 85);
  const z = new Float64Array(7);
  const [k1, k2, k3, k4] = [new Float64Array(7), new Float64Array(7), new Float64Array(7), new Float64Array(7)];
  const step = (from: Float64Array, by: number): Float64Array => {
    for (let j = 0; j < 7; j++) z[j] = y[j]! + by * from[j]!;
    return z;
  };
  for (let i = -settle; i < n; i++) {
    const t = (i + settle) * dt;
    while (beats[which + 1]!.onset <= t) which++;
    const now = drive(t);
    if (i >= 0) {
      aortic[i] = y[4]! + breath(t);
      ventricular[i] = pressLv(y[0]!, now) + breath(t);
      flow[i] = y[2]!;
    }
    const middle = drive(t + dt / 2);
    slope(y, now, k1);
    slope(step(k1, dt / 2), middle, k2);
    slope(step(k2, dt / 2), middle, k3);
    slope(step(k3, dt), drive(t + dt), k4);
    for (let j = 0; j < 7; j++) y[j] = y[j]! + (dt / 6) * (k1[j]! + 2 * k2[j]! + 2 * k3[j]! + k4[j]!);
    y[3] = Math.min(1, Math.max(0, y[3]!));
  }
  const whole = beats.map((b) => ({ ...b, onset: b.onset - SETTLE_S })).filter((b) => b.onset >= 0 && b.onset + b.length + 0.05 < durationS);
  const truths = whole.map((b) => measureBeat(b, aortic, ventricular, flow));
  const rAtS = beats.map((b) => b.onset - SETTLE_S - 0.01).filter((t) => t > 0.05 && t < durationS - 0.05);
  const every = STEPS_PER_S / samplesPerS;
  const thin = (a: Float64Array): Float64Array => Float64Array.from({ length: Math.floor(durationS * samplesPerS) }, (_, k) => a[Math.round(k * every)]!);
  const forward = truths.reduce((sum, b) => sum + b.forwardMl, 0);
  return {
    samplesPerS, aorticMmHg: thin(aortic), ventricularMmHg: thin(ventricular), beats: truths, rAtS,
    ecgMv: drawEcg(beats, durationS, samplesPerS, shape.hasAtrialKick, seed), leakFraction: truths.reduce((sum, b) => sum + b.leakMl, 0) / forward,
  };
}

/** Truth of one beat, from the steps of the integration themselves. */
function measureBeat(b: Beat, aortic: Float64Array, ventricular: Float64Array, flow: Float64Array): BeatTruth {
  const from = Math.round(b.onset * STEPS_PER_S);
  const to = Math.min(aortic.length - 1, Math.round((b.onset + b.length) * STEPS_PER_S));
  let [high, lvHigh, lvLow, sum, forward, leak] = [-Infinity, -Infinity, Infinity, 0, 0, 0];
  let [foot, footAt] = [Infinity, from];
  let highAt = from;
  for (let i = from; i < to; i++) {
    if (aortic[i]! > high) [high, highAt] = [aortic[i]!, i];
    lvHigh = Math.max(lvHigh, ventricular[i]!);
    lvLow = Math.min(lvLow, ventricular[i]!);
    sum += aortic[i]!;
    if (flow[i]! > 0) forward += flow[i]! / STEPS_PER_S;
    else leak -= flow[i]! / STEPS_PER_S;
  }
  for (let i = from; i < highAt; i++) if (aortic[i]! < foot) [foot, footAt] = [aortic[i]!, i];
  // Ejection: from the first to the last time that LV stands above Ao before it has fallen.
  const isAbove = (i: number): boolean => ventricular[i]! > aortic[i]!;
  let [peakAt, steepAt] = [footAt, highAt];
  for (let i = footAt; i < to && i < footAt + 0.5 * STEPS_PER_S; i++) if (ventricular[i]! - aortic[i]! > ventricular[peakAt]! - aortic[peakAt]!) peakAt = i;
  for (let i = highAt; i < to - 1; i++) if (ventricular[i + 1]! - ventricular[i]! < ventricular[steepAt + 1]! - ventricular[steepAt]!) steepAt = i;
  let begin = from;
  while (begin < peakAt && !isAbove(begin)) begin++;
  let closed = Math.min(to - 1, steepAt + 0.06 * STEPS_PER_S);
  while (closed > peakAt && !isAbove(closed)) closed--;
  let [area, count] = [0, 0];
  for (let i = begin; i <= closed; i++) if (isAbove(i)) [area, count] = [area + ventricular[i]! - aortic[i]!, count + 1];
  let below = 0;
  for (let i = closed; i < to; i++) below += aortic[i]! - ventricular[i]!;
  return {
    atS: b.onset, lengthS: b.length, isPremature: b.isPremature, isPacedFast: b.isPacedFast, systolic: high, diastolic: foot, mean: sum / (to - from),
    ventricularSystolic: lvHigh, ventricularMinimum: lvLow, endDiastolic: ventricular[from]!, meanGradient: area / count,
    peakGradient: ventricular[peakAt]! - aortic[peakAt]!, ejectionS: (closed - begin + 1) / STEPS_PER_S, diastolicPressureTime: to > closed ? below / (to - closed) : NaN,
    forwardMl: forward, leakMl: leak,
  };
}

/** A plain ECG: P, QRS and T as bumps, a wide QRS for an early or paced beat. */
function drawEcg(beats: readonly Beat[], durationS: number, samplesPerS: number, hasP: boolean, seed: number): Float64Array {
  const ecg = Float64Array.from({ length: Math.floor(durationS * samplesPerS) }, (_, i) => 0.012 * normalAt(seed, i, 3));
  const bump = (atS: number, height: number, sdS: number): void => {
    const [a, b] = [Math.floor((atS - 4 * sdS) * samplesPerS), Math.ceil((atS + 4 * sdS) * samplesPerS)];
    for (let i = Math.max(0, a); i <= Math.min(ecg.length - 1, b); i++) ecg[i] = ecg[i]! + height * Math.exp(-0.5 * ((i / samplesPerS - atS) / sdS) ** 2);
  };
  for (const b of beats) {
    const r = b.onset - SETTLE_S - 0.01;
    const isWide = b.isPremature || b.isPacedFast;
    if (hasP && !isWide) bump(r - 0.16, 0.12, 0.022);
    bump(r - (isWide ? 0.05 : 0.025), -0.12, isWide ? 0.018 : 0.008);
    bump(r, isWide ? 1.4 : 1.1, isWide ? 0.026 : 0.011);
    bump(r + (isWide ? 0.06 : 0.028), -0.25, isWide ? 0.022 : 0.009);
    bump(r + 0.27 * Math.sqrt(Math.min(1, b.length)), isWide ? -0.3 : 0.28, 0.045);
  }
  return ecg;
}

/** A seeded circulation over the span that a room may show; rate, stiffness, valve and leak all vary. */
export function drawCirculation(seed: number, change: Partial<CirculationShape> = {}): CirculationShape {
  const between = (k: number, low: number, high: number): number => low + (high - low) * uniformAt(seed, k, 11);
  return {
    ratePerMin: between(1, 52, 105), rateVariation: between(2, 0.01, 0.04), elastanceMax: between(3, 1.8, 3.4), elastanceVariation: between(4, 0.01, 0.04),
    stiffness: between(5, 0.017, 0.026), venousMmHg: between(6, 9, 20), hasAtrialKick: true, valveAreaCm2: between(7, 0.7, 2.6),
    leakAreaCm2: Math.max(0, between(8, -0.1, 0.35)), resistance: between(9, 0.9, 1.6), rootCompliance: between(10, 0.25, 0.5), bodyCompliance: between(12, 0.6, 1.4),
    inertance: between(13, 0.003, 0.006), breathMmHg: between(14, 0.5, 3.5), breathsPerMin: between(15, 10, 20), prematureEvery: 0, pacedFast: null, ...change,
  };
}
