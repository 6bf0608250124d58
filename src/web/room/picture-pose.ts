/** A place in a frame: column and row, counted from the centre of the first pixel. */
export type FramePoint = readonly [column: number, row: number];
export interface FrameSize {
  readonly columns: number;
  readonly rows: number;
}
/** Which part of the frame the picture shows: the point in its middle and how often the whole frame is enlarged. */
export interface PicturePose {
  readonly middle: FramePoint;
  readonly zoom: number;
}
const MOST_ZOOM = 12;
const ZOOM_STEP = 1.25;

export const openPose = ({ columns, rows }: FrameSize): PicturePose => ({ middle: [(columns - 1) / 2, (rows - 1) / 2], zoom: 1 });

/** Screen pixels per frame pixel when the whole frame just fits a picture `widthPx` wide. */
const readScale = (size: FrameSize, pose: PicturePose, widthPx: number): number => (widthPx / size.columns) * pose.zoom;

/** Where a point of the frame stands in the picture, px from its upper left corner. */
export function toPicture(size: FrameSize, pose: PicturePose, widthPx: number, at: FramePoint): FramePoint {
  const scale = readScale(size, pose, widthPx);
  const heightPx = (widthPx * size.rows) / size.columns;
  return [widthPx / 2 + (at[0] - pose.middle[0]) * scale, heightPx / 2 + (at[1] - pose.middle[1]) * scale];
}
/** The inverse of toPicture. */
export function toFrame(size: FrameSize, pose: PicturePose, widthPx: number, atPx: FramePoint): FramePoint {
  const scale = readScale(size, pose, widthPx);
  const heightPx = (widthPx * size.rows) / size.columns;
  return [pose.middle[0] + (atPx[0] - widthPx / 2) / scale, pose.middle[1] + (atPx[1] - heightPx / 2) / scale];
}
/** True for a point that lies on a pixel of the frame. */
export const isInFrame = ({ columns, rows }: FrameSize, [c, r]: FramePoint): boolean => c >= -0.5 && r >= -0.5 && c <= columns - 0.5 && r <= rows - 0.5;

/** Enlarged by whole steps about a point that stays where it is; never less than the whole frame. */
export function zoomPose(size: FrameSize, pose: PicturePose, steps: number, about: FramePoint = pose.middle): PicturePose {
  const zoom = Math.max(1, Math.min(MOST_ZOOM, pose.zoom * ZOOM_STEP ** steps));
  const kept = pose.zoom / zoom;
  return keepInside(size, { zoom, middle: [about[0] + (pose.middle[0] - about[0]) * kept, about[1] + (pose.middle[1] - about[1]) * kept] });
}
export function movePose(size: FrameSize, pose: PicturePose, by: FramePoint): PicturePose {
  return keepInside(size, { ...pose, middle: [pose.middle[0] + by[0], pose.middle[1] + by[1]] });
}
/** The picture follows a point that would leave it. */
export function followPoint(size: FrameSize, pose: PicturePose, at: FramePoint): PicturePose {
  const half = [size.columns / 2 / pose.zoom, size.rows / 2 / pose.zoom] as const;
  const shift = ([0, 1] as const).map((k) => Math.max(0, at[k] - pose.middle[k] - 0.9 * half[k]) - Math.max(0, pose.middle[k] - at[k] - 0.9 * half[k]));
  return movePose(size, pose, [shift[0]!, shift[1]!]);
}
function keepInside({ columns, rows }: FrameSize, { zoom, middle }: PicturePose): PicturePose {
  const within = (v: number, count: number): number => {
    const half = count / 2 / zoom;
    return Math.max(half - 0.5, Math.min(count - 0.5 - half, v));
  };
  return { zoom, middle: [within(middle[0], columns), within(middle[1], rows)] };
}
