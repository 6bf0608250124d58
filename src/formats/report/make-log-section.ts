import type { Attempt } from '../../core/room/room-state.ts';
import { listSteps, type LogDocument, type LogRow } from '../../core/room/log-document.ts';
import { computeRoomTimers, type TotalOf } from '../../core/room/room-timers.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { LOG_EN } from '../../core/text/log-en.ts';
import { ROOM_EN } from '../../core/text/room-en.ts';
import { readInstantMs } from '../../core/units/iso-time.ts';
import { drawNote } from './draw-doubts.ts';
import { escapeText } from './escape-text.ts';
import { formatNumber } from './format-number.ts';

/** Within this a person reads the same second. */
const WIDE_MS = 1000;
const MOST_NUMBERS = 12;

/** The log for paper, as HTML: what it is of, what it lacks, steps, totals, attempts, and every record. */
export function makeLogSection(log: LogDocument): { readonly title: string; readonly about: string; readonly doubt: string; readonly tables: string } {
  const about = [
    formatText(LOG_EN, 'about', { label: log.label, count: log.rows.length, at: formatDay(log.asOf), by: log.madeBy }),
    log.frozenSha256 === null ? LOG_EN.planNone : formatText(LOG_EN, 'planFrozen', { code: log.frozenSha256 }),
    formatText(LOG_EN, 'chain', { seq: log.lastSeq, sha256: log.lastSha256 }), LOG_EN.footNext,
  ];
  const tables = log.rows.length === 0 ? `<p>${escapeText(LOG_EN.empty)}</p>` : drawSteps(log) + drawTotals(log) + drawAttempts(log) + drawVerdicts(log) + drawRecords(log);
  return { title: LOG_EN.title, about: about.map((line) => `<p>${escapeText(line)}</p>`).join(''), doubt: listDoubts(log).join(''), tables };
}

/** '2026-03-02 09:12:03' */
const formatDay = (at: string): string => `${at.slice(0, 10)} ${at.slice(11, 19)}`;
const formatTime = (at: string): string => at.slice(11, 19);

function listDoubts({ rows, room }: LogDocument): readonly string[] {
  const never = rows.filter((r) => r.record.offset === null).length;
  const wide = rows.flatMap((r) => (r.record.offset !== null && r.record.offset.withinMs > WIDE_MS ? [r.record.offset.withinMs] : []));
  return [
    ...room.holes.map(({ missing }) => drawNote('log-hole', '', formatText(LOG_EN, 'missing', { count: missing.length, numbers: missing.slice(0, MOST_NUMBERS).join(', ') + (missing.length > MOST_NUMBERS ? ', …' : '') }))),
    ...(never > 0 ? [drawNote('clock-never', '', formatText(LOG_EN, 'clockNever', { count: never }))] : []),
    ...(wide.length > 0 ? [drawNote('clock-wide', '', formatText(LOG_EN, 'clockWide', { count: wide.length, s: formatNumber(Math.max(...wide) / 1000, 0) }))] : []),
    ...room.clocks.map(({ name, aheadS, at }) => drawNote('clock-other', '', formatText(LOG_EN, 'clockOther', { name: ROOM_EN[`clockName-${name}`], s: formatNumber(Math.abs(aheadS), 0), way: LOG_EN[aheadS < 0 ? 'behind' : 'ahead'], at: formatTime(at) }))),
  ];
}

function drawTable(kind: string, caption: string, head: readonly string[], rows: readonly (readonly string[])[]): string {
  if (rows.length === 0) return '';
  const cells = (tag: string, row: readonly string[]): string => `<tr>${row.map((cell) => `<${tag}>${escapeText(cell)}</${tag}>`).join('')}</tr>`;
  return `<table class="${kind}"><caption>${escapeText(caption)}</caption><thead>${cells('th', head)}</thead><tbody>${rows.map((row) => cells('td', row)).join('')}</tbody></table>`;
}

const drawSteps = (log: LogDocument): string =>
  drawTable('steps', LOG_EN.steps, [LOG_EN.columnTime, LOG_EN.columnWhat], listSteps(log.rows).map(({ phase, at }) => [formatTime(at), ROOM_EN[`phase-${phase}`]]));

function drawTotals({ room, frozen, asOf }: LogDocument): string {
  const timers = computeRoomTimers(room, frozen, readInstantMs(asOf));
  const { pacing, heparin, act } = timers;
  const limitOf = (limit: number | null, unit: string, isUnverified: boolean, isBroken: string): string =>
    limit === null ? LOG_EN.noLimit : [`${formatNumber(limit, 1)} ${unit}`, isUnverified ? LOG_EN.unverified : '', isBroken].filter((part) => part !== '').join(', ');
  const total = (name: string, of: TotalOf): readonly string[] => {
    const unit = of.unit === 'Gy.cm2' ? 'Gy·cm²' : of.unit;
    return [name, of.value === null ? LOG_EN.none : `${formatNumber(of.value, 1)} ${unit}`, limitOf(of.limit, unit, of.isUnverified, of.state === 'past' ? LOG_EN.past : '')];
  };
  return drawTable('totals', LOG_EN.totals, [LOG_EN.columnWhat, LOG_EN.columnValue, LOG_EN.columnLimit], [
    [LOG_EN.pacing, pacing ? formatText(LOG_EN, 'pacingRuns', { s: formatNumber(pacing.onTotalS, 0), runs: pacing.runs }) : LOG_EN.none, LOG_EN.noLimit],
    [LOG_EN.heparin, heparin ? formatText(LOG_EN, 'units', { units: formatNumber(heparin.totalUnits, 0) }) : LOG_EN.none, LOG_EN.noLimit],
    [LOG_EN.act, act ? formatText(LOG_EN, 'seconds', { s: formatNumber(act.seconds, 0) }) : LOG_EN.none, limitOf(act?.leastS ?? frozen?.limits.actLeastS?.value ?? null, 's', act?.isUnverified ?? false, act?.isBelow ? LOG_EN.below : '')],
    total(LOG_EN.contrast, timers.contrast), total(LOG_EN.airKerma, timers.airKerma), total(LOG_EN.doseArea, timers.doseArea), total(LOG_EN.fluoroscopy, timers.fluoroscopy),
    [LOG_EN.recaptures, String(room.recaptures), frozen?.limits.recaptureAttempts ? formatNumber(frozen.limits.recaptureAttempts.value, 0) : LOG_EN.noLimit],
  ]);
}

function drawAttempts({ room }: LogDocument): string {
  const depth = (read: Attempt['start']): string =>
    read ? formatText(LOG_EN, 'mm', { low: formatNumber(read.reading.lowMm, 1), high: formatNumber(read.reading.highMm, 1), mid: formatNumber(read.reading.depthMm, 1) }) : LOG_EN.none;
  const moved = ({ moved: m }: Attempt): string => (m === null ? LOG_EN.none : m.mm === null ? LOG_EN[m.direction] : formatText(LOG_EN, 'movedBy', { way: LOG_EN[m.direction], mm: formatNumber(m.mm, 1) }));
  const ended = ({ endedBy, endedAt }: Attempt): string => (endedBy === null ? LOG_EN.running : formatText(LOG_EN, endedBy, { at: formatTime(endedAt!) }));
  return drawTable('attempts', LOG_EN.attempts, [LOG_EN.columnAttempt, LOG_EN.columnBegan, LOG_EN.columnStart, LOG_EN.columnLast, LOG_EN.columnMoved, LOG_EN.columnPaced, LOG_EN.columnEnded],
    room.attempts.map((a) => [String(a.number), formatTime(a.beganAt), depth(a.start), depth(a.last), moved(a), a.wasPaced === null ? LOG_EN.notKnown : LOG_EN[a.wasPaced ? 'yes' : 'no'], ended(a)]));
}

/** Each verdict that still counts; what a remedy's row said in full is in the table and FHIR exports. */
function drawVerdicts({ rows, room }: LogDocument): string {
  const said = rows.flatMap(({ record: { entry, standing }, at }) => (entry?.is === 'verdict' && standing === 'current' ? [{ entry, at }] : []));
  return drawTable('verdicts', LOG_EN.verdicts, [LOG_EN.columnTime, LOG_EN.columnVerdict, LOG_EN.columnRemedies, LOG_EN.columnNext], said.map(({ entry, at }) => {
    const voidBy = room.verdict?.at === at ? room.verdict.voidBy : null;
    return [
      formatTime(at), voidBy ? `${entry.word} (${formatText(LOG_EN, 'verdictVoid', { at: formatTime(voidBy.at) })})` : entry.word,
      entry.remedies.map((r) => formatText(LOG_EN, 'remedyState', { name: ROOM_EN[`remedy-${r.code}`], state: r.state })).join(', ') || LOG_EN.none, entry.next || LOG_EN.none,
    ];
  }));
}

function drawRecords({ rows }: LogDocument): string {
  const what = ({ record, words }: LogRow): string => {
    if (record.entry === null) return LOG_EN.takesBack;
    const note = record.standing === 'superseded' ? LOG_EN.replaced : record.standing === 'taken back' ? LOG_EN.takenBack : record.corrects === null ? '' : LOG_EN.corrected;
    return note === '' ? words : `${words} (${note})`;
  };
  return drawTable('records', LOG_EN.records, [LOG_EN.columnTime, LOG_EN.columnWhat, LOG_EN.columnWho, LOG_EN.columnPlace, LOG_EN.columnNumber],
    rows.map((row) => [formatTime(row.at), what(row), row.whoLogged, ROOM_EN[`place-${row.record.place}`], String(row.record.seq)]));
}
