import { useEffect, useRef, useState } from 'preact/hooks';
import type { MarkName, NewCaseEvent } from '../../core/case/case-events.ts';
import { bendRing } from '../../core/root/bend-ring.ts';
import type { Xyz } from '../../core/root/root-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { VIEWER_EN } from '../../core/text/viewer-en.ts';
import { formatNumber } from '../../formats/report/format-number.ts';
import type { MovedMarks, RootViewerProps } from '../state/viewer-slot.ts';
import { movedMm, nameMark, roundLps, type ShownMark } from './view-model.ts';
import type { HandName } from './view-pane.tsx';

/** Longest rest between two answers while a mark is on its way. */
const MOST_REST_MS = 150;

/** What a person holds: a mark on its way, or a point of the ring. */
interface Hand {
  readonly name: HandName;
  readonly fromLps: Xyz;
  readonly lps: Xyz;
  /** The ring before this pull. */
  readonly baseRing: readonly Xyz[] | null;
}
export interface HandControl {
  readonly held: HandName | null;
  /** Where it stood when it was taken. */
  readonly from: Xyz | null;
  readonly moved: MovedMarks | null;
  /** A reshaped ring that was not kept yet. */
  readonly ringDraft: readonly Xyz[] | null;
  readonly say: string;
  readonly move: (name: HandName, lps: Xyz) => void;
  readonly keep: () => void;
  readonly putBack: () => void;
  readonly keepRing: () => void;
  readonly dropRing: () => void;
  readonly giveBack: (mark: MarkName) => void;
  readonly giveBackRing: () => void;
  readonly send: (events: readonly NewCaseEvent[], done: string) => void;
}

/**
 * Marks under a person's hand: previewed at once, stored when they are let go. One preview a picture of the screen, so
 * that a fast pointer does not pile up answers.
 */
export function useHand(props: RootViewerProps, marks: readonly ShownMark[], ring: readonly Xyz[], listHandles: (ring: readonly Xyz[]) => readonly number[]): HandControl {
  const [hand, setHand] = useState<Hand | null>(null);
  const [ringDraft, setRingDraft] = useState<readonly Xyz[] | null>(null);
  const [say, setSay] = useState('');
  const handNow = useRef<Hand | null>(null);
  const draftNow = useRef<readonly Xyz[] | null>(null);
  const propsNow = useRef(props);
  propsNow.current = props;
  const frame = useRef(0);
  const notBefore = useRef(0);
  const hold = (next: Hand | null): void => {
    handNow.current = next;
    setHand(next);
  };
  const draw = (next: readonly Xyz[] | null): void => {
    draftNow.current = next;
    setRingDraft(next);
  };
  const preview = (): void => {
    if (frame.current !== 0) return;
    frame.current = requestAnimationFrame(() => {
      frame.current = 0;
      const from = performance.now();
      if (from < notBefore.current) {
        preview();
        return;
      }
      propsNow.current.onPreview(makeMoved(handNow.current, draftNow.current, propsNow.current));
      // However long the answer takes, the mark keeps up with the hand: half of the time stays free for it.
      notBefore.current = Infinity;
      requestAnimationFrame(() => (notBefore.current = performance.now() + Math.min(MOST_REST_MS, performance.now() - from)));
    });
  };
  const endPreview = (): void => {
    notBefore.current = 0;
    cancelAnimationFrame(frame.current);
    frame.current = 0;
    propsNow.current.onPreview(makeMoved(null, draftNow.current, propsNow.current));
  };
  useEffect(() => () => {
    cancelAnimationFrame(frame.current);
    if (handNow.current || draftNow.current) propsNow.current.onPreview(null);
  }, []);

  const send = (events: readonly NewCaseEvent[], done: string): void => {
    void propsNow.current.onEvents(events).then((answer) => {
      setSay(answer.ok ? done : formatText(VIEWER_EN, 'saveFailed', { text: answer.failure.message }));
      hold(null);
      if (answer.ok && events.some((e) => e.kind === 'ring.drawn')) draw(null);
      endPreview();
    });
  };

  const move = (name: HandName, lps: Xyz): void => {
    const at = roundLps(lps);
    const current = handNow.current;
    if (name.startsWith('ring.')) {
      const base = current?.name === name && current.baseRing ? current.baseRing : (draftNow.current ?? ring);
      const index = listHandles(base)[Number(name.slice(5))];
      const from = index === undefined ? undefined : base[index];
      if (index === undefined || !from) return;
      hold({ name, fromLps: from, lps: at, baseRing: base });
      draw(bendRing(base, index, at, propsNow.current.plan.root!.basalPlane.normalLps).map(roundLps));
    } else {
      const from = current?.name === name ? current.fromLps : marks.find((m) => m.name === name)?.lps;
      if (!from) return;
      hold({ name, fromLps: from, lps: at, baseRing: null });
    }
    preview();
  };
  const keep = (): void => {
    const current = handNow.current;
    if (!current) return;
    if (current.baseRing) {
      hold(null); // the draft stays until the ring is kept as a whole
      return;
    }
    const mark = current.name as MarkName;
    const mm = movedMm(current.fromLps, current.lps);
    if (mm < 0.005) {
      hold(null);
      endPreview();
      return;
    }
    const losesRing = mark.startsWith('nadir.') && propsNow.current.state.ring !== null;
    send(
      [...(losesRing ? [{ kind: 'ring.drawn', data: { contourLps: null } } as const] : []), { kind: 'mark.moved', data: { mark, lps: current.lps, was: current.fromLps } }],
      formatText(VIEWER_EN, 'kept', { name: nameMark(mark), mm: formatNumber(mm, 1) }),
    );
  };
  const putBack = (): void => {
    const current = handNow.current;
    if (!current) return;
    if (current.baseRing) draw(current.baseRing === ring ? null : current.baseRing);
    hold(null);
    setSay(formatText(VIEWER_EN, 'putBack', { name: current.baseRing ? VIEWER_EN.drawRing : nameMark(current.name as MarkName) }));
    endPreview();
  };
  const dropRing = (): void => {
    hold(null);
    draw(null);
    endPreview();
  };
  return {
    held: hand?.name ?? null, from: hand?.fromLps ?? null, moved: makeMoved(hand, ringDraft, props), ringDraft, say, move, keep, putBack, dropRing, send,
    keepRing: () => draftNow.current && send([{ kind: 'ring.drawn', data: { contourLps: draftNow.current } }], VIEWER_EN.keptRing),
    giveBack: (mark) => send([{ kind: 'mark.moved', data: { mark, lps: null, was: marks.find((m) => m.name === mark)?.lps ?? null } }], formatText(VIEWER_EN, 'putBack', { name: nameMark(mark) })),
    giveBackRing: () => send([{ kind: 'ring.drawn', data: { contourLps: null } }], VIEWER_EN.ringByTool),
  };
}

function makeMoved(hand: Hand | null, draft: readonly Xyz[] | null, props: RootViewerProps): MovedMarks | null {
  const mark = hand && !hand.baseRing ? (hand.name as MarkName) : null;
  if (mark === null && draft === null) return null;
  const losesRing = mark?.startsWith('nadir.') && (props.state.ring !== null || draft !== null);
  return { marks: mark && hand ? { [mark]: hand.lps } : {}, ...(losesRing ? { contourLps: null } : draft ? { contourLps: draft } : {}) };
}
