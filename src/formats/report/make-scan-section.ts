import type { Plan } from '../../core/case/plan-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { collectDoubts, drawDoubts, drawNote, nextOfDoubt } from './draw-doubts.ts';
import { drawList, type PageSection } from './draw-section.ts';
import { drawFactTable } from './draw-tables.ts';
import { escapeText } from './escape-text.ts';
import { formatNumber } from './format-number.ts';
import { listPlanFacts } from './list-plan-facts.ts';

const VERDICTS = { fit: 'scanFit', 'fit with doubt': 'scanFitWithDoubt', 'not fit': 'scanNotFit' } as const;

/** The page that answers: can the root be measured on this scan? */
export function makeScanSection(plan: Plan): PageSection {
  const { scan } = plan;
  const facts = listPlanFacts(plan).filter((f) => f.path.startsWith('scan.'));
  const messages = plan.messages.filter((m) => m.section === 'scan');
  const notes = scan.findings.filter((f) => f.severity === 'note');
  const doubts = scan.findings.filter((f) => f.severity !== 'note');
  const factDoubts = collectDoubts(facts);
  const [x, y, z] = scan.spacingMm.map((mm) => formatNumber(mm, 2));
  const grid = [
    formatText(REPORT_EN, 'scanGrid', { slices: scan.slices, columns: scan.columns, rows: scan.rows }),
    formatText(REPORT_EN, 'scanVoxel', { x: x ?? '', y: y ?? '', z: z ?? '' }),
    scan.phasePercent === null ? REPORT_EN.scanPhaseUnknown : formatText(REPORT_EN, 'scanPhase', { percent: formatNumber(scan.phasePercent, 0) }),
    ...notes.map((f) => f.text),
  ];
  const hasDoubt = doubts.length + factDoubts.length + messages.length > 0;
  const nexts = [...doubts.map((f) => f.next), ...factDoubts.map(nextOfDoubt), ...messages.map((m) => m.next)];
  return {
    id: 'scan',
    title: REPORT_EN.sectionScan,
    answer: `<p class="say">${escapeText(REPORT_EN[VERDICTS[scan.verdict] ?? 'scanNotFit'])}</p>`,
    why: drawFactTable(REPORT_EN.scanFacts, facts) + drawList('plain', grid),
    doubt: hasDoubt
      ? doubts.map((f) => drawNote(f.code, REPORT_EN.doubtful, f.text)).join('') + drawDoubts(factDoubts) + messages.map((m) => drawNote(m.code, '', m.text)).join('')
      : `<p>${escapeText(REPORT_EN.scanNoDoubt)}</p>`,
    next: nexts.length > 0 ? drawList('acts', nexts) : `<p>${escapeText(REPORT_EN.nextNothing)}</p>`,
  };
}
