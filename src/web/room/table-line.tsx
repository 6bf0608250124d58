import { useMemo } from 'preact/hooks';
import { nameView } from '../../core/projection/camera-view.ts';
import { moveView, registerTable, type TableFrame } from '../../core/projection/register-table.ts';
import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
import { formatNumber } from '../../formats/report/format-number.ts';
import { Notice } from '../parts/notice.tsx';
import { readCalibration } from './measure-slots.ts';
import { listClicks } from './shot.ts';
import { readShot, type Slot } from './slots.ts';

/** How the plan lies on the table, once R, L and N are marked in two views: its error, and where the plan's view is now. */
export function TableLine({ slots, frozen }: { readonly slots: readonly Slot[]; readonly frozen: FrozenDocument }) {
  const { root, views } = frozen.plan;
  const frames = useMemo(() => slots.flatMap((slot) => readTableFrame(slot) ?? []), [slots]);
  const registered = useMemo(() => (root && frames.length >= 2 ? registerTable(frames, root.basalPlane) : null), [frames, root]);
  if (!registered) return null;
  if (!registered.ok) return <Notice title={DEPTH_PAGE_EN.tableFails}><p>{registered.failure.message}</p><p class="soft">{registered.failure.nextStep}</p></Notice>;
  const r = registered.value;
  const start = views?.chosen.find((v) => v.role === 'start');
  return (
    <div class="table-line">
      <h4>{DEPTH_PAGE_EN.tableTitle}</h4>
      <p>{formatText(DEPTH_PAGE_EN, 'tableSay', {
        deg: formatNumber(r.separationDeg, 0), rms: formatNumber(r.rmsMm, 1), nadir: formatNumber(r.nadirWithinMm, 1), tilt: formatNumber(r.tiltDeg, 0), within: formatNumber(r.tiltWithinDeg, 0), turn: formatNumber(r.turnDeg, 0),
      })}</p>
      {start && <p>{formatText(DEPTH_PAGE_EN, 'tableView', { planned: nameView(start), moved: nameView(moveView(start, r)) })}</p>}
    </div>
  );
}

function readTableFrame(slot: Slot): TableFrame | null {
  const shot = readShot(slot);
  const calibration = readCalibration(shot);
  const { view } = shot.geometry;
  const [cuspR, cuspL, cuspN] = [listClicks(shot, 'cuspR'), listClicks(shot, 'cuspL'), listClicks(shot, 'cuspN')];
  if (!view || !calibration || cuspR.length === 0 || cuspL.length === 0 || cuspN.length === 0) return null;
  return { view, calibration, sizePx: shot.size, clickSdPx: null, marks: { cuspR, cuspL, cuspN } };
}
