// Independent readers and filters that some tests compare with: Debian packages, installed by `npm test` where it may.
import { spawnSync } from 'node:child_process';

const PACKAGES = [
  'dcmtk', 'dicom3tools', 'libgdcm-tools', // DICOM readers and a conformance checker
  'python3-numpy', 'python3-scipy', 'python3-pydicom', 'python3-nibabel', 'python3-vtk9',
  'chromium', 'poppler-utils', // look at pages and PDF
  'postgresql', // the other engine of the case store
];

const canRun = (program) => spawnSync(program, ['--version'], { stdio: 'ignore' }).error === undefined;

function listMissing() {
  if (!canRun('dpkg-query')) return PACKAGES;
  const asked = spawnSync('dpkg-query', ['-W', '-f=${Package} ${db:Status-Status}\n', ...PACKAGES], { encoding: 'utf8' });
  const present = new Set(asked.stdout.split('\n').filter((line) => line.endsWith(' installed')).map((line) => line.split(' ')[0]));
  return PACKAGES.filter((name) => !present.has(name));
}

/** Installs what is missing where it may (root with apt-get); gives the names still missing. */
export function installTestTools() {
  const missing = listMissing();
  const mayInstall = process.getuid?.() === 0 && canRun('apt-get');
  if (missing.length === 0 || !mayInstall) return missing;
  console.log(`Installing test tools: ${missing.join(' ')}`);
  const options = { stdio: ['ignore', 'ignore', 'inherit'], env: { ...process.env, DEBIAN_FRONTEND: 'noninteractive' } };
  spawnSync('apt-get', ['update', '-qq'], options);
  spawnSync('apt-get', ['install', '-y', '-qq', '--no-install-recommends', ...missing], options);
  return listMissing();
}
