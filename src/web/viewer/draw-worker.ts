import type { CtVolume } from '../../core/volume/volume-types.ts';
import { drawViewTask } from '../../tasks/draw-view.ts';
import type { FromWorker, ToWorker } from './worker-messages.ts';

/** Runs in a worker of the page: holds the blocks of CT and draws views of them, so that the page never waits. */
interface WorkerPlace {
  onmessage: ((event: MessageEvent<ToWorker>) => void) | null;
  postMessage(message: FromWorker, transfer: Transferable[]): void;
}
const place = self as unknown as WorkerPlace;
const blocks = new Map<string, CtVolume>();

place.onmessage = ({ data }) => {
  if (data.kind === 'block') blocks.set(data.key, data.volume);
  else if (data.kind === 'drop') blocks.delete(data.key);
  else {
    const from = performance.now();
    const volume = blocks.get(data.key);
    const answer = volume ? drawViewTask.run({ volume, order: data.order }, () => undefined) : null;
    const drawn = answer && 'ok' in answer && answer.ok ? answer.value : null;
    place.postMessage({ kind: 'drawn', view: data.view, ticket: data.ticket, drawn, tookMs: performance.now() - from }, drawn ? [drawn.rgba.buffer] : []);
  }
};
