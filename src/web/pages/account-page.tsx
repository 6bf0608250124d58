import { DESK_EN } from '../../core/text/desk-en.ts';
import { useTitle } from '../parts/title.ts';

export function AccountPage() {
  useTitle(DESK_EN.account);
  return <section class="page"><h1>{DESK_EN.account}</h1></section>;
}
