import type { CtVolume } from '../../core/volume/volume-types.ts';
import type { DrawnView, ViewOrder } from '../../tasks/draw-view.ts';
import type { FromWorker, ToWorker } from './worker-messages.ts';

/** What a pane asks for; the drawer decides whether a draft comes first. */
export type ViewAsk = Omit<ViewOrder, 'isDraft'> & { readonly key: string };
interface View {
  /** Newest that was asked for and not yet sent. */
  waiting: ViewAsk | null;
  underWay: { readonly ask: ViewAsk; readonly ticket: number; readonly isDraft: boolean } | null;
  /** How long the newest draft of full size took. */
  draftMs: number;
  timer: ReturnType<typeof setTimeout> | null;
  show: (drawn: DrawnView, isDraft: boolean) => void;
}

/** Rest after the newest scroll before the picture is drawn in full. */
const REST_MS = 120;
/** A draft that takes longer is drawn with half the pixels, so that scrolling stays fluent. */
const SLOW_MS = 22;

/**
 * Keeps one worker busy with the newest wish of each view. While a person scrolls, views are drawn as drafts, one at a
 * time, and wishes that were overtaken are never drawn; after a short rest the picture is drawn in full.
 * A class, because it guards which wish is under way.
 */
export class ViewDrawer {
  readonly #worker: Worker;
  readonly #views = new Map<string, View>();
  #ticket = 0;

  constructor(worker: Worker) {
    this.#worker = worker;
    worker.onmessage = ({ data }: MessageEvent<FromWorker>) => this.#take(data);
  }

  /** Hands a block over; the volume's samples belong to the worker from then on. */
  putBlock(key: string, volume: CtVolume): void {
    this.#post({ kind: 'block', key, volume }, [volume.samplesHu.buffer as ArrayBuffer]);
  }
  dropBlock(key: string): void {
    this.#post({ kind: 'drop', key });
  }
  openView(view: string, show: View['show']): void {
    this.#views.set(view, { waiting: null, underWay: null, draftMs: 0, timer: null, show });
  }
  closeView(view: string): void {
    const held = this.#views.get(view);
    if (held?.timer) clearTimeout(held.timer);
    this.#views.delete(view);
  }
  draw(view: string, ask: ViewAsk): void {
    const held = this.#views.get(view);
    if (!held) return;
    held.waiting = ask;
    if (held.timer) clearTimeout(held.timer);
    held.timer = null;
    this.#sendNext(view, held);
  }
  close(): void {
    for (const view of [...this.#views.keys()]) this.closeView(view);
    this.#worker.terminate();
  }

  #sendNext(view: string, held: View): void {
    if (held.underWay || !held.waiting) return;
    this.#send(view, held, held.waiting, true);
    held.waiting = null;
  }
  #send(view: string, held: View, ask: ViewAsk, isDraft: boolean): void {
    const { key, ...order } = ask;
    const sidePx = isDraft && held.draftMs > SLOW_MS ? Math.ceil(order.sidePx / 2) : order.sidePx;
    held.underWay = { ask, ticket: ++this.#ticket, isDraft };
    this.#post({ kind: 'draw', view, ticket: this.#ticket, key, order: { ...order, sidePx, isDraft } });
  }
  #take(answer: FromWorker): void {
    const held = this.#views.get(answer.view);
    const { underWay } = held ?? {};
    if (!held || !underWay || underWay.ticket !== answer.ticket) return;
    held.underWay = null;
    if (underWay.isDraft && answer.drawn?.sidePx === underWay.ask.sidePx) held.draftMs = answer.tookMs;
    // A full picture that was overtaken is still newer than what is shown, unless a draft of the newer wish comes at once.
    if (answer.drawn && (underWay.isDraft || !held.waiting)) held.show(answer.drawn, underWay.isDraft);
    if (held.waiting) this.#sendNext(answer.view, held);
    else if (underWay.isDraft) {
      held.timer = setTimeout(() => {
        held.timer = null;
        if (!held.underWay && !held.waiting) this.#send(answer.view, held, underWay.ask, false);
      }, REST_MS);
    }
  }
  #post(message: ToWorker, transfer: Transferable[] = []): void {
    this.#worker.postMessage(message, transfer);
  }
}

/** The worker's own file is one of this server's; the content policy allows no other. */
export const startViewDrawer = (): ViewDrawer => new ViewDrawer(new Worker(new URL('./draw-worker.ts', import.meta.url), { type: 'module', name: 'trinadir-views' }));
