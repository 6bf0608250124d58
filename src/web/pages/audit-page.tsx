import { DESK_EN } from '../../core/text/desk-en.ts';
import { useTitle } from '../parts/title.ts';

export function AuditPage() {
  useTitle(DESK_EN.audit);
  return <section class="page"><h1>{DESK_EN.audit}</h1></section>;
}
