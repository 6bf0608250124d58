import type { ComponentChildren } from 'preact';
import type { JoinedValue } from '../../core/rhythm-case/join-ecg.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RHYTHM_EN } from '../../core/text/rhythm-en.ts';
import { RHYTHM_PAGE_EN } from '../../core/text/rhythm-page-en.ts';
import type { Fact } from '../../core/units/fact.ts';
import type { RhythmPageAnswer } from '../../formats/api/result-schemas.ts';
import { formatFact, formatNumber } from '../../formats/report/format-number.ts';
import { sayMoment } from '../parts/days.ts';
import { nameOf } from '../state/names.ts';

type Column = RhythmPageAnswer['ecgs'][number];

/** Baseline, after release, 24 h, 48 h: what counts, how it differs from the baseline, and where it comes from. */
export function EcgTable({ ecgs }: { readonly ecgs: readonly Column[] }) {
  const heads = [RHYTHM_PAGE_EN.columnMoment, RHYTHM_PAGE_EN.columnPr, RHYTHM_PAGE_EN.columnQrs, RHYTHM_PAGE_EN.columnRate, RHYTHM_PAGE_EN.columnRhythm, RHYTHM_PAGE_EN.columnBundle, RHYTHM_PAGE_EN.columnAv];
  return (
    <>
      <table class="facts stacked ecgs">
        <caption>{RHYTHM_PAGE_EN.tableTitle}</caption>
        <thead><tr>{heads.map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
        <tbody>{ecgs.map((ecg) => <Row key={ecg.moment} ecg={ecg} />)}</tbody>
      </table>
      <p class="soft">{RHYTHM_PAGE_EN.bandNote}</p>
    </>
  );
}

function Row({ ecg }: { readonly ecg: Column }) {
  const { entry, moment, rise } = ecg;
  const name = RHYTHM_EN[`moment-${moment}`];
  if (!entry) return <tr><th scope="row">{name}</th><td colSpan={6}><span class="tag">{RHYTHM_PAGE_EN.none}</span></td></tr>;
  const cell = (head: string, value: JoinedValue, by: Fact | null | undefined) => <td data-name={head}><Value value={value} rise={moment === 'baseline' ? undefined : (by ?? null)} /></td>;
  const said = (head: string, word: string | null, more?: ComponentChildren) => <td data-name={head}>{word ?? <span class="tag">{RHYTHM_PAGE_EN.open}</span>}{more}</td>;
  return (
    <tr>
      <th scope="row">
        {name}
        <span class="note-line">{ecg.at && sayMoment(ecg.at)}</span>
        {ecg.enteredBy && <span class="note-line">{formatText(RHYTHM_PAGE_EN, 'enteredBy', { who: nameOf(ecg.enteredBy.by), at: sayMoment(ecg.enteredBy.at) })}</span>}
        {ecg.joinedBy && <span class="note-line">{formatText(RHYTHM_PAGE_EN, 'joined', { at: sayMoment(ecg.joinedBy.takenAt), who: nameOf(ecg.joinedBy.by) })}{ecg.reading && ecg.reading.leads.length > 0 && <> {formatText(RHYTHM_PAGE_EN, 'measuredFrom', { beats: ecg.reading.beats, leads: ecg.reading.leads.join(', ') })}</>}</span>}
      </th>
      {cell(RHYTHM_PAGE_EN.columnPr, ecg.pr, rise?.prMs)}
      {cell(RHYTHM_PAGE_EN.columnQrs, ecg.qrs, rise?.qrsMs)}
      {cell(RHYTHM_PAGE_EN.columnRate, ecg.rate, rise?.ratePerMin)}
      {said(RHYTHM_PAGE_EN.columnRhythm, entry.rhythm && RHYTHM_PAGE_EN[`rhythm-${entry.rhythm}`], entry.hvMs?.value != null && <span class="note-line">{formatText(RHYTHM_PAGE_EN, 'hv', { value: formatNumber(entry.hvMs.value, 0) })}</span>)}
      {said(RHYTHM_PAGE_EN.columnBundle, entry.bundleBlock && RHYTHM_PAGE_EN[`bundle-${entry.bundleBlock}`])}
      {said(RHYTHM_PAGE_EN.columnAv, entry.avBlock && RHYTHM_PAGE_EN[`av-${entry.avBlock}`])}
    </tr>
  );
}

/** `rise` undefined: the row is the baseline itself. */
function Value({ value: { used, from, measured }, rise }: { readonly value: JoinedValue; readonly rise: Fact | null | undefined }) {
  const words = used && formatFact(used);
  const isBand = used !== null && used.high !== used.low;
  const record = measured && formatFact(measured);
  if (!words) {
    const why = used?.reasons[0]?.text ?? measured?.reasons[0]?.text;
    return (
      <>
        {used ? <span class="tag">{formatText(RHYTHM_PAGE_EN, 'refusedHere', { text: why ?? '' })}</span> : <span class="tag">{RHYTHM_PAGE_EN.unread}</span>}
        {record ? <span class="note-line">{formatText(RHYTHM_PAGE_EN, 'recordSays', record)}</span> : measured && !used && <span class="note-line">{formatText(RHYTHM_PAGE_EN, 'recordRefused', { text: why ?? '' })}</span>}
      </>
    );
  }
  const by = rise && formatFact(rise);
  const sign = rise?.value != null && rise.value > 0 ? '+' : '';
  return (
    <>
      <span class="value">{words.value}</span>{isBand && <> <span class="interval">{words.interval}</span></>}
      {rise !== undefined && <span class="note-line rise">{by ? (rise!.high === rise!.low ? formatText(RHYTHM_PAGE_EN, 'riseBare', { value: `${sign}${by.value}` }) : formatText(RHYTHM_PAGE_EN, 'rise', { value: `${sign}${by.value}`, interval: by.interval })) : RHYTHM_PAGE_EN.riseNone}</span>}
      <span class="note-line">{from === 'person' ? RHYTHM_PAGE_EN.fromPerson : RHYTHM_PAGE_EN.fromRecord}</span>
      {from === 'person' && measured && <span class="note-line">{record ? formatText(RHYTHM_PAGE_EN, 'recordSays', record) : formatText(RHYTHM_PAGE_EN, 'recordRefused', { text: measured.reasons[0]?.text ?? '' })}</span>}
    </>
  );
}
