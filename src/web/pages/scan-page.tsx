import { useEffect, useState } from 'preact/hooks';
import type { CaseState } from '../../core/case/fold-case.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { IMPORT_EN } from '../../core/text/import-en.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { formatNumber } from '../../formats/report/format-number.ts';
import { makeScanSection } from '../../formats/report/make-scan-section.ts';
import { callApi, type ApiAnswer } from '../api/call-api.ts';
import { ImportPlace } from '../parts/import-place.tsx';
import { Markup } from '../parts/markup.tsx';
import { Section } from '../parts/section.tsx';
import { saySize } from '../parts/sizes.ts';
import { PlanProgress } from '../parts/unplanned.tsx';
import { sendingHere } from '../state/import.ts';
import { addAndPlan, caseState, importJob, planJob, shownPlan, startPlan } from '../state/open-case.ts';
import { may } from '../state/session.ts';

type Volume = ApiAnswer<'listVolumes'>[number];

/** Is the CT here, is it this patient's, and can the root be measured on it? */
export function ScanPage() {
  const state = caseState.value;
  if (!state) return null;
  const plan = shownPlan.value?.plan ?? null;
  const section = plan && state.scan ? makeScanSection(plan) : null;
  const job = planJob.value;
  return (
    <Section
      id="scan" title={IMPORT_EN.title}
      answer={section ? <Markup html={section.answer} /> : <p class="say">{sayAnswer(state)}</p>}
      why={<>
        {state.scan && <p>{formatText(IMPORT_EN, 'answerThere', { files: state.scan.files, size: saySize(state.scan.bytes) })}</p>}
        {!section && state.scan && !job && <p>{state.refusal ? state.refusal.text : IMPORT_EN.notPlannedWhy}</p>}
        {job && <><p role="status">{formatText(DESK_EN, 'planning', { step: job.progress.step })}</p><PlanProgress ratio={job.progress.ratio} label={job.progress.step} /></>}
        {state.scan && <SeriesTable state={state} />}
        {section && <Markup html={section.why} />}
      </>}
      doubt={<>
        {state.scan && <Identity state={state} />}
        {section ? <Markup html={section.doubt} /> : !state.scan && <p>{REPORT_EN.doubtNone}</p>}
      </>}
      next={<>
        {section && !(plan?.root && section.next.includes(REPORT_EN.nextNothing)) && <Markup html={section.next} />}
        <ul class="acts">
          {state.refusal && !plan && <li>{state.refusal.next}</li>}
          {plan?.root && <li><a href={`/case/${state.caseId}/root`}>{IMPORT_EN.nextLook}</a></li>}
          {!state.scan && <li>{IMPORT_EN.nextBring}</li>}
        </ul>
        {state.scan && !plan && !job && may('edit') && <p><button type="button" class="main" onClick={() => void startPlan()}>{DESK_EN.planNow}</button></p>}
        {may('edit') && <ImportPlace caseId={state.caseId} hasScan={state.scan !== null} />}
      </>}
    />
  );
}

function sayAnswer(state: CaseState): string {
  if (sendingHere()) return IMPORT_EN.answerSending;
  const job = importJob.value;
  if (job && (job.state === 'waiting' || job.state === 'running')) return IMPORT_EN.answerReading;
  if (state.refusal && !planJob.value) return DESK_EN.planRefused;
  return state.scan ? DESK_EN.noPlanSay : IMPORT_EN.answerNone;
}

/** Whose CT it is, as compared when it was joined: field by field, values not repeated. */
function Identity({ state }: { readonly state: CaseState }) {
  const { verdict, fields, acceptedBecause } = state.scan!.identity;
  const said =
    verdict === 'same' ? IMPORT_EN.identitySame
      : acceptedBecause === null ? IMPORT_EN.identityNotPlain
        : formatText(IMPORT_EN, verdict === 'differs' ? 'identityDiffers' : 'identityNot', { because: acceptedBecause });
  return (
    <div class={verdict === 'same' ? '' : 'note'}>
      <p>{said}</p>
      {fields.length > 0 && (
        <ul class="plain">
          {fields.map((f) => <li key={f.field}>{IMPORT_EN[`identity-${f.field}`]}: {f.result === 'same' ? IMPORT_EN['identity-same'] : <span class="tag">{IMPORT_EN[`identity-${f.result}`]}</span>}</li>)}
        </ul>
      )}
    </div>
  );
}

function SeriesTable({ state }: { readonly state: CaseState }) {
  const [volumes, setVolumes] = useState<readonly Volume[]>([]);
  const scanId = state.scan?.scanId ?? '';
  const plan = shownPlan.value?.sha256 ?? '';
  useEffect(() => {
    let isCurrent = true;
    void callApi('listVolumes', { params: { caseId: state.caseId } }).then((answer) => isCurrent && answer.ok && setVolumes(answer.value));
    return () => (isCurrent = false);
  }, [state.caseId, scanId, plan]);
  if (volumes.length === 0) return null;
  const chosen = state.scan?.seriesUid;
  const isUsed = (v: Volume): boolean => (chosen ? chosen === v.seriesUid : v.isMeasured);
  const use = (seriesUid: string): void => void addAndPlan([{ kind: 'series.chosen', data: { scanId, seriesUid } }]);
  return (
    <table class="series stacked">
      <caption>{IMPORT_EN.seriesTitle}</caption>
      <thead><tr>{[IMPORT_EN.columnSeries, IMPORT_EN.columnPhase, IMPORT_EN.columnSlices, IMPORT_EN.columnVoxel, IMPORT_EN.columnVerdict, IMPORT_EN.columnUse].map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
      <tbody>
        {volumes.map((v) => (
          <tr key={v.seriesUid}>
            <th scope="row">{v.description ?? IMPORT_EN.noDescription}</th>
            <td data-name={IMPORT_EN.columnPhase}>{v.phasePercent === null ? <span class="soft">{IMPORT_EN.phaseUnknown}</span> : `${formatNumber(v.phasePercent, 0)} %`}</td>
            <td data-name={IMPORT_EN.columnSlices}>{v.slices}</td>
            <td data-name={IMPORT_EN.columnVoxel}>{v.spacingMm.map((mm) => formatNumber(mm, 2)).join(' × ')}</td>
            <td data-name={IMPORT_EN.columnVerdict}>
              {v.verdict === 'fit' ? IMPORT_EN['verdict-fit'] : <span class="tag">{IMPORT_EN[`verdict-${v.verdict}` as keyof typeof IMPORT_EN] ?? v.verdict}</span>}
              {v.findings.filter((f) => f.severity !== 'note').map((f) => <p key={f.code} class="help">{f.text}</p>)}
            </td>
            <td data-name={IMPORT_EN.columnUse}>{isUsed(v) ? <b>{IMPORT_EN.isMeasured}</b> : may('edit') && <button type="button" class="quiet" onClick={() => use(v.seriesUid)}>{IMPORT_EN.useSeries}</button>}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}
