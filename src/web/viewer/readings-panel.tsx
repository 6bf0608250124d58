import { useEffect, useMemo, useState } from 'preact/hooks';
import { listLandmarks, type CaseState } from '../../core/case/fold-case.ts';
import type { NewCaseEvent } from '../../core/case/case-events.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { averageNadirs, compareReadings, farthestNadir, measureAgreement, READ_MEASURES, type ReadingComparison, type ReadMeasure } from '../../core/root/compare-readings.ts';
import { CUSPS, type RootSurvey } from '../../core/root/root-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { VIEWER_EN } from '../../core/text/viewer-en.ts';
import { drawAgreement } from '../../formats/report/draw-agreement.ts';
import { formatNumber } from '../../formats/report/format-number.ts';
import { callApi } from '../api/call-api.ts';
import { Markup } from '../parts/markup.tsx';
import { nameOf } from '../state/names.ts';
import { session } from '../state/session.ts';
import { collectPairs, readReading, type Reading, type ReadSet } from './read-agreement.ts';
import { formatTime } from './marks-table.tsx';
import { nameMark, roundLps } from './view-model.ts';

interface ReadingsProps {
  readonly caseId: string;
  readonly state: CaseState;
  readonly plan: Plan;
  readonly mayEdit: boolean;
  readonly send: (events: readonly NewCaseEvent[], done: string) => void;
}
const UNIT_WORDS: Readonly<Record<string, string>> = { mm: 'mm', mm2: 'mm²' };
const digitsOf = (measure: ReadMeasure): number => (measure === 'areaMm2' ? 0 : 1);

/** Readers' own marks beside one another: where they differ, what they agree on, and how well over many cases. */
export function ReadingsPanel({ caseId, state, plan, mayEdit, send }: ReadingsProps) {
  const { readings } = state;
  const me = session.value?.person ?? null;
  const [aId, setA] = useState<string | null>(null);
  const [bId, setB] = useState<string | null>(null);
  const [problem, setProblem] = useState<string | null>(null);
  const b = readings.find((r) => r.readingId === bId) ?? readings.at(-1);
  const a = readings.find((r) => r.readingId === aId) ?? readings.filter((r) => r.by !== b?.by).at(-1) ?? readings.filter((r) => r !== b).at(-1);
  const roots = useRoots(caseId, a, b);
  const who = (reading: Reading): string => formatText(VIEWER_EN, 'readingLine', { who: nameOf(reading.by), at: formatTime(reading.at) });

  const save = async (): Promise<void> => {
    if (!state.plan || !plan.root) return;
    setProblem(null);
    const landmarks = listLandmarks(state, plan.root.basalPlane.nadirsLps, plan.scan.frameOfReferenceUid ?? '', me?.personId ?? '');
    let landmarksSha256: string | null = null;
    if (landmarks) {
      const kept = await callApi('saveLandmarks', { params: { caseId }, body: landmarks });
      if (!kept.ok) return setProblem(kept.failure.message);
      landmarksSha256 = kept.value.sha256;
    }
    send([{ kind: 'reading.saved', data: { readingId: `reading-${crypto.randomUUID()}`, planSha256: state.plan.planSha256, landmarksSha256 } }], VIEWER_EN.savedReading);
  };
  const canSave = mayEdit && state.plan !== null && !state.plan.isStale;
  const choose = (label: string, value: Reading | undefined, set: (id: string) => void) => (
    <label class="inline">{label}
      <select value={value?.readingId ?? ''} onChange={(e) => set(e.currentTarget.value)}>
        {readings.map((r) => <option key={r.readingId} value={r.readingId}>{who(r)}</option>)}
      </select>
    </label>
  );
  return (
    <details class="readings">
      <summary>{VIEWER_EN.readings}</summary>
      <p>{VIEWER_EN.readingsSay}</p>
      {mayEdit && <p><button type="button" disabled={!canSave} onClick={() => void save()}>{VIEWER_EN.saveReading}</button> <span class="help">{state.plan?.isStale ? VIEWER_EN.readingStale : VIEWER_EN.saveReadingHint}</span></p>}
      {problem !== null && <p role="alert">{formatText(VIEWER_EN, 'saveFailed', { text: problem })}</p>}
      {readings.length === 0 && <p class="soft">{VIEWER_EN.noReadings}</p>}
      {readings.length === 1 && <p class="soft">{who(readings[0]!)}</p>}
      {a && b && (
        <>
          <div class="tools">{choose(VIEWER_EN.compareA, a, setA)}{choose(VIEWER_EN.compareB, b, setB)}</div>
          {roots === null ? <p role="status">{VIEWER_EN.comparing}</p> : roots === 'none' ? <p>{VIEWER_EN.notComparable}</p> : (
            <Comparison roots={roots} isSame={a === b} mayEdit={mayEdit} consent={(nadirsLps) => send([{ kind: 'consensus.set', data: { fromReadings: [a.readingId, b.readingId], nadirsLps } }], VIEWER_EN.consensus)} />
          )}
          {a.by !== b.by && <Agreement readerA={a.by} readerB={b.by} isTraining={plan.training} />}
        </>
      )}
    </details>
  );
}

function useRoots(caseId: string, a: Reading | undefined, b: Reading | undefined): readonly [RootSurvey, RootSurvey] | 'none' | null {
  const [read, setRead] = useState<readonly [RootSurvey, RootSurvey] | 'none' | null>(null);
  useEffect(() => {
    if (!a || !b) return;
    let isWanted = true;
    setRead(null);
    void Promise.all([readReading(caseId, a), readReading(caseId, b)]).then(([x, y]) => isWanted && setRead(x && y ? [x, y] : 'none'));
    return () => void (isWanted = false);
  }, [caseId, a?.readingId, b?.readingId]);
  return read;
}

function Comparison({ roots, isSame, mayEdit, consent }: { readonly roots: readonly [RootSurvey, RootSurvey]; readonly isSame: boolean; readonly mayEdit: boolean; readonly consent: (nadirs: RootSurvey['basalPlane']['nadirsLps']) => void }) {
  const compared = useMemo(() => compareReadings(...roots), [roots]);
  const nadirs = roots.map((r) => r.basalPlane.nadirsLps);
  const middle = averageNadirs(nadirs)!;
  return (
    <>
      <div class="scroll">
        <table class="marks">
          <thead><tr><th scope="col">{VIEWER_EN.quantity}</th><th scope="col">A</th><th scope="col">B</th><th scope="col">{VIEWER_EN.difference}</th><th scope="col">{VIEWER_EN.judged}</th></tr></thead>
          <tbody>
            {compared.differences.map((d) => <DifferenceRow key={d.measure} d={d} />)}
            {CUSPS.map((c) => <tr key={c}><th scope="row">{formatText(VIEWER_EN, 'marksApart', { name: nameMark(`nadir.${c}`) })}</th><td /><td /><td class="spot">{formatNumber(compared.nadirApartMm[c], 1)} mm</td><td /></tr>)}
            {(['left', 'right'] as const).map((side) => compared.ostiumApartMm[side] !== null && (
              <tr key={side}><th scope="row">{formatText(VIEWER_EN, 'marksApart', { name: nameMark(`ostium.${side}`) })}</th><td /><td /><td class="spot">{formatNumber(compared.ostiumApartMm[side]!, 1)} mm</td><td /></tr>
            ))}
            <tr><th scope="row">{VIEWER_EN.planesAngle}</th><td /><td /><td class="spot">{formatNumber(compared.planeAngleDeg, 1)}°</td><td /></tr>
          </tbody>
        </table>
      </div>
      {!isSame && (
        <p>
          {formatText(VIEWER_EN, 'consensusSay', { mm: formatNumber(farthestNadir(nadirs, middle), 1) })}{' '}
          {mayEdit && <button type="button" title={VIEWER_EN.consensusHint} onClick={() => consent({ R: roundLps(middle.R), L: roundLps(middle.L), N: roundLps(middle.N) })}>{VIEWER_EN.setConsensus}</button>}
        </p>
      )}
    </>
  );
}

function DifferenceRow({ d }: { readonly d: ReadingComparison['differences'][number] }) {
  const say = (v: number | null): string => (v === null ? '–' : formatNumber(v, digitsOf(d.measure)));
  const judged = d.isWithinDoubt === null ? VIEWER_EN.notComparable : d.isWithinDoubt ? VIEWER_EN.withinDoubt : VIEWER_EN.beyondDoubt;
  return (
    <tr>
      <th scope="row">{VIEWER_EN[d.measure]}, {UNIT_WORDS[d.unit]}</th>
      <td class="spot">{say(d.a)}</td><td class="spot">{say(d.b)}</td><td class="spot">{say(d.difference)}</td>
      <td>{d.isWithinDoubt === false ? <span class="tag">{judged}</span> : judged}</td>
    </tr>
  );
}

function Agreement({ readerA, readerB, isTraining }: { readonly readerA: string; readonly readerB: string; readonly isTraining: boolean }) {
  const [set, setSet] = useState<ReadSet | 'failed' | null>(null);
  const [progress, setProgress] = useState<readonly [number, number] | null>(null);
  const [measure, setMeasure] = useState<ReadMeasure>('perimeterMm');
  useEffect(() => setSet(null), [readerA, readerB]);
  const compute = (): void => {
    setProgress([0, 0]);
    void collectPairs(readerA, readerB, (done, total) => setProgress([done, total])).then((read) => {
      setProgress(null);
      setSet(read ?? 'failed');
    });
  };
  const agreement = set && set !== 'failed' ? measureAgreement(set.pairs[measure]) : null;
  const unit = measure === 'areaMm2' ? 'mm²' : 'mm';
  const say = (v: number): string => formatNumber(v, measure === 'areaMm2' ? 0 : 2);
  return (
    <section aria-label={VIEWER_EN.agreement}>
      <h4>{VIEWER_EN.agreement}</h4>
      <p><button type="button" disabled={progress !== null} onClick={compute}>{VIEWER_EN.agreementShow}</button> <span role="status">{progress && formatText(VIEWER_EN, 'agreementReading', { done: progress[0], total: progress[1] })}</span></p>
      {set === 'failed' && <p role="alert">{VIEWER_EN.notComparable}</p>}
      {set && set !== 'failed' && (
        <>
          <p>{formatText(VIEWER_EN, 'agreementSay', { pairs: set.cases })} {set.left > 0 && formatText(VIEWER_EN, 'agreementLeft', { left: set.left, total: set.total })}</p>
          <label class="inline">{VIEWER_EN.measure}
            <select value={measure} onChange={(e) => setMeasure(e.currentTarget.value as ReadMeasure)}>{READ_MEASURES.map((m) => <option key={m} value={m}>{VIEWER_EN[m]}</option>)}</select>
          </label>
          {agreement && !agreement.ok && <p>{agreement.failure.message} {agreement.failure.nextStep}</p>}
          {agreement?.ok && (
            <>
              <p>{formatText(VIEWER_EN, 'agreementBias', { unit, bias: say(agreement.value.bias.value), low: say(agreement.value.bias.low), high: say(agreement.value.bias.high), lower: say(agreement.value.lowerLimit.value), upper: say(agreement.value.upperLimit.value) })}</p>
              {agreement.value.slope && (agreement.value.slope.low > 0 || agreement.value.slope.high < 0) && <p><span class="tag">{formatText(VIEWER_EN, 'agreementSlope', { unit, low: formatNumber(agreement.value.slope.low, 2), high: formatNumber(agreement.value.slope.high, 2) })}</span></p>}
              <Markup className="agreement" html={drawAgreement(agreement.value, { measure: VIEWER_EN[measure], unit }, { id: 'agreement', isTraining })} />
            </>
          )}
        </>
      )}
    </section>
  );
}
