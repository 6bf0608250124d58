/** The viewer alone on a page, with a parent that answers moved marks as the Root page does. For tests and by hand. */
import { render } from 'preact';
import { useMemo, useState } from 'preact/hooks';
import type { NewCaseEvent } from '../../../src/core/case/case-events.ts';
import { listLandmarks, type CaseState } from '../../../src/core/case/fold-case.ts';
import type { Plan } from '../../../src/core/case/plan-types.ts';
import { recutRoot } from '../../../src/core/root/recut-root.ts';
import type { SurveyDocument } from '../../../src/core/root/survey-document.ts';
import { parseSurveyDocument } from '../../../src/formats/plan/parse-survey-document.ts';
import type { PersonEvent } from '../../../src/formats/api/case-schemas.ts';
import { callApi } from '../../../src/web/api/call-api.ts';
import { readNames } from '../../../src/web/state/names.ts';
import { readSession, may } from '../../../src/web/state/session.ts';
import type { MovedMarks } from '../../../src/web/state/viewer-slot.ts';
import { PlacingViewer } from '../../../src/web/viewer/placing-viewer.tsx';
import { RootViewer } from '../../../src/web/viewer/root-viewer.tsx';
import '../../../src/web/style/desk.css';
import 'virtual:section-style.css';

const CASE = 'case-0001';
const SHA = 'a'.repeat(64);
interface Told {
  readonly preview: number;
  readonly answerMs: number[];
}
const told: Told & { previews: number } = { preview: 0, answerMs: [], previews: 0 };
Object.assign(globalThis, { told });

function Page({ plan, survey, first }: { readonly plan: Plan; readonly survey: SurveyDocument; readonly first: CaseState }) {
  const [state, setState] = useState(first);
  const [moved, setMoved] = useState<MovedMarks | null>(null);
  const shown = useMemo((): Plan => {
    const from = performance.now();
    if (!plan.root) return plan;
    const marks = { ...state.marks };
    for (const [name, lps] of Object.entries(moved?.marks ?? {})) marks[name as keyof typeof marks] = { lps, by: '', at: '', seq: 0 };
    const contour = moved?.contourLps === undefined ? state.ring?.contourLps : moved.contourLps;
    const now: CaseState = { ...state, marks, ring: contour ? { contourLps: contour, by: '', at: '', seq: 0 } : null };
    const landmarks = listLandmarks(now, plan.root.basalPlane.nadirsLps, plan.scan.frameOfReferenceUid ?? '', 'reader');
    const answer = landmarks ? recutRoot(plan.root, survey, landmarks, { by: 'trinadir', at: plan.madeAt }) : null;
    told.answerMs.push(performance.now() - from);
    return answer?.ok ? { ...plan, root: answer.value.root } : plan;
  }, [state, moved]);
  const onEvents = async (events: readonly NewCaseEvent[]) => {
    const answer = await callApi('addEvents', { params: { caseId: CASE }, body: { expectSeq: state.seq, events: [...events] as PersonEvent[] } });
    if (!answer.ok) return answer;
    setState(answer.value.state);
    return { ok: true, value: null } as const;
  };
  if (!plan.root) return <PlacingViewer caseId={CASE} state={state} onEvents={onEvents} />;
  return <RootViewer caseId={CASE} state={state} plan={shown} planSha256={SHA} isRecomputing={state.seq > first.seq} mayEdit={may('edit')} onPreview={(m) => { told.previews += 1; setMoved(m); }} onEvents={onEvents} />;
}

await readSession();
await readNames();
const read = await callApi('readCase', { params: { caseId: CASE } });
const [plan, survey] = await Promise.all([callApi('readPlan', { params: { caseId: CASE, sha256: SHA } }), callApi('readSurvey', { params: { caseId: CASE, sha256: SHA } })]);
if (read.ok && plan.ok && survey.ok) {
  const document_ = parseSurveyDocument(await survey.value.text());
  if (document_.ok) render(<Page plan={(await plan.value.json()) as Plan} survey={document_.value} first={read.value.state} />, document.getElementById('page')!);
  else document.body.append(document_.failure.message);
} else document.body.append('The page has nothing to show.');
