/**
 * Our side of kernels.bench.mjs; mirrors kernels-vtk.py. Usage: kernels-ours.mjs FOLDER KERNEL RUNS WARMING_RUNS
 * One thread; start-up, reading and the warming runs are not timed.
 */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { extractIsosurface } from '../dist/core/surface/extract-isosurface.js';
import { computeSquaredDistanceMm2 } from '../dist/core/volume/distance-transform.js';
import { labelComponents } from '../dist/core/volume/label-components.js';
import { reslicePlane } from '../dist/core/volume/reslice-plane.js';
import { smoothGaussian } from '../dist/core/volume/smooth-gaussian.js';

const [folder, kernel, runs, warm] = process.argv.slice(2);
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

const run = KERNELS[kernel]();
const loadedMb = peakMb();
const begin = performance.now();
run();
const firstMs = performance.now() - begin;
for (let i = 1; i < Number(warm); i++) run();
const ms = [];
const cpuMs = [];
let figure = 0;
for (let i = 0; i < Number(runs); i++) {
  const start = performance.now();
  const cpu = process.cpuUsage();
  figure = run();
  ms.push(performance.now() - start);
  const used = process.cpuUsage(cpu); // of all threads of the process, compiler and collector included
  cpuMs.push((used.user + used.system) / 1000);
}
console.log(JSON.stringify({ firstMs, ms, cpuMs, loadedMb, peakMb: peakMb(), figure }));
