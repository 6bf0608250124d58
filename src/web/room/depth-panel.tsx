import { useMemo } from 'preact/hooks';
import type { DepthReading } from '../../core/projection/depth-types.ts';
import { readShareOut } from '../../core/room/judge-recapture.ts';
import { readDepthPlan } from '../../core/room/read-depth-plan.ts';
import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
import { Notice } from '../parts/notice.tsx';
import { caseState } from '../state/open-case.ts';
import { frozen, logEntry, room } from '../state/room-log.ts';
import { DepthDesk } from './depth-desk.tsx';
import { EnteredDepth } from './entered-depth.tsx';
import './depth.css';

/** Where the frame stands: measured on marked frames, or entered as the room's own screen shows it. Part of In the room. */
export function DepthPanel() {
  const plan = frozen.value;
  const now = room.value;
  const depthPlan = useMemo(() => (plan ? readDepthPlan(plan) : null), [plan]);
  const runs = caseState.value?.caseId === plan?.caseId ? (caseState.value?.runs ?? []) : [];
  const keep = (reading: DepthReading, corrects: string | null): string | null => logEntry({ is: 'depth', reading }, corrects);
  return (
    <section class="depth-panel" aria-labelledby="depth-panel-name">
      <h3 id="depth-panel-name">{DEPTH_PAGE_EN.title}</h3>
      {plan === null && <Notice><p>{DEPTH_PAGE_EN.noPlan}</p><p class="soft">{DEPTH_PAGE_EN.noPlanNext}</p></Notice>}
      {plan !== null && depthPlan === null && <Notice><p>{DEPTH_PAGE_EN.noRoot}</p><p class="soft">{DEPTH_PAGE_EN.noRootNext}</p></Notice>}
      {plan !== null && depthPlan !== null && <DepthDesk key={plan.caseId} frozen={plan} plan={depthPlan} room={now} runs={runs} onKeep={keep} />}
      <details class="by-room" open={depthPlan === null}>
        <summary>{DEPTH_PAGE_EN.entered}</summary>
        <EnteredDepth key={now.view?.at ?? ''} view={now.view?.view ?? null} unsheathedRatio={readShareOut(now)?.ratio ?? null} onReading={(reading) => keep(reading, null)} />
      </details>
    </section>
  );
}
