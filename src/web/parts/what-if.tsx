import { useEffect, useState } from 'preact/hooks';
import type { PlannedChoice } from '../../core/case/case-events.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { readPlannedChoice } from '../../core/case/ask-choice.ts';
import type { PlannedForecast } from '../../core/case/keep-what-ifs.ts';
import { WORLDS, type ReleaseForecast, type ReleaseVerdict } from '../../core/release/release-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RELEASE_EN } from '../../core/text/release-en.ts';
import { WHAT_IF_EN } from '../../core/text/what-if-en.ts';
import { drawForecastStrip } from '../../formats/report/draw-forecast-strip.ts';
import { formatNumber, isAnswered } from '../../formats/report/format-number.ts';
import { makeReleaseSection } from '../../formats/report/make-release-section.ts';
import { addEvents, caseState, shownPlan } from '../state/open-case.ts';
import { nameOf } from '../state/names.ts';
import { may } from '../state/session.ts';
import { answered, askForecast, choice, choose, isAsking, whatIfFailure } from '../state/what-if.ts';
import { Field } from './field.tsx';
import { Markup } from './markup.tsx';
import { FailureNotice } from './notice.tsx';

const PARTS = ['device', 'size', 'startMm', 'paceBpm', 'isPredilated', 'tension', 'wireBiasMm'] as const;
const TENSIONS = ['neutral', 'pulling', 'pushing', 'unknown'] as const;
const listChanges = (a: PlannedChoice, b: PlannedChoice) => PARTS.filter((p) => a[p] !== b[p]);
const sayVerdict = (v: ReleaseVerdict): string => (v === 'cannot say' ? RELEASE_EN.cannotSay : RELEASE_EN[`verdict-${v}`]);

/** Another start, size, pace, dilatation, tension or wire, and the forecast that follows. Marked so that none takes it for the plan. */
export function WhatIf() {
  const shown = shownPlan.value;
  const now = choice.value;
  if (!shown || !now) return null;
  const planned = readPlannedChoice(shown.plan)!;
  const changes = listChanges(now, planned);
  const answer = answered.value;
  const isCurrent = answer !== null && listChanges(answer.choice, now).length === 0;
  return (
    <section class="what-if" aria-labelledby="what-if-name">
      <h3 id="what-if-name">{WHAT_IF_EN.title} <span class="tag">{WHAT_IF_EN.notPlan}</span></h3>
      <p class="soft">{WHAT_IF_EN.say}</p>
      <Controls now={now} plan={shown.plan} />
      <p role="status" class="soft">
        {changes.length === 0 ? WHAT_IF_EN.samePlan : formatText(WHAT_IF_EN, 'differsIn', { list: changes.map((p) => WHAT_IF_EN[`part-${p}`]).join(', ') })}{' '}
        {isAsking.value ? WHAT_IF_EN.asking : isCurrent && formatText(WHAT_IF_EN, answer.isFull ? 'full' : 'quick', { count: answer.releases })}
      </p>
      {changes.length > 0 && <button type="button" onClick={() => choose(planned)}>{WHAT_IF_EN.asPlanned}</button>}
      {may('edit') && changes.length > 0 && <PinForm now={now} />}
      {whatIfFailure.value && <FailureNotice failure={whatIfFailure.value} />}
      {answer && (changes.length > 0 || isAsking.value) && <AnswerOf answer={answer} isOld={!isCurrent} isTraining={shown.plan.training} />}
      <Pins plan={shown.plan} planned={planned} />
    </section>
  );
}

function Controls({ now, plan }: { readonly now: PlannedChoice; readonly plan: Plan }) {
  const put = (part: Partial<PlannedChoice>): void => choose({ ...now, ...part });
  const sizes = plan.size?.table.devices.flatMap((d) => d.sizes.map((s) => ({ device: d.id, size: s.label, startMm: s.depthMm.start }))) ?? [];
  const index = sizes.findIndex((s) => s.device === now.device && s.size === now.size);
  const numberIn = (text: string, low: number, high: number, take: (v: number) => void): void => {
    const value = Number(text.replace(',', '.'));
    if (text.trim() !== '' && Number.isFinite(value) && value >= low && value <= high) take(value);
  };
  return (
    <div class="controls">
      <Field label={WHAT_IF_EN.size}>
        {(p) => (
          <select {...p} value={index} onChange={(e) => { const s = sizes[Number(e.currentTarget.value)]; if (s) put({ device: s.device, size: s.size }); }}>
            {sizes.map((s, i) => <option key={`${s.device} ${s.size}`} value={i}>{s.device} {s.size}</option>)}
          </select>
        )}
      </Field>
      <Field label={WHAT_IF_EN.start} unit={`${formatNumber(now.startMm, 1)} ${WHAT_IF_EN.mm}`}>
        {(p) => <input {...p} type="range" min={-4} max={16} step={0.5} value={now.startMm} aria-valuetext={`${formatNumber(now.startMm, 1)} ${WHAT_IF_EN.mm}`} onInput={(e) => put({ startMm: Number(e.currentTarget.value) })} />}
      </Field>
      <Field label={WHAT_IF_EN.pace} unit={WHAT_IF_EN.perMinute}>
        {(p) => <input {...p} class="short" inputMode="numeric" value={now.paceBpm} onChange={(e) => numberIn(e.currentTarget.value, 30, 260, (paceBpm) => put({ paceBpm }))} />}
      </Field>
      <Field label={WHAT_IF_EN.tension}>
        {(p) => <select {...p} value={now.tension} onChange={(e) => put({ tension: e.currentTarget.value as PlannedChoice['tension'] })}>{TENSIONS.map((t) => <option key={t} value={t}>{WHAT_IF_EN[`tension-${t}`]}</option>)}</select>}
      </Field>
      <Field label={WHAT_IF_EN.wire} unit={WHAT_IF_EN.mm}>
        {(p) => <input {...p} class="short" inputMode="decimal" value={now.wireBiasMm} onChange={(e) => numberIn(e.currentTarget.value, 0, 10, (wireBiasMm) => put({ wireBiasMm }))} />}
      </Field>
      <label class="inline"><input type="checkbox" checked={now.isPredilated} onChange={(e) => put({ isPredilated: e.currentTarget.checked })} /> {WHAT_IF_EN.predilated}</label>
    </div>
  );
}

function AnswerOf({ answer, isOld, isTraining }: { readonly answer: PlannedForecast; readonly isOld: boolean; readonly isTraining: boolean }) {
  const { forecast, change } = answer;
  const strip = drawForecastStrip(forecast, { id: 'what-if-strip', isTraining });
  return (
    <div class={isOld ? 'what-answer old' : 'what-answer'} aria-busy={isOld}>
      <Markup html={makeReleaseSection(forecast, undefined, isTraining).answer} />
      {forecast.refusals.map((r) => <div key={r.code} class="note"><p>{r.text}</p><p class="soft">{r.next}</p></div>)}
      {strip && <div class="scroll" tabIndex={0} role="region" aria-label={RELEASE_EN.stripTitle}><Markup html={strip} /></div>}
      {change && (
        <table>
          <caption>{WHAT_IF_EN.changeTitle}</caption>
          <thead><tr>{[WHAT_IF_EN.columnWorld, WHAT_IF_EN.columnMove, WHAT_IF_EN.columnHold, WHAT_IF_EN.columnThen].map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
          <tbody>
            {WORLDS.map((w) => {
              const { changeMm, isVisible, marginChangeN, answer: verdict } = change[w];
              return (
                <tr key={w}>
                  <th scope="row">{RELEASE_EN[`world-${w}`]}</th>
                  <td>{isVisible ? formatText(RELEASE_EN, 'moveBand', { mid: signed(changeMm.mid), low: signed(changeMm.low), high: signed(changeMm.high) }) : RELEASE_EN.noVisible}</td>
                  <td>{Number.isFinite(marginChangeN) ? `${signed(marginChangeN)} N` : '–'}</td>
                  <td>{sayVerdict(verdict)}</td>
                </tr>
              );
            })}
          </tbody>
        </table>
      )}
    </div>
  );
}
const signed = (v: number): string => `${v > 0.05 ? '+' : ''}${formatNumber(v, 1)}`;

function PinForm({ now }: { readonly now: PlannedChoice }) {
  const pin = (event: SubmitEvent): void => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const note = String(new FormData(form).get('note') ?? '').trim();
    void addEvents([{ kind: 'alternative.pinned', data: { pinId: `pin-${crypto.randomUUID()}`, choice: now, note } }]).then((answer) => answer.ok && form.reset());
  };
  return (
    <form class="inline pin" onSubmit={pin}>
      <label class="inline">{WHAT_IF_EN.note} <input name="note" maxLength={200} /></label>
      <button type="submit">{WHAT_IF_EN.pin}</button>
    </form>
  );
}

const sayChoice = (c: PlannedChoice): string =>
  formatText(WHAT_IF_EN, 'choiceLine', {
    device: c.device, size: c.size, start: formatNumber(c.startMm, 1), pace: c.paceBpm, dilated: c.isPredilated ? WHAT_IF_EN.dilated : WHAT_IF_EN.notDilated,
    tension: WHAT_IF_EN[`tension-${c.tension}`], wire: formatNumber(c.wireBiasMm, 1),
  });

/** The plan and what was pinned, one row each, so that they are compared in the same words. */
export function Pins({ plan, planned }: { readonly plan: Plan; readonly planned: PlannedChoice }) {
  const pins = caseState.value?.pins ?? [];
  const sha256 = shownPlan.value?.sha256 ?? '';
  const [forecasts, setForecasts] = useState<Readonly<Record<string, ReleaseForecast>>>({});
  const ids = pins.map((p) => p.pinId).join(' ');
  useEffect(() => {
    let isCurrent = true;
    setForecasts({});
    void (async () => {
      for (const pin of pins) {
        const answer = await askForecast(pin.choice);
        if (!isCurrent) return;
        if (answer.ok) setForecasts((all) => ({ ...all, [pin.pinId]: answer.value.forecast }));
      }
    })();
    return () => (isCurrent = false);
  }, [sha256, ids]);
  if (pins.length === 0 || !plan.release) return null;
  return (
    <table class="pins stacked">
      <caption>{WHAT_IF_EN.pinsTitle}</caption>
      <thead><tr>{[WHAT_IF_EN.columnChoice, WHAT_IF_EN.columnAnswer, WHAT_IF_EN.columnDepth, WHAT_IF_EN.columnHolding, WHAT_IF_EN.columnBy].map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
      <tbody>
        <tr><th scope="row"><b>{WHAT_IF_EN.thePlan}</b> {sayChoice(planned)}</th><ForecastCells forecast={plan.release} /><td /></tr>
        {pins.map((p) => (
          <tr key={p.pinId}>
            <th scope="row">{sayChoice(p.choice)}{p.note !== '' && <p class="soft">{p.note}</p>}</th>
            <ForecastCells forecast={forecasts[p.pinId] ?? null} />
            <td data-name={WHAT_IF_EN.columnBy}>
              {nameOf(p.by)}{' '}
              <button type="button" class="quiet" onClick={() => choose(p.choice)}>{WHAT_IF_EN.look}</button>
              {may('edit') && <button type="button" class="quiet" onClick={() => void addEvents([{ kind: 'alternative.unpinned', data: { pinId: p.pinId } }])}>{WHAT_IF_EN.unpin}</button>}
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

function ForecastCells({ forecast }: { readonly forecast: ReleaseForecast | null }) {
  if (!forecast) return <><td data-name={WHAT_IF_EN.columnAnswer}>{WHAT_IF_EN.asking}</td><td /><td /></>;
  const middle = forecast.sweep.find((s) => s.startMm === forecast.startMm)?.worlds.middle;
  const depth = middle && isAnswered(middle.finalDepthMm) ? `${formatNumber(Math.round(middle.finalDepthMm.low), 0)} to ${formatNumber(Math.round(middle.finalDepthMm.high), 0)} mm` : middle ? WHAT_IF_EN.leaves : WHAT_IF_EN.notForecast;
  const hold = middle && isAnswered(middle.holdingMarginN) ? `${formatNumber(middle.holdingMarginN.value, 0)} N (${formatNumber(middle.holdingMarginN.low, 0)} to ${formatNumber(middle.holdingMarginN.high, 0)})` : WHAT_IF_EN.notForecast;
  return (
    <>
      <td data-name={WHAT_IF_EN.columnAnswer}>{sayVerdict(forecast.answer)}</td>
      <td data-name={WHAT_IF_EN.columnDepth}>{depth}</td>
      <td data-name={WHAT_IF_EN.columnHolding}>{hold}</td>
    </>
  );
}
