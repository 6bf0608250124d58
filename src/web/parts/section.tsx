import type { ComponentChildren } from 'preact';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import type { PageSection } from '../../formats/report/draw-section.ts';
import { Markup } from './markup.tsx';

export interface SectionParts {
  readonly id: string;
  readonly title: string;
  readonly answer: ComponentChildren;
  readonly why: ComponentChildren;
  readonly doubt: ComponentChildren;
  readonly next: ComponentChildren;
}

/** A page of the case: Answer, Why, Doubt, Next, always all four and in this order. */
export function Section({ id, title, answer, why, doubt, next }: SectionParts) {
  const part = (kind: 'answer' | 'why' | 'doubt' | 'next', children: ComponentChildren) => (
    <div class={`part ${kind}`}>
      <h3>{REPORT_EN[kind]}</h3>
      <div class="body">{children}</div>
    </div>
  );
  return (
    <section class="page" id={id} aria-labelledby={`${id}-name`}>
      <h2 id={`${id}-name`} tabIndex={-1}>{title}</h2>
      {part('answer', answer)}
      {part('why', why)}
      {part('doubt', doubt)}
      {part('next', next)}
      <p class="caution">{HOUSE_EN.caution}</p>
    </section>
  );
}

/** A section as the printed plan has it, with what only the page can add before or after its parts. */
export function PlanSection({ section, beforeWhy, afterNext }: { readonly section: PageSection; readonly beforeWhy?: ComponentChildren; readonly afterNext?: ComponentChildren }) {
  return (
    <Section
      id={section.id} title={section.title}
      answer={<Markup html={section.answer} />}
      why={<>{beforeWhy}<Markup html={section.why} /></>}
      doubt={<Markup html={section.doubt} />}
      next={<><Markup html={section.next} />{afterNext}</>}
    />
  );
}
