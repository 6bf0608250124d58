import { connect, createServer, type Socket } from 'node:net';
import type { AddressInfo } from 'node:net';

export interface Cable {
  readonly port: number;
  /** `gone`: connections are refused, as when the server has died. `silent`: they are taken and nothing comes back, as when a cable is cut. */
  cut(how: 'gone' | 'silent'): void;
  mend(): void;
  stop(): Promise<void>;
}

/** A cable between browser and server that can be cut and mended. The server is told of the cable's own address. */
export async function layCable(): Promise<Cable & { plug(port: number): void }> {
  const sockets = new Set<Socket>();
  let [target, state] = [0, 'whole' as 'whole' | 'gone' | 'silent'];
  const server = createServer((here) => {
    sockets.add(here);
    here.on('error', () => here.destroy()).on('close', () => sockets.delete(here));
    if (state === 'gone') return here.destroy();
    if (state === 'silent') return here.resume();
    const there = connect(target, '127.0.0.1');
    sockets.add(there);
    there.on('error', () => here.destroy()).on('close', () => { sockets.delete(there); here.destroy(); });
    here.on('close', () => there.destroy());
    here.on('data', (data) => state !== 'silent' && there.write(data));
    there.on('data', (data) => state !== 'silent' && here.write(data));
    return undefined;
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const drop = (): void => { for (const socket of sockets) socket.destroy(); };
  return {
    port: (server.address() as AddressInfo).port,
    plug: (port) => void (target = port),
    cut(how) {
      state = how;
      if (how === 'gone') drop();
    },
    mend() {
      state = 'whole';
      drop(); // what hung while it was silent is not whole again by itself
    },
    async stop() {
      drop();
      await new Promise((resolve) => server.close(resolve));
    },
  };
}
