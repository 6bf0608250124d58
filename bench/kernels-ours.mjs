/**
 * Our side of kernels.bench.mjs; mirrors kernels-vtk.py. Usage: kernels-ours.mjs FOLDER KERNEL RUNS WARMING_RUNS THREADS
 * With two threads a run is two volumes, each in a worker of its own, as surveys are run; the time is that of one volume.
 * Start-up, reading and the warming runs are not timed.
 */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { isMainThread, parentPort, Worker } from 'node:worker_threads';
import { extractIsosurface } from '../dist/core/surface/extract-isosurface.js';
import { computeSquaredDistanceMm2 } from '../dist/core/volume/distance-transform.js';
import { labelComponents } from '../dist/core/volume/label-components.js';
import { reslicePlane } from '../dist/core/volume/reslice-plane.js';
import { smoothGaussian } from '../dist/core/volume/smooth-gaussian.js';

const [folder, kernel, runs, warm, threadCount] = process.argv.slice(2);
const threads = Number(threadCount);
const spec = JSON.parse(readFileSync(join(folder, 'spec.json'), 'utf8'));
const [sx, sy, sz] = spec.spacingMm;
const lpsFromVoxel = { to: 'lps', from: 'voxel', rows: [sx, 0, 0, 0, 0, sy, 0, 0, 0, 0, sz, 0] };

const loadBytes = (name) => {
  const bytes = readFileSync(join(folder, `${name}.raw`));
  return new Uint8Array(bytes.buffer, bytes.byteOffset, bytes.byteLength);
};
const loadHu = (name) => {
  const bytes = loadBytes(name);
  return new Int16Array(bytes.buffer, bytes.byteOffset, bytes.byteLength / 2);
};
const loadVolume = (name) => ({
  samplesHu: loadHu(name),
  dims: spec.dims,
  lpsFromVoxel,
  spacingMm: spec.spacingMm,
  paddingHu: null,
});
function valueOf(result) {
  if (!result.ok) throw new Error(result.failure.message);
  return result.value;
}

function prepareReslice(interpolation) {
  const volume = loadVolume('noisy');
  return () => {
    let total = 0;
    for (const plane of spec.planes) {
      const picture = valueOf(reslicePlane(volume, plane, { interpolation }));
      total += picture[Math.floor(picture.length / 2) + Math.floor(plane.size[0] / 2)];
    }
    return total;
  };
}
function prepareIsosurface(name) {
  const grid = { samples: loadHu(name), dims: spec.dims, lpsFromVoxel };
  return () => valueOf(extractIsosurface(grid, spec.levelHu)).verticesLpsMm.length / 3;
}
const KERNELS = {
  'reslice-linear': () => prepareReslice('linear'),
  'reslice-cubic': () => prepareReslice('cubic'),
  gaussian: () => {
    const samples = loadHu('noisy');
    return () =>
      valueOf(smoothGaussian(samples, spec.dims, spec.spacingMm, spec.sigmaMm))[samples.length / 2];
  },
  'isosurface-smooth': () => prepareIsosurface('smooth'),
  'isosurface-noisy': () => prepareIsosurface('noisy'),
  components: () => {
    const mask = loadBytes('mask');
    return () => valueOf(labelComponents(mask, spec.dims, { connectivity: 6, order: 'size' })).count;
  },
  distance: () => {
    const mask = loadBytes('mask');
    return () => {
      const squared = valueOf(computeSquaredDistanceMm2(mask, spec.dims, [1, 1, 1], 'clear'));
      let largest = 0;
      for (let i = 0; i < squared.length; i++) if (squared[i] > largest) largest = squared[i];
      return largest;
    };
  },
};
const peakMb = () =>
  Number(/VmHWM:\s*(\d+)/.exec(readFileSync('/proc/self/status', 'utf8'))?.[1] ?? NaN) / 1024;

/** Runs of one volume here, or of one volume in each of several workers. */
function prepareRun() {
  if (threads === 1) {
    const run = KERNELS[kernel]();
    return { run: async () => run(), close: () => {} };
  }
  const workers = Array.from(
    { length: threads },
    () => new Worker(fileURLToPath(import.meta.url), { argv: process.argv.slice(2) }),
  );
  const ask = (worker) =>
    new Promise((resolve, reject) => {
      worker.once('error', reject);
      worker.once('message', resolve);
      worker.postMessage('run');
    });
  return {
    run: async () => (await Promise.all(workers.map(ask)))[0],
    close: () => workers.forEach((w) => w.terminate()),
  };
}

if (isMainThread) {
  const { run, close } = prepareRun();
  const loadedMb = peakMb();
  const begin = performance.now();
  await run();
  const firstMs = performance.now() - begin;
  for (let i = 1; i < Number(warm); i++) await run();
  const ms = [];
  const cpuMs = [];
  let figure = 0;
  for (let i = 0; i < Number(runs); i++) {
    const start = performance.now();
    const cpu = process.cpuUsage();
    figure = await run();
    ms.push((performance.now() - start) / threads);
    const used = process.cpuUsage(cpu); // of all threads of the process, compiler and collector included
    cpuMs.push((used.user + used.system) / 1000 / threads);
  }
  console.log(JSON.stringify({ firstMs, ms, cpuMs, loadedMb, peakMb: peakMb(), figure }));
  close();
} else {
  const run = KERNELS[kernel]();
  parentPort.on('message', () => parentPort.postMessage(run()));
}
