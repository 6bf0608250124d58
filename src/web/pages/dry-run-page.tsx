import { useEffect, useRef, useState } from 'preact/hooks';
import { HUDDLE_BRANCHES, type HuddleBranch } from '../../core/case/case-events.ts';
import { DRY_RUN_STEPS, listBranchFacts, listDryRunSteps, type Rehearsal } from '../../core/room/list-dry-run.ts';
import { nameKit } from '../../core/room/list-blockers.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DRY_RUN_EN } from '../../core/text/dry-run-en.ts';
import { FREEZE_EN } from '../../core/text/freeze-en.ts';
import { drawDryRun } from '../../formats/report/draw-dry-run.ts';
import { formatNumber } from '../../formats/report/format-number.ts';
import { Field } from '../parts/field.tsx';
import { Markup } from '../parts/markup.tsx';
import { Section } from '../parts/section.tsx';
import { UnplannedSection } from '../parts/unplanned.tsx';
import { nameOf } from '../state/names.ts';
import { addEvents, caseState, shownPlan } from '../state/open-case.ts';
import { chosenForecast, followForecast, rehearsal } from '../state/rehearsal.ts';
import { may } from '../state/session.ts';
import '../style/huddle.css';

/** Does the team agree on "what if"? The release in four steps, and three ways in which it goes otherwise. */
export function DryRunPage() {
  useEffect(followForecast, []);
  const [state, shown, now] = [caseState.value, shownPlan.value, rehearsal.value];
  if (!state) return null;
  if (!shown) return <UnplannedSection page="dry-run" plan={null} />;
  const open = HUDDLE_BRANCHES.filter((b) => !state.branches[b]);
  const list = open.map((b) => FREEZE_EN[`branch-${b}`].toLowerCase()).join(', ');
  const refusals = now?.forecast?.refusals ?? [];
  return (
    <Section
      id="dry-run" title={DRY_RUN_EN.title}
      answer={<>
        <p class="say">{open.length === 0 ? DRY_RUN_EN.answerAll : open.length === 1 ? formatText(DRY_RUN_EN, 'answerOne', { list }) : formatText(DRY_RUN_EN, 'answerOpen', { count: open.length, list })}</p>
        <p>{now?.chosen.choice ? formatText(DRY_RUN_EN, 'answerChoice', { device: now.chosen.choice.device, size: now.chosen.choice.size, start: formatNumber(now.chosen.choice.startMm, 1), bpm: formatNumber(now.chosen.choice.paceBpm, 0) }) : DRY_RUN_EN.noChoice}</p>
      </>}
      why={now ? <>
        <Stepper now={now} isTraining={shown.plan.training || state.training} />
        <section class="branches" aria-labelledby="branches-name">
          <h3 id="branches-name">{DRY_RUN_EN.branchesTitle}</h3>
          <p class="soft">{DRY_RUN_EN.branchSay}</p>
          <div class="branch-row">{HUDDLE_BRANCHES.map((b) => <Branch key={b} branch={b} now={now} />)}</div>
        </section>
      </> : <p>{DRY_RUN_EN.noChoice}</p>}
      doubt={<>
        {refusals.map((r) => <div key={r.code} class="note"><p>{r.text}</p><p class="soft">{r.next}</p></div>)}
        {now && !now.chosen.isForecast && <div class="note"><p>{DRY_RUN_EN.doubtOther}</p></div>}
        {now && !now.forecast && !chosenForecast.value.isAsking && <div class="note"><p>{DRY_RUN_EN.noForecast}</p></div>}
        <p>{DRY_RUN_EN.doubtForecast}</p>
      </>}
      next={<ul class="acts">
        {!now?.chosen.choice && <li><a href={`/case/${state.caseId}/huddle`}>{DRY_RUN_EN.nextChoice}</a></li>}
        {open.length > 0 ? <li>{formatText(DRY_RUN_EN, 'nextPerson', { list })}</li> : <li><a href={`/case/${state.caseId}/huddle`}>{DRY_RUN_EN.nextHuddle}</a></li>}
      </ul>}
    />
  );
}

function Stepper({ now, isTraining }: { readonly now: Rehearsal; readonly isTraining: boolean }) {
  const [at, setAt] = useState(0);
  const steps = listDryRunSteps(now);
  const step = steps[at]!;
  const { choice, landing, device } = now.chosen;
  const picture = drawDryRun({ id: 'dry-run-picture', isTraining, step: step.id, startMm: choice?.startMm ?? null, paceBpm: choice?.paceBpm ?? null, landing, kind: device.kind, forecast: now.forecast });
  const go = (to: number): void => setAt(Math.max(0, Math.min(steps.length - 1, to)));
  const tabs = useRef<HTMLDivElement>(null);
  const onKey = (e: KeyboardEvent): void => {
    const to = e.key === 'ArrowRight' ? at + 1 : e.key === 'ArrowLeft' ? at - 1 : e.key === 'Home' ? 0 : e.key === 'End' ? steps.length - 1 : null;
    if (to === null) return;
    e.preventDefault();
    go(to);
    tabs.current?.querySelectorAll<HTMLElement>('[role=tab]')[Math.max(0, Math.min(steps.length - 1, to))]?.focus();
  };
  return (
    <section class="stepper" aria-labelledby="steps-name">
      <h3 id="steps-name">{DRY_RUN_EN.stepsTitle}</h3>
      <div class="step-tabs" role="tablist" aria-labelledby="steps-name" ref={tabs} onKeyDown={onKey}>
        {DRY_RUN_STEPS.map((id, i) => (
          <button key={id} type="button" role="tab" id={`step-${id}`} aria-selected={i === at} aria-controls="step-panel" tabIndex={i === at ? 0 : -1} onClick={() => go(i)}>{i + 1}. {DRY_RUN_EN[`step-${id}`]}</button>
        ))}
      </div>
      <div id="step-panel" role="tabpanel" aria-labelledby={`step-${step.id}`}>
        <figure class="wide">
          <div class="scroll" tabIndex={0} role="region" aria-label={DRY_RUN_EN.pictureTitle}><Markup html={picture} /></div>
          <figcaption>{DRY_RUN_EN.pictureCaption}</figcaption>
        </figure>
        <div aria-live="polite">
          {step.id === 'release' && chosenForecast.value.isAsking && <p role="status">{DRY_RUN_EN.forecastAsked}</p>}
          <ul class="plain">{step.say.map((s) => <li key={s}>{s}</li>)}</ul>
          <div class="before-on"><p class="soft">{DRY_RUN_EN.watch}</p>{step.watch.map((s) => <p key={s}><b>{s}</b></p>)}</div>
        </div>
        <p class="step-moves">
          <button type="button" disabled={at === 0} onClick={() => go(at - 1)}>{DRY_RUN_EN.back}</button>{' '}
          <button type="button" class="main" disabled={at === steps.length - 1} onClick={() => go(at + 1)}>{DRY_RUN_EN.on}</button>{' '}
          <span class="soft">{formatText(DRY_RUN_EN, 'stepOf', { at: at + 1 })}. {DRY_RUN_EN.stepKeys}</span>
        </p>
      </div>
    </section>
  );
}

/** One branch: what plan and huddle hold for it, and who does what with what from where. */
function Branch({ branch, now }: { readonly branch: HuddleBranch; readonly now: Rehearsal }) {
  const state = caseState.value!;
  const agreed = state.branches[branch] ?? null;
  const [isOpen, setOpen] = useState(false);
  const isAsking = may('edit') && (agreed === null || isOpen);
  const put = (event: SubmitEvent): void => {
    event.preventDefault();
    const form = new FormData(event.currentTarget as HTMLFormElement);
    const text = (name: string): string => String(form.get(name) ?? '').trim();
    const plan = { person: text('person'), item: text('item'), place: text('place') };
    if (plan.person === '' || plan.item === '' || plan.place === '') return;
    void addEvents([{ kind: 'branch.agreed', data: { branch, plan }, supersedes: agreed?.seq ?? null }]).then((answer) => answer.ok && setOpen(false));
  };
  const team = [...new Set(Object.entries(state.huddle).filter(([id]) => id.startsWith('team.')).map(([, item]) => String(item.value)))];
  return (
    <section class="branch" aria-labelledby={`branch-${branch}`}>
      <h4 id={`branch-${branch}`}>{FREEZE_EN[`branch-${branch}`]} <span class={agreed ? 'settled' : 'tag'}>{agreed ? DRY_RUN_EN.agreedTag : DRY_RUN_EN.openTag}</span></h4>
      <p>{DRY_RUN_EN[`ask-${branch}`]}</p>
      <ul class="plain">{listBranchFacts(branch, now).map((s) => <li key={s}>{s}</li>)}</ul>
      {agreed && <p class="agreed"><b>{formatText(DRY_RUN_EN, 'agreed', agreed)}</b> <span class="soft">{formatText(DRY_RUN_EN, 'agreedBy', { who: nameOf(agreed.by) })}</span></p>}
      {agreed && may('edit') && !isOpen && (
        <p>
          <button type="button" class="quiet" onClick={() => setOpen(true)}>{DRY_RUN_EN.again}</button>
          <button type="button" class="quiet" onClick={() => void addEvents([{ kind: 'branch.agreed', data: { branch, plan: null }, supersedes: agreed.seq }])}>{DRY_RUN_EN.takeBack}</button>
        </p>
      )}
      {isAsking && (
        <form onSubmit={put} key={agreed?.seq ?? 0}>
          {([['person', 80, team], ['item', 120, now.kit.map(nameKit)], ['place', 120, [...new Set(now.kit.flatMap((k) => (k.place === null ? [] : [k.place])))]]] as const).map(([name, most, known]) => (
            <Field key={name} label={DRY_RUN_EN[name]}>
              {(p) => <>
                <input {...p} name={name} required maxLength={most} autocomplete="off" list={`${branch}-${name}`} defaultValue={agreed?.[name] ?? ''} />
                <datalist id={`${branch}-${name}`}>{known.map((k) => <option key={k} value={k} />)}</datalist>
              </>}
            </Field>
          ))}
          <button type="submit">{DRY_RUN_EN.agree}</button>
        </form>
      )}
    </section>
  );
}
