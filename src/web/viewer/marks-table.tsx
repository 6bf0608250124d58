import { MARK_NAMES, type MarkName } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import { cylinderFromLps, type RootFrame } from '../../core/root/root-frame.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { VIEWER_EN } from '../../core/text/viewer-en.ts';
import { formatHeight, formatNumber } from '../../formats/report/format-number.ts';
import { letterOf, nameMark, type ShownMark } from './view-model.ts';

interface MarksTableProps {
  readonly state: CaseState;
  readonly frame: RootFrame;
  readonly marks: readonly ShownMark[];
  readonly mayEdit: boolean;
  readonly onShow: (mark: MarkName) => void;
  readonly onGiveBack: (mark: MarkName) => void;
  /** An ostium the tool did not find is put where its sinus is; a person then moves it. */
  readonly onPlace: (mark: MarkName) => void;
}

/** Each mark: where it is, who set it, and the way to give it back. */
export function MarksTable({ state, frame, marks, mayEdit, onShow, onGiveBack, onPlace }: MarksTableProps) {
  return (
    <div class="scroll">
      <table class="marks">
        <caption class="hidden">{VIEWER_EN.marks}</caption>
        <thead><tr><th scope="col">{VIEWER_EN.mark}</th><th scope="col">{VIEWER_EN.whose}</th><th scope="col">{VIEWER_EN.whereItIs}</th><th scope="col"><span class="hidden">{VIEWER_EN.onView}</span></th></tr></thead>
        <tbody>
          {MARK_NAMES.map((name) => {
            const mark = marks.find((m) => m.name === name);
            const set = state.marks[name];
            const at = mark ? cylinderFromLps(frame, mark.lps) : null;
            return (
              <tr key={name}>
                <th scope="row">{letterOf(name) !== null && <span class={`key ${mark?.isByPerson ? 'square' : ''}`} aria-hidden="true">{letterOf(name)}</span>} {nameMark(name)}</th>
                <td>{set ? formatText(VIEWER_EN, 'byPerson', { at: formatTime(set.at) }) : mark ? VIEWER_EN.byTool : VIEWER_EN.notFound}</td>
                <td class="spot">{at ? `${Math.abs(at.heightMm) < 0.05 ? VIEWER_EN.onPlane : formatHeight(at.heightMm)}, ${formatNumber(((at.azimuthRad * 180) / Math.PI + 360) % 360, 0)}°` : '–'}</td>
                <td>
                  {mark && <button type="button" class="quiet" aria-label={formatText(VIEWER_EN, 'showName', { name: nameMark(name) })} onClick={() => onShow(name)}>{VIEWER_EN.onView}</button>}
                  {!mark && mayEdit && <button type="button" class="quiet" aria-label={formatText(VIEWER_EN, 'placeMarkName', { name: nameMark(name) })} onClick={() => onPlace(name)}>{VIEWER_EN.placeMark}</button>}
                  {set && mayEdit && <button type="button" class="quiet" aria-label={formatText(VIEWER_EN, 'giveBackName', { name: nameMark(name) })} onClick={() => onGiveBack(name)}>{VIEWER_EN.giveBack}</button>}
                </td>
              </tr>
            );
          })}
        </tbody>
      </table>
    </div>
  );
}

/** Day and minute, as the log has them (UTC). */
export const formatTime = (iso: string): string => iso.slice(0, 16).replace('T', ' ');
