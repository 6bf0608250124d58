import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
import { logEntry } from '../state/room-log.ts';
import { EnteredDepth } from './entered-depth.tsx';

/** Where the frame stands: measured on marked frames, or entered as the room's own screen shows it. Part of In the room. */
export function DepthPanel() {
  return (
    <section class="depth-panel" aria-labelledby="depth-panel-name">
      <h3 id="depth-panel-name">{DEPTH_PAGE_EN.title}</h3>
      <EnteredDepth onReading={(reading) => void logEntry({ is: 'depth', reading })} />
    </section>
  );
}
