/**
 * Kernels against VTK's C++ filters: same raw volume, same number of threads, alternating processes, medians.
 * One thread each; and two where VTK's filter knows threads. Ours then take one volume each, as surveys are run: a kernel
 * of ours is never split. VTK's take both volumes one after the other. The time is that of one volume.
 * Ratio below 1: ours is faster. The figures of both results must agree, or the row says so.
 */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const HERE = dirname(fileURLToPath(import.meta.url));
const PYTHON = '/usr/bin/python3';
const ROUNDS = 3;
const KERNELS = [
  {
    id: 'reslice-linear',
    what: 'oblique reslice, linear, 8 pictures 512 x 512',
    runs: 5,
    warm: 6,
    isThreaded: true,
    relative: 1e-4,
  },
  {
    id: 'reslice-cubic',
    what: 'oblique reslice, cubic, 8 pictures 512 x 512',
    runs: 5,
    warm: 4,
    isThreaded: true,
    relative: 1e-4,
  },
  {
    id: 'gaussian',
    what: 'Gaussian smoothing, sigma 1 mm (radius 6, 6, 4)',
    runs: 1,
    warm: 1,
    isThreaded: true,
    relative: 1e-4,
  },
  {
    id: 'isosurface-smooth',
    what: 'isosurface, smooth field',
    runs: 7,
    warm: 10,
    relative: 0,
    isThreaded: true,
  },
  {
    id: 'isosurface-noisy',
    what: 'isosurface, noise of 30 HU',
    runs: 7,
    warm: 10,
    relative: 0,
    isThreaded: true,
  },
  { id: 'components', what: 'connected components, faces, by size', runs: 3, warm: 2, relative: 0 },
  { id: 'distance', what: 'squared distance', rounds: 2, runs: 1, warm: 1, relative: 1e-6 },
];

export const name = 'kernels';

export function run({ print }) {
  if (spawnSync(PYTHON, ['-c', 'import vtkmodules.vtkImagingCore']).status !== 0) {
    return { title: 'Kernels', rows: [], notes: ['not run: Debian package python3-vtk9 is missing'] };
  }
  const folder = mkdtempSync(join(tmpdir(), 'trinadir-bench-'));
  try {
    writeInput(folder);
    const rows = [];
    for (const [kernel, threads] of [
      ...KERNELS.map((k) => [k, 1]),
      ...KERNELS.filter((k) => k.isThreaded).map((k) => [k, 2]),
    ]) {
      print(`  ${kernel.id}, threads: ${threads} ...`);
      const ours = [];
      const theirs = [];
      for (let round = 0; round < (kernel.rounds ?? ROUNDS); round++) {
        ours.push(
          runOne(process.execPath, [
            join(HERE, 'kernels-ours.mjs'),
            folder,
            kernel.id,
            String(kernel.runs),
            String(kernel.warm),
            String(threads),
          ]),
        );
        theirs.push(
          runOne(PYTHON, [
            join(HERE, 'kernels-vtk.py'),
            folder,
            kernel.id,
            String(kernel.runs),
            String(kernel.warm),
            String(threads),
          ]),
        );
      }
      const a = ours[0].figure;
      const b = theirs[0].figure;
      rows.push({
        what: threads === 1 ? kernel.what : `${threads} threads: ${kernel.what}`,
        oursMs: median(ours.flatMap((r) => r.ms)),
        theirsMs: median(theirs.flatMap((r) => r.ms)),
        oursPeakMb: Math.max(...ours.map((r) => r.peakMb)),
        theirsPeakMb: Math.max(...theirs.map((r) => r.peakMb)),
        goal: 1,
        note:
          `CPU ${(median(ours.flatMap((r) => r.cpuMs)) / median(theirs.flatMap((r) => r.cpuMs))).toFixed(2)}, first run ${(
            median(ours.map((r) => r.firstMs)) / median(theirs.map((r) => r.firstMs))
          ).toFixed(1)}; ` +
          (Math.abs(a - b) <= kernel.relative * Math.abs(b)
            ? 'same result'
            : `results differ: ${a} and ${b}`),
      });
    }
    return {
      title:
        'Kernels on 256 x 256 x 256 (0.5 x 0.5 x 0.7 mm, 16 bit), one thread unless said; theirs = VTK C++',
      rows,
      notes: [
        'Ratio and peak memory: our time over theirs, medians of alternated processes after warming runs. "CPU": the same of CPU time.',
        '"first run": the same of the first run in a fresh process, compilation included.',
        'VTK smoothing is given float32 input; the cast from 16 bit is charged to ours only.',
        'Two threads: milliseconds a volume; ours one volume a worker, VTK both threads on one volume after the other.',
      ],
    };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

function runOne(program, args) {
  const done = spawnSync(program, args, { encoding: 'utf8', maxBuffer: 1 << 24 });
  if (done.status !== 0) throw new Error(`${args[0]} ${args[2]}: ${done.stderr}`);
  return JSON.parse(done.stdout.trim().split('\n').at(-1));
}
const median = (values) => {
  const sorted = [...values].sort((a, b) => a - b);
  return (sorted[(sorted.length - 1) >> 1] + sorted[sorted.length >> 1]) / 2;
};

/** A bright torus and balls in a body in air; once without noise and once with it; the mask is the noisy one cut at the level. */
function writeInput(folder) {
  const n = 256;
  const spacingMm = [0.5, 0.5, 0.7];
  const levelHu = 250.5; // no sample can equal it
  const smooth = new Int16Array(n ** 3);
  const noisy = new Int16Array(n ** 3);
  const mask = new Uint8Array(n ** 3);
  const balls = Array.from({ length: 12 }, (_, b) => [
    40 + ((b * 53) % 176),
    40 + ((b * 97) % 176),
    40 + ((b * 31) % 176),
    8 + (b % 5) * 4,
  ]);
  let state = 20261125;
  const uniform = () => {
    state = (Math.imul(state, 1664525) + 1013904223) | 0;
    return (state >>> 0) / 4294967296;
  };
  const edge = (d) => 1 / (1 + Math.exp(-d * 1.5));
  for (let k = 0, at = 0; k < n; k++) {
    for (let j = 0; j < n; j++) {
      for (let i = 0; i < n; i++, at++) {
        const x = i - 127.5,
          y = j - 127.5,
          z = k - 127.5;
        let depth = 18 - Math.hypot(Math.hypot(x, y) - 70, z);
        for (const [bx, by, bz, r] of balls) depth = Math.max(depth, r - Math.hypot(i - bx, j - by, k - bz));
        const body = edge(120 - Math.hypot(x, y));
        smooth[at] = Math.round(-1000 + body * 1040 + 420 * edge(depth));
        noisy[at] = Math.round(
          smooth[at] + 30 * 2.45 * (uniform() + uniform() + uniform() + uniform() - 2) * 0.707,
        );
        mask[at] = noisy[at] >= levelHu ? 1 : 0;
      }
    }
  }
  const planes = Array.from({ length: 8 }, (_, p) => {
    const c = Math.cos(0.3 + 0.2 * p),
      s = Math.sin(0.3 + 0.2 * p),
      ct = Math.cos(0.5),
      st = Math.sin(0.5);
    const uLps = [c, s, 0];
    const vLps = [-s * ct, c * ct, st];
    const centre = [64, 64, 88];
    return {
      uLps,
      vLps,
      stepMm: [0.2, 0.2],
      size: [512, 512],
      originLps: centre.map((q, a) => q - 51.2 * (uLps[a] + vLps[a])),
    };
  });
  writeFileSync(join(folder, 'smooth.raw'), smooth);
  writeFileSync(join(folder, 'noisy.raw'), noisy);
  writeFileSync(join(folder, 'mask.raw'), mask);
  writeFileSync(
    join(folder, 'spec.json'),
    JSON.stringify({ dims: [n, n, n], spacingMm, levelHu, sigmaMm: [1, 1, 1], planes }),
  );
}
