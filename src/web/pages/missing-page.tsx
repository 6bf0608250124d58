import { DESK_EN } from '../../core/text/desk-en.ts';
import { useTitle } from '../parts/title.ts';

export function MissingPage() {
  useTitle(DESK_EN.pageMissing);
  return (
    <section class="page">
      <h1>{DESK_EN.pageMissing}</h1>
      <p><a href="/">{DESK_EN.pageMissingNext}</a></p>
    </section>
  );
}
