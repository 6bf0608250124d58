import { DESK_EN } from '../../core/text/desk-en.ts';
import { useTitle } from '../parts/title.ts';

export function PeoplePage() {
  useTitle(DESK_EN.people);
  return <section class="page"><h1>{DESK_EN.people}</h1></section>;
}
