import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { RHYTHM_PAGE_EN } from '../../core/text/rhythm-page-en.ts';
import { FailureNotice } from '../parts/notice.tsx';
import { Section } from '../parts/section.tsx';
import { EcgForms } from '../rhythm/ecg-forms.tsx';
import { EcgTable } from '../rhythm/ecg-table.tsx';
import { ContextFacts } from '../rhythm/context-facts.tsx';
import { RhythmAnswerPart } from '../rhythm/rhythm-answer.tsx';
import { RhythmActs } from '../rhythm/rhythm-acts.tsx';
import { RhythmDoubts } from '../rhythm/rhythm-doubts.tsx';
import { RuleTables } from '../rhythm/rule-tables.tsx';
import { RhythmRulesChoice } from '../rhythm/rules-choice.tsx';
import { useRhythm } from '../rhythm/use-rhythm.ts';
import { WatchForm } from '../rhythm/watch-form.tsx';
import { caseState } from '../state/open-case.ts';
import '../style/rhythm.css';

/** Wire out? Monitor how long? What the signed rules say of the ECGs, and when the next one is due. */
export function RhythmPage() {
  const state = caseState.value;
  return state ? <RhythmOf caseId={state.caseId} seq={state.seq} /> : null;
}

function RhythmOf({ caseId, seq }: { readonly caseId: string; readonly seq: number }) {
  const { answer, failure, nowMs } = useRhythm(caseId, seq);
  if (!answer) return failure ? <FailureNotice failure={failure} /> : <p role="status">{RHYTHM_PAGE_EN.reading}</p>;
  return (
    <div class="rhythm">
      {failure && <FailureNotice failure={failure} title={formatText(DESK_EN, 'next', { next: failure.nextStep })} />}
      <Section
        id="rhythm" title={RHYTHM_PAGE_EN.title}
        answer={<RhythmAnswerPart here={answer} nowMs={nowMs} />}
        why={<>
          <EcgTable ecgs={answer.ecgs} />
          <EcgForms here={answer} nowMs={nowMs} />
          <RuleTables answer={answer.answer} />
          <ContextFacts here={answer} />
        </>}
        doubt={<RhythmDoubts here={answer} none={REPORT_EN.doubtNone} />}
        next={<><RhythmActs here={answer} nowMs={nowMs} /><WatchForm /><RhythmRulesChoice /></>}
      />
    </div>
  );
}
