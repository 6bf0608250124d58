import { DESK_EN } from '../../core/text/desk-en.ts';
import { useTitle } from '../parts/title.ts';

export function TablesPage() {
  useTitle(DESK_EN.tables);
  return <section class="page"><h1>{DESK_EN.tables}</h1></section>;
}
