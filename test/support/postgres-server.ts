import { spawnSync } from 'node:child_process';
import { chmodSync, chownSync, existsSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const VERSIONS = '/usr/lib/postgresql';

/** Folder of initdb and pg_ctl; null where no PostgreSQL is installed. */
export function findPostgres(): string | null {
  if (!existsSync(VERSIONS)) return null;
  const newest = readdirSync(VERSIONS).map(Number).filter((v) => v >= 15).sort((a, b) => b - a)[0];
  const bin = newest === undefined ? null : join(VERSIONS, String(newest), 'bin');
  return bin && existsSync(join(bin, 'initdb')) && findUser() ? bin : null;
}

/** The server refuses to run as root: then it runs as the package's own user. */
function findUser(): { readonly uid?: number; readonly gid?: number } | null {
  if (process.getuid?.() !== 0) return {};
  const ask = (flag: string): number => Number(spawnSync('id', [flag, 'postgres'], { encoding: 'utf8' }).stdout);
  const [uid, gid] = [ask('-u'), ask('-g')];
  return uid > 0 ? { uid, gid } : null;
}

export interface PostgresServer {
  readonly url: string;
  stop(mode?: 'fast' | 'immediate'): void;
  /** Starts again on the same port after `stop`. */
  start(): void;
  remove(): void;
}

/** A PostgreSQL of its own on loopback, in a temporary folder. `isFlushing`: fsync on, as in use. */
export async function startPostgres({ isFlushing = false }: { readonly isFlushing?: boolean } = {}): Promise<PostgresServer> {
  const bin = findPostgres();
  if (!bin) throw new Error('No PostgreSQL is installed.');
  const user = findUser()!;
  const top = mkdtempSync(join(tmpdir(), 'trinadir-pg-'));
  chmodSync(top, 0o755);
  if (user.uid !== undefined) chownSync(top, user.uid, user.gid!);
  const data = join(top, 'data');
  const run = (program: string, args: readonly string[]): void => {
    const outcome = spawnSync(join(bin, program), args, { ...user, cwd: top, stdio: ['ignore', 'ignore', 'ignore'] });
    if (outcome.status !== 0) throw new Error(`${program} failed with ${outcome.status}.`);
  };
  run('initdb', ['-D', data, '-U', 'tri', '--auth=trust', '-E', 'UTF8', '--locale=C', '-N']);
  const port = await findPort();
  const start = (): void => run('pg_ctl', ['-D', data, '-o', `-p ${port} -c listen_addresses=127.0.0.1 -k ${top} -c fsync=${isFlushing ? 'on' : 'off'}`, '-l', join(top, 'log'), '-w', 'start']);
  const stop = (mode: 'fast' | 'immediate' = 'immediate'): void => run('pg_ctl', ['-D', data, '-m', mode, '-w', 'stop']);
  start();
  return {
    url: `postgres://tri@127.0.0.1:${port}/postgres`, start, stop,
    remove() {
      try {
        stop();
      } catch { /* it was stopped already */ }
      rmSync(top, { recursive: true, force: true });
    },
  };
}

function findPort(): Promise<number> {
  return new Promise((resolve, reject) => {
    const server = createServer();
    server.on('error', reject);
    server.listen(0, '127.0.0.1', () => {
      const { port } = server.address() as { port: number };
      server.close(() => resolve(port));
    });
  });
}
