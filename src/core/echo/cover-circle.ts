/**
 * How much of a circle arcs cover together, each counted once.
 * Units   of `whole`: 360 for degrees, 2 pi for radians; arcs run upward from their begin and may pass 0
 */
export function coverCircle(arcs: readonly (readonly [from: number, length: number])[], whole: number): number {
  const parts = arcs
    .flatMap(([begin, length]): readonly (readonly [number, number])[] => {
      const from = ((begin % whole) + whole) % whole;
      return from + length > whole ? [[from, whole], [0, from + length - whole]] : [[from, from + length]];
    })
    .sort((a, b) => a[0] - b[0]);
  let [covered, reached] = [0, 0];
  for (const [from, to] of parts) {
    covered += Math.max(0, to - Math.max(from, reached));
    reached = Math.max(reached, to);
  }
  return covered;
}
