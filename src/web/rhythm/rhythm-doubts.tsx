import { formatText } from '../../core/text/catalogue.ts';
import { RHYTHM_EN } from '../../core/text/rhythm-en.ts';
import { RHYTHM_PAGE_EN } from '../../core/text/rhythm-page-en.ts';
import type { Reason } from '../../core/units/fact.ts';
import type { RhythmPageAnswer } from '../../formats/api/result-schemas.ts';

/** What contradicts itself, is missing or is doubtful, each with what settles it; then what each record's own quality says. */
export function RhythmDoubts({ here, none }: { readonly here: RhythmPageAnswer; readonly none: string }) {
  const said = once([...here.reasons, ...here.watch.reasons, ...here.answer.reasons, ...here.next.reasons]);
  const records = here.ecgs.flatMap((ecg) => {
    const found = ecg.reading ? [...ecg.reading.suspicions.map((s) => ({ ...s, isSuspicion: true })), ...ecg.reading.quality.map((q) => ({ ...q, isSuspicion: false }))] : [];
    return found.length === 0 ? [] : [{ moment: ecg.moment, found }];
  });
  if (said.length === 0 && records.length === 0) return <p>{none}</p>;
  return (
    <>
      {said.map((r) => <div key={r.text} class="note"><p>{r.text}</p><p class="soft">{r.next}</p></div>)}
      {records.map(({ moment, found }) => (
        <div key={moment} class="note">
          <p><b>{formatText(RHYTHM_PAGE_EN, 'qualityTitle', { moment: RHYTHM_EN[`moment-${moment}`] })}</b></p>
          <ul class="plain">{found.map((f) => <li key={f.text}>{f.isSuspicion && <span class="tag">{RHYTHM_PAGE_EN.suspicion}</span>} {f.text} <span class="soft">{f.next}</span></li>)}</ul>
        </div>
      ))}
    </>
  );
}

const once = (reasons: readonly Reason[]): readonly Reason[] => [...new Map(reasons.map((r) => [r.text, r])).values()];
