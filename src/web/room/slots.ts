import type { CameraView } from '../../core/projection/camera-view.ts';
import type { MarkedWhen } from './marks-age.ts';
import type { FrameSize } from './picture-pose.ts';
import type { Click, Geometry, Shot } from './shot.ts';

/** A run as the server describes it; `views` one for all frames, or one per frame. */
export interface RunInfo {
  readonly runId: string;
  readonly frames: number;
  readonly size: FrameSize;
  readonly views: readonly (CameraView | null)[];
  readonly sourceToImageMm: number | null;
  readonly sourceToPatientMm: number | null;
  readonly pixelMm: number | null;
  readonly pixelAt: 'detector' | 'isocentre';
  readonly findings: readonly { readonly code: string; readonly text: string; readonly next: string }[];
}
/** One C-arm angle: a run with the frame that is looked at, or marks without a picture. */
export interface Slot {
  readonly run: RunInfo | null;
  /** From 1. */
  readonly frame: number;
  readonly size: FrameSize;
  /** What a person entered or corrected; null: as the run says. */
  readonly entered: Partial<Geometry>;
  /** Clicks of each frame: another frame is another picture, and coming back finds its marks. */
  readonly clicks: Readonly<Record<number, readonly Click[]>>;
  /** Of its first click; null: nothing is marked. */
  readonly marked: MarkedWhen | null;
}
export const MOST_SLOTS = 3;
/** Detector of many rooms; only the place of the central ray hangs on it, and the person sees and corrects it. */
export const USUAL_SIZE: FrameSize = { columns: 1024, rows: 1024 };
export const EMPTY_SLOT: Slot = { run: null, frame: 1, size: USUAL_SIZE, entered: {}, clicks: {}, marked: null };

/** A run shown from its last frame, on which the frame stands as it is now. */
export const openRun = (run: RunInfo): Slot => ({ run, frame: run.frames, size: run.size, entered: {}, clicks: {}, marked: null });
export const hasClicks = (slot: Slot): boolean => Object.values(slot.clicks).some((c) => c.length > 0);

/** The run's own words, with what a person entered in their place. */
export function readGeometry({ run, frame, entered }: Slot): Geometry {
  const view = run ? (run.views[run.views.length === 1 ? 0 : frame - 1] ?? null) : null;
  return {
    view: entered.view ?? view, sourceToImageMm: entered.sourceToImageMm ?? run?.sourceToImageMm ?? null, sourceToPatientMm: entered.sourceToPatientMm ?? run?.sourceToPatientMm ?? null,
    pixelMm: entered.pixelMm ?? run?.pixelMm ?? null, pixelAt: entered.pixelAt ?? (entered.pixelMm === undefined || entered.pixelMm === null ? (run?.pixelAt ?? 'detector') : 'detector'), knownMm: entered.knownMm ?? null,
  };
}
export const readShot = (slot: Slot): Shot => ({
  run: slot.run ? { runId: slot.run.runId, frame: slot.frame } : null, size: slot.size, geometry: readGeometry(slot), clicks: slot.clicks[slot.frame] ?? [],
});
export const putShot = (slot: Slot, shot: Shot): Slot => ({ ...slot, clicks: { ...slot.clicks, [slot.frame]: shot.clicks } });
export function showFrame(slot: Slot, frame: number): Slot {
  const last = slot.run?.frames ?? 1;
  return { ...slot, frame: Math.max(1, Math.min(last, Math.round(frame))) };
}

/** A new run goes where nothing is marked yet, else beside what is there; with no place left it takes that of the one shown. */
export function placeRun(slots: readonly Slot[], shown: number, run: RunInfo): { readonly slots: readonly Slot[]; readonly shown: number } {
  const known = slots.findIndex((s) => s.run?.runId === run.runId);
  if (known >= 0) return { slots, shown: known };
  const free = slots.findIndex((s) => !hasClicks(s));
  const at = free >= 0 ? free : slots.length < MOST_SLOTS ? slots.length : shown;
  return { slots: Object.assign([...slots], { [at]: openRun(run) }), shown: at };
}
