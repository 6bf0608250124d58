import type { EchoAnswer } from '../../core/echo/echo-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import { isAnswered } from '../../formats/report/format-number.ts';
import { FactRows, type FactRow } from './fact-rows.tsx';

const name = RESULT_PAGE_EN;

/** What follows from the entries, each with its band; the leak's numbers only when the reader may see them. */
export function EchoDerived({ answer, canSeeLeak }: { readonly answer: EchoAnswer; readonly canSeeLeak: boolean }) {
  const { valve, flow, leak, body } = answer;
  const tables: readonly (readonly [string, readonly FactRow[]])[] = [
    [name.tableEchoValve, [
      { name: name.peakVelocity, fact: valve.peakVelocity }, { name: name.gradientMean, fact: valve.meanGradient }, { name: name.gradientPeakEcho, fact: valve.peakGradient },
      { name: name.index, fact: valve.index }, { name: name.velocityRatio, fact: valve.velocityRatio }, { name: name.area, fact: valve.area }, { name: name.areaIndexed, fact: valve.areaIndexed }, { name: name.recovered, fact: valve.recoveredGradient },
    ]],
    [name.tableEchoFlow, [{ name: name.stroke, fact: flow.stroke }, { name: name.strokeIndexed, fact: flow.strokeIndexed }, { name: name.heartRate, fact: flow.heartRate }, { name: name.bodySurface, fact: body.surface }, { name: name.massIndex, fact: body.massIndex }]],
    ...(canSeeLeak ? [[name.tableEchoLeak, [
      { name: name.circumference, fact: leak.circumference }, { name: name.regurgitantVolume, fact: leak['regurgitant-volume'] }, { name: name.regurgitantFraction, fact: leak['regurgitant-fraction'] }, { name: name.regurgitantOrifice, fact: leak['regurgitant-orifice'] },
      { name: name.venaContracta, fact: leak['vena-contracta'] }, { name: name.halfTime, fact: leak['pressure-half-time'] },
    ]] as const] : []),
  ];
  // What nobody entered is told once, not row by row: the form above shows it.
  const some = tables.map(([caption, rows]) => [caption, rows.filter((r) => isAnswered(r.fact))] as const).filter(([, rows]) => rows.length > 0);
  const open = tables.flatMap(([, rows]) => rows.filter((r) => !isAnswered(r.fact)).map((r) => r.name.toLowerCase()));
  return (
    <>
      {some.length > 0 && <div class="tables">{some.map(([caption, rows]) => <FactRows key={caption} caption={caption} rows={rows} />)}</div>}
      {answer.mismatch.from !== 'cannot say' && <p>{formatText(name, answer.mismatch.from === answer.mismatch.to ? 'mismatchOne' : 'mismatch', { from: answer.mismatch.from, to: answer.mismatch.to })} <span class="soft">{answer.mismatch.method}</span></p>}
      {open.length > 0 && <p class="soft">{formatText(name, 'derivedOpen', { list: open.join(', ') })}</p>}
    </>
  );
}
