/** A number as a person types it, comma or point; null unless all of it is a number within the range. */
export function readNumber(text: string, low: number, high: number): number | null {
  const plain = text.trim().replace(',', '.').replace('\u2212', '-');
  if (!/^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain)) return null;
  const value = Number(plain);
  return value >= low && value <= high ? value : null;
}
