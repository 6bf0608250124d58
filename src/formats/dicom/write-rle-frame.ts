/**
 * One frame as RLE (PS3.5 annex G): a header of 64 bytes, then one segment per byte of a sample, high bytes first, each
 * packed by runs.
 */
export function encodeRleFrame(samples: Uint8Array, sampleBytes: 1 | 2 = 2): Uint8Array {
  const count = samples.length / sampleBytes;
  const planes = (sampleBytes === 2 ? [1, 0] : [0]).map((offset) => {
    const plane = new Uint8Array(count);
    for (let i = 0; i < count; i++) plane[i] = samples[i * sampleBytes + offset]!;
    return packRuns(plane);
  });
  const header = new DataView(new ArrayBuffer(64));
  header.setUint32(0, planes.length, true);
  let at = 64;
  planes.forEach((p, i) => {
    header.setUint32(4 + 4 * i, at, true);
    at += p.length;
  });
  const out = new Uint8Array(at);
  out.set(new Uint8Array(header.buffer), 0);
  at = 64;
  for (const p of planes) {
    out.set(p, at);
    at += p.length;
  }
  return out;
}

/** Byte runs: n >= 0 copies n + 1 bytes, n < 0 repeats the next byte 1 - n times; padded to even length. */
function packRuns(bytes: Uint8Array): Uint8Array {
  const out = new Uint8Array(bytes.length + Math.ceil(bytes.length / 128) + 2);
  let o = 0;
  let i = 0;
  while (i < bytes.length) {
    let run = 1;
    while (i + run < bytes.length && run < 128 && bytes[i + run] === bytes[i]) run++;
    if (run >= 3) {
      out[o++] = 257 - run;
      out[o++] = bytes[i]!;
      i += run;
      continue;
    }
    const from = i;
    while (i < bytes.length && i - from < 128) {
      if (i + 2 < bytes.length && bytes[i] === bytes[i + 1] && bytes[i] === bytes[i + 2]) break;
      i++;
    }
    out[o++] = i - from - 1;
    out.set(bytes.subarray(from, i), o);
    o += i - from;
  }
  if (o % 2 === 1) out[o++] = 0;
  return out.slice(0, o);
}
