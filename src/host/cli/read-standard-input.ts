/** Everything of a stream, or null when it is longer than `most` bytes. */
export async function readAll(input: AsyncIterable<Uint8Array>, most: number): Promise<Uint8Array | null> {
  const parts: Uint8Array[] = [];
  let bytes = 0;
  for await (const part of input) {
    bytes += part.length;
    if (bytes > most) return null;
    parts.push(part);
  }
  return Buffer.concat(parts);
}

export interface ReadLine {
  /** From 1. */
  readonly line: number;
  /** null: longer than what is taken; it was passed over without being kept. */
  readonly bytes: Uint8Array | null;
}
const NEWLINE = 10;

/** Lines as they arrive: all that are whole in what has come so far, together. Blank ones are left out; memory is bounded. */
export async function* readLines(input: AsyncIterable<Uint8Array>, most: number): AsyncGenerator<readonly ReadLine[]> {
  let rest: Uint8Array = new Uint8Array(0);
  let [line, isPassing] = [0, false];
  const take = (bytes: Uint8Array): ReadLine[] => {
    const wasPassing = isPassing;
    isPassing = false;
    line++;
    if (wasPassing || bytes.length > most) return [{ line, bytes: null }];
    return bytes.every((b) => b === 32 || b === 9 || b === 13) ? [] : [{ line, bytes }];
  };
  for await (const part of input) {
    let whole = rest.length > 0 ? Buffer.concat([rest, part]) : part;
    const found: ReadLine[] = [];
    for (let end = whole.indexOf(NEWLINE); end >= 0; end = whole.indexOf(NEWLINE)) {
      found.push(...take(whole.subarray(0, end)));
      whole = whole.subarray(end + 1);
    }
    if (whole.length > most) isPassing = true;
    rest = isPassing ? new Uint8Array(0) : whole;
    if (found.length > 0) yield found;
  }
  if (rest.length > 0 || isPassing) {
    const last = take(rest);
    if (last.length > 0) yield last;
  }
}
