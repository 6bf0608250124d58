import { useState } from 'preact/hooks';
import type { CameraView } from '../../core/projection/camera-view.ts';
import type { DepthReading } from '../../core/projection/depth-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
import { Field } from '../parts/field.tsx';
import { readNumber } from './read-number.ts';

/** What a reader may say they are within, mm; a single reading within less than 2 mm is never called inside (judge-depth-place.ts). */
const LEAST_WITHIN_MM = 0.1;
const MOST_WITHIN_MM = 15;
const MOST_READS = 20;

export interface EnteredDepthProps {
  /** Where the C-arm stood last; the form opens with it. */
  readonly view?: CameraView | null;
  readonly unsheathedRatio?: number | null;
  readonly onReading: (reading: DepthReading) => void;
}

/** A depth as the room read it, with the view it was read in and what the reader would stand up for. */
export function EnteredDepth({ view = null, unsheathedRatio = null, onReading }: EnteredDepthProps) {
  const [depth, setDepth] = useState('');
  const [within, setWithin] = useState('2');
  const [reads, setReads] = useState('1');
  const [angle, setAngle] = useState<ViewText>(() => writeView(view));
  const [asked, setAsked] = useState(false);
  const depthMm = readNumber(depth, -20, 40);
  const withinMm = readNumber(within, LEAST_WITHIN_MM, MOST_WITHIN_MM);
  const times = readNumber(reads, 1, MOST_READS);
  const seen = readView(angle);
  const keep = (event: SubmitEvent): void => {
    event.preventDefault();
    setAsked(true);
    if (depthMm === null || withinMm === null || times === null || seen === null) return;
    onReading({ depthMm, lowMm: depthMm - withinMm, highMm: depthMm + withinMm, state: 'uncorrected', by: 'entered', views: [seen], cusp: 'N', edge: 'inflow', clicks: Math.floor(times), unsheathedRatio });
    setDepth('');
    setReads('1');
    setAsked(false);
  };
  const problem = (value: number | null, low: number, high: number): string | undefined => (asked && value === null ? formatText(DEPTH_PAGE_EN, 'numberNeeded', { low, high }) : undefined);
  return (
    <form class="row entered-depth" onSubmit={keep} noValidate>
      <p class="soft">{DEPTH_PAGE_EN.enteredSay}</p>
      <Field label={DEPTH_PAGE_EN.depth} unit={DEPTH_PAGE_EN.mm} problem={problem(depthMm, -20, 40)}>
        {(p) => <input {...p} class="short" name="depthMm" inputMode="decimal" value={depth} onInput={(e) => setDepth(e.currentTarget.value)} />}
      </Field>
      <Field label={DEPTH_PAGE_EN.within} unit={DEPTH_PAGE_EN.mm} problem={problem(withinMm, LEAST_WITHIN_MM, MOST_WITHIN_MM)}>
        {(p) => <input {...p} class="short" name="withinMm" inputMode="decimal" value={within} onInput={(e) => setWithin(e.currentTarget.value)} />}
      </Field>
      <Field label={DEPTH_PAGE_EN.reads} problem={problem(times, 1, MOST_READS)}>
        {(p) => <input {...p} class="short" name="reads" inputMode="numeric" value={reads} onInput={(e) => setReads(e.currentTarget.value)} />}
      </Field>
      <ViewFields text={angle} onText={setAngle} isAsked={asked} />
      <button type="submit" class="main">{DEPTH_PAGE_EN.log}</button>
    </form>
  );
}

/** A C-arm angle as it stands on the room's screen: two words and two numbers. */
export interface ViewText {
  readonly primary: string;
  readonly isRao: boolean;
  readonly secondary: string;
  readonly isCaudal: boolean;
}
export const writeView = (view: CameraView | null): ViewText => ({
  primary: view ? String(Math.abs(Math.round(view.primaryDeg * 10) / 10)) : '', isRao: (view?.primaryDeg ?? 0) < 0,
  secondary: view ? String(Math.abs(Math.round(view.secondaryDeg * 10) / 10)) : '', isCaudal: (view?.secondaryDeg ?? 0) < 0,
});
/** null until both numbers are there. */
export function readView({ primary, isRao, secondary, isCaudal }: ViewText): CameraView | null {
  const p = readNumber(primary, 0, 180);
  const s = readNumber(secondary, 0, 90);
  return p === null || s === null ? null : { primaryDeg: (isRao ? -p : p) + 0, secondaryDeg: (isCaudal ? -s : s) + 0 };
}

export function ViewFields({ text, onText, isAsked }: { readonly text: ViewText; readonly onText: (text: ViewText) => void; readonly isAsked: boolean }) {
  const problem = (value: string, most: number): string | undefined => (isAsked && readNumber(value, 0, most) === null ? formatText(DEPTH_PAGE_EN, 'numberNeeded', { low: 0, high: most }) : undefined);
  return (
    <>
      <Field label={DEPTH_PAGE_EN.primary} unit={DEPTH_PAGE_EN.deg} problem={problem(text.primary, 180)}>
        {(p) => (
          <>
            <select aria-label={DEPTH_PAGE_EN.primary} value={text.isRao ? 'rao' : 'lao'} onChange={(e) => onText({ ...text, isRao: e.currentTarget.value === 'rao' })}>
              <option value="lao">{DEPTH_PAGE_EN.lao}</option><option value="rao">{DEPTH_PAGE_EN.rao}</option>
            </select>
            <input {...p} class="short" name="primaryDeg" inputMode="decimal" value={text.primary} onInput={(e) => onText({ ...text, primary: e.currentTarget.value })} />
          </>
        )}
      </Field>
      <Field label={DEPTH_PAGE_EN.secondary} unit={DEPTH_PAGE_EN.deg} problem={problem(text.secondary, 90)}>
        {(p) => (
          <>
            <select aria-label={DEPTH_PAGE_EN.secondary} value={text.isCaudal ? 'cau' : 'cra'} onChange={(e) => onText({ ...text, isCaudal: e.currentTarget.value === 'cau' })}>
              <option value="cra">{DEPTH_PAGE_EN.cra}</option><option value="cau">{DEPTH_PAGE_EN.cau}</option>
            </select>
            <input {...p} class="short" name="secondaryDeg" inputMode="decimal" value={text.secondary} onInput={(e) => onText({ ...text, secondary: e.currentTarget.value })} />
          </>
        )}
      </Field>
    </>
  );
}
