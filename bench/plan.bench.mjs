/**
 * `trinadir plan` against what a C++ toolkit needs merely to read the series into memory: 512 x 512 x 400, 16 bit,
 * uncompressed, whole processes with their start, alternated, medians. The phantom is drawn once and kept in the
 * system's folder for temporary files.
 */
import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, readdirSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const HERE = dirname(fileURLToPath(import.meta.url));
const PROGRAM = join(dirname(HERE), 'bin', 'trinadir.mjs');
const PYTHON = '/usr/bin/python3';
const ROUNDS = 5;
const DIMS = [512, 512, 400];
const VOLUME_MB = (2 * DIMS[0] * DIMS[1] * DIMS[2]) / 1e6;
/** Promises: time over reading alone, and peak memory. */
const GOAL = 3;
const LIMIT_MB = 2.5 * VOLUME_MB + 150;
/** Part of the folder's name: a changed phantom is drawn anew. */
const PHANTOM = { format: 'trinadir.phantom/1', from: { scenario: 'plain-root' }, scan: { dims: DIMS, spacingMm: [0.39, 0.39, 0.5], sliceThicknessMm: 0.5 } };
const ITK = (existsSync('/usr/include') ? readdirSync('/usr/include') : []).find((folder) => folder.startsWith('ITK-')) ?? 'ITK';
/** `prepare` gives the command that reads a folder, or null when what it needs is missing. */
const READERS = [
  { id: 'ITK', from: 'g++ and libinsighttoolkit5-dev', prepare: (scratch) => compile(scratch, 'plan-itk.cxx', [
    `-I/usr/include/${ITK}`, ...['ITKCommon', 'ITKIOGDCM', 'ITKIOImageBase', 'itkvnl_algo', 'itkvnl', 'itkv3p_netlib', 'itksys'].map((lib) => `-l${lib}${ITK.slice(3)}`)]) },
  { id: 'GDCM', from: 'python3-vtkgdcm', prepare: () => findScript('plan-gdcm.py', 'import vtkgdcm') },
  { id: 'DCMTK', from: 'g++ and libdcmtk-dev', prepare: (scratch) => compile(scratch, 'plan-dcmtk.cxx', ['-ldcmdata', '-loflog', '-lofstd']) },
  { id: 'VTK', from: 'python3-vtk9', prepare: () => findScript('plan-vtk.py', 'import vtkmodules.vtkIOImage') },
];
const findScript = (script, probe) => (spawnSync(PYTHON, ['-c', probe]).status === 0 ? [PYTHON, join(HERE, script)] : null);
function compile(scratch, source, flags) {
  const program = join(scratch, source.replace('.cxx', ''));
  return spawnSync('g++', ['-O2', '-std=c++17', join(HERE, source), '-o', program, ...flags]).status === 0 ? [program] : null;
}

export const name = 'plan';

export function run({ print }) {
  const scratch = mkdtempSync(join(tmpdir(), 'trinadir-bench-readers-'));
  try {
    const all = READERS.map((each) => ({ ...each, command: each.prepare(scratch) }));
    const missing = all.filter(({ command }) => command === null).map(({ id, from }) => `${id} not run: ${from} missing (Debian packages)`);
    const readers = all.filter(({ command }) => command !== null);
    return readers.length === 0 ? { title: 'Plan', rows: [], notes: missing } : compare(readers, missing, print);
  } finally {
    rmSync(scratch, { recursive: true, force: true });
  }
}

function compare(readers, missing, print) {
  const series = drawSeries(print);
  const out = join(dirname(series), 'trinadir-bench-answer');
  const plans = [];
  const scans = [];
  const reads = readers.map(() => []);
  for (let round = 0; round < ROUNDS; round++) {
    print(`  round ${round + 1} of ${ROUNDS} ...`);
    readers.forEach(({ command: [program, ...args] }, i) => reads[i].push(time(program, [...args, series])));
    plans.push(time(process.execPath, [PROGRAM, 'plan', series, '--out', out, '--replace', '--quiet']));
    scans.push(time(process.execPath, [PROGRAM, 'scan', series, '--quiet']));
  }
  rmSync(out, { recursive: true, force: true });
  const row = (what, ours, theirs, goal) => ({
    what, oursMs: median(ours, 'ms'), theirsMs: median(theirs, 'ms'), oursPeakMb: most(ours), theirsPeakMb: most(theirs), goal, limitMb: LIMIT_MB,
    note: `CPU ${(median(ours, 'cpuMs') / median(theirs, 'cpuMs')).toFixed(1)} (${(median(ours, 'cpuMs') / 1000).toFixed(1)} s over ${(median(theirs, 'cpuMs') / 1000).toFixed(1)} s)`,
  });
  return {
    title: `Plan of ${DIMS.join(' x ')} (${VOLUME_MB.toFixed(0)} MB) from DICOM, uncompressed; theirs = reading alone`,
    rows: readers.flatMap(({ id }, i) => [
      row(`plan : reading with ${id}`, plans, reads[i], GOAL),
      row(`scan (read and judge) : reading with ${id}`, scans, reads[i], undefined),
    ]),
    notes: [
      'Whole processes, start included, medians of alternated rounds; both use what threads they use by default.',
      '"CPU": the same ratio of CPU time, which a busy machine disturbs less.',
      'VTK reads with its own quick reader, DCMTK without looking at more than size and rescale; both in the order of the names.',
      `Peak memory promised: 2.5 x the volume + 150 MB = ${LIMIT_MB.toFixed(0)} MB.`,
      ...missing,
    ],
  };
}

/** Folder of the slices; drawn when it is not there yet. */
function drawSeries(print) {
  const key = Buffer.from(JSON.stringify(PHANTOM)).toString('base64url').slice(-16);
  const folder = join(tmpdir(), `trinadir-bench-series-${key}`);
  const series = join(folder, 'ct', 'dicom');
  if (existsSync(series) && readdirSync(series).length === DIMS[2]) return series;
  print('  drawing the series, once (about a minute) ...');
  const making = `${folder}.part-${process.pid}`;
  mkdirSync(making, { recursive: true });
  writeFileSync(join(making, 'shape.json'), JSON.stringify(PHANTOM));
  const done = spawnSync(process.execPath, [PROGRAM, 'phantom', '--shape', join(making, 'shape.json'), '--out', join(making, 'ct')], { encoding: 'utf8' });
  if (done.status !== 0) throw new Error(`phantom: ${done.stderr}`);
  rmSync(folder, { recursive: true, force: true });
  renameSync(making, folder);
  return series;
}

/** One process, measured from outside: wall time, CPU time and peak memory as the system accounts them. */
function time(program, args) {
  const measure = 'import json,resource,subprocess,sys,time\nt=time.perf_counter()\ncode=subprocess.call(sys.argv[1:],stdout=subprocess.DEVNULL)\n' +
    'w=time.perf_counter()-t\nr=resource.getrusage(resource.RUSAGE_CHILDREN)\nprint(json.dumps([code,w*1000,(r.ru_utime+r.ru_stime)*1000,r.ru_maxrss/1000]))';
  const done = spawnSync(PYTHON, ['-c', measure, program, ...args], { encoding: 'utf8' });
  const [code, ms, cpuMs, peakMb] = done.status === 0 ? JSON.parse(done.stdout) : [1];
  if (code !== 0) throw new Error(`${args[0]} ended with exit code ${code}: ${done.stderr}`);
  return { ms, cpuMs, peakMb };
}
const median = (list, field) => {
  const sorted = list.map((each) => each[field]).sort((a, b) => a - b);
  return sorted[sorted.length >> 1];
};
const most = (list) => Math.max(...list.map(({ peakMb }) => peakMb));
