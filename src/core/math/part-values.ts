/**
 * Puts in order only what is asked for: afterwards the value that would stand at `at` in ascending order stands there, none
 * before it is greater and none after it smaller. For a median or the ends of many values, several times faster than sorting.
 *
 * Shape     changes `values` from `from` (included) to `to` (excluded); `at` between them
 * Fails     never; among NaN the order is not told
 * Source    Hoare 1961, algorithm 65; the pivot is the middle of three
 */
export function partValues(values: Float32Array, at: number, from = 0, to = values.length): void {
  let [low, high] = [from, to - 1];
  while (low < high) {
    const [a, b, c] = [values[low]!, values[(low + high) >> 1]!, values[high]!];
    const pivot = a < b ? (b < c ? b : Math.max(a, c)) : a < c ? a : Math.max(b, c);
    let [i, j] = [low, high];
    while (i <= j) {
      while (values[i]! < pivot) i++;
      while (values[j]! > pivot) j--;
      if (i > j) break;
      const held = values[i]!;
      values[i++] = values[j]!;
      values[j--] = held;
    }
    if (at <= j) high = j;
    else if (at >= i) low = i;
    else return;
  }
}
