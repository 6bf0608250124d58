import { memo } from 'preact/compat';
import { useMemo, useRef } from 'preact/hooks';
import { markOfView, nameMark, placeView, placeMarks, describeView, type AlongName, type ShownMark } from './view-model.ts';
import { OPEN_POSE } from '../../core/root/place-view.ts';
import type { RootFrame } from '../../core/root/root-frame.ts';
import type { RootSurvey, Xyz } from '../../core/root/root-types.ts';
import { VIEWER_EN } from '../../core/text/viewer-en.ts';
import { useSide } from './use-side.ts';
import { ViewCanvas, type ShownCt } from './view-canvas.tsx';
import { MarkShape, ViewGround } from './view-overlay.tsx';

interface StripProps {
  readonly views: readonly AlongName[];
  readonly chosen: AlongName;
  readonly choose: (view: AlongName) => void;
  readonly ct: ShownCt | null;
  readonly root: RootSurvey;
  readonly frame: RootFrame;
  readonly ring: readonly Xyz[];
  readonly marks: readonly ShownMark[];
}

/** The cuts along the root, small and side by side: one look tells whether a mark is off; a press makes it the big one. Drawn anew
 * only when marks or picture change, not while a big view is scrolled. */
export const ViewStrip = memo(function ViewStrip(props: StripProps) {
  return (
    <div class="strip" role="group" aria-label={VIEWER_EN.chooseAlong}>
      {props.views.map((view) => <SmallView key={view} view={view} {...props} />)}
    </div>
  );
});

function SmallView({ view, chosen, choose, ct, root, frame, ring, marks }: StripProps & { readonly view: AlongName }) {
  const place = useRef<HTMLButtonElement>(null);
  const sidePx = useSide(place);
  const plane = useMemo(() => placeView(view, frame, marks, OPEN_POSE), [view, frame, marks]);
  const placed = placeMarks(marks, view, plane, sidePx);
  const mark = markOfView(view);
  return (
    <div class="item">
      <button type="button" ref={place} class="small" aria-pressed={chosen === view} aria-label={describeView(view, OPEN_POSE)} title={describeView(view, OPEN_POSE)} onClick={() => choose(view)}>
      {ct && sidePx > 0 && <ViewCanvas view={`small ${view}`} ct={ct} plane={plane} sidePx={sidePx} />}
      {sidePx > 0 && (
        <svg class="overlay" viewBox={`0 0 ${sidePx} ${sidePx}`} aria-hidden="true">
          <ViewGround view={view} root={root} frame={frame} plane={plane} heightMm={0} sidePx={sidePx} ring={ring} marks={placed} otherPlane={null} isSmall />
          {placed.map((mark) => <MarkShape key={mark.name} mark={mark} view={view} middlePx={sidePx / 2} isSmall isHeld={false} />)}
        </svg>
      )}
    </button>
    <span aria-hidden="true" data-own={chosen === view}>{nameMark(mark)}</span>
    </div>
  );
}
