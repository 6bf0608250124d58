/** Quintic step 0 to 1 with flat ends to the second derivative; t is clipped to [0, 1]. */
export function smoothStep(t: number): number {
  if (!(t > 0)) return 0;
  if (t >= 1) return 1;
  return t * t * t * (t * (6 * t - 15) + 10);
}
/** Its slope. */
export function smoothStepSlope(t: number): number {
  if (!(t > 0) || t >= 1) return 0;
  const u = t * (1 - t);
  return 30 * u * u;
}

/** Two springs in series, N/mm3; a spring of 0 gives 0. */
export function joinSprings(frameNPerMm3: number, wallNPerMm3: number): number {
  const sum = frameNPerMm3 + wallNPerMm3;
  return sum > 0 ? (frameNPerMm3 * wallNPerMm3) / sum : 0;
}

/**
 * Contact pressure (2.2), N/mm2: linear at first, never above the plateau.
 * Equation  p = k d / (1 + k d / p_inf) for d > 0, else 0
 */
export function computePressure(stiffness: number, overlapMm: number, plateau: number): number {
  if (!(overlapMm > 0)) return 0;
  const load = stiffness * overlapMm;
  return load / (1 + load / plateau);
}

/** Stored energy per area (2.3), N/mm: the integral of the pressure over the overlap. */
export function computeEnergy(stiffness: number, overlapMm: number, plateau: number): number {
  if (!(overlapMm > 0 && stiffness > 0)) return 0;
  const x = (stiffness * overlapMm) / plateau;
  return ((plateau * plateau) / stiffness) * subtractLog(x);
}

/** Change of the energy with the joint stiffness (2.4), mm2. */
export function computeEnergySlope(stiffness: number, overlapMm: number, plateau: number): number {
  if (!(overlapMm > 0 && stiffness > 0)) return 0;
  const x = (stiffness * overlapMm) / plateau;
  return (plateau / stiffness) ** 2 * (Math.log1p(x) - x / (1 + x));
}

/** x - ln(1 + x) without cancellation at small x. */
function subtractLog(x: number): number {
  if (x > 1e-3) return x - Math.log1p(x);
  return x * x * (0.5 - x * (1 / 3 - x * (0.25 - x * 0.2)));
}

/** Change of the joint stiffness with the wall's (in 2.6). */
export function computeSeriesSlope(frameNPerMm3: number, wallNPerMm3: number): number {
  const q = frameNPerMm3 / (frameNPerMm3 + wallNPerMm3);
  return q * q;
}

/**
 * Axial holding force of one cone by the exact wedge, N. The model's linear form G (mu - tan alpha) is larger by the
 * factor 1 + mu tan alpha: 6 % at mu 0.3 and a slope of 0.2.
 * Equation  G tan(atan mu - atan slope) = G (mu - slope) / (1 + mu slope)
 */
export function computeExactHold(gripN: number, friction: number, slope: number): number {
  return (gripN * (friction - slope)) / (1 + friction * slope);
}
