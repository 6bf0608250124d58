import { nameView } from '../projection/camera-view.ts';
import { formatText } from '../text/catalogue.ts';
import { FREEZE_EN } from '../text/freeze-en.ts';
import { ROOM_EN } from '../text/room-en.ts';
import { WITNESS_KINDS } from '../verdict/verdict-types.ts';
import { showNumber } from '../verdict/make-reason.ts';
import type { RoomEntry } from './room-types.ts';

/** A number as a person writes it: at most one decimal. */
const brief = (value: number): string => String(Math.round(value * 10) / 10 + 0);

/** One entry in one line of words, for the log of the room and its exports. `card`: titles of rescue cards by their id. */
export function describeEntry(entry: RoomEntry, nameCard: (id: string) => string = (id) => id): string {
  switch (entry.is) {
    case 'phase': return formatText(ROOM_EN, 'says-phase', { phase: ROOM_EN[`phase-${entry.phase}`] });
    case 'pacing':
      if (!entry.isOn) return ROOM_EN['says-pacing-off'];
      return entry.ratePerMin === null ? ROOM_EN['says-pacing-on'] : formatText(ROOM_EN, 'says-pacing-rate', { rate: brief(entry.ratePerMin) });
    case 'view': return formatText(ROOM_EN, 'says-view', { view: nameView(entry.view) });
    case 'depth': {
      const { depthMm, lowMm, highMm, views } = entry.reading;
      return formatText(ROOM_EN, 'says-depth', { depth: brief(depthMm), low: brief(lowMm), high: brief(highMm), view: views.map(nameView).join(' + ') });
    }
    case 'fraction': return entry.ratio === null ? ROOM_EN['says-fraction-none'] : formatText(ROOM_EN, 'says-fraction', { share: entry.ratio.toFixed(2) });
    case 'hold': return formatText(ROOM_EN, 'says-hold', { hold: entry.hold, answer: ROOM_EN[`answer-${entry.answer}`], who: entry.who });
    case 'moved': {
      const moved = ROOM_EN[`says-moved-${entry.direction}`];
      return entry.mm === null ? moved : formatText(ROOM_EN, 'says-moved-mm', { moved, mm: brief(entry.mm) });
    }
    case 'recaptured': return ROOM_EN[entry.isWhole ? 'says-recaptured-whole' : 'says-recaptured-part'];
    case 'valve-out':
      if (entry.inspected && entry.replaced) return ROOM_EN['says-valve-both'];
      return ROOM_EN[entry.replaced ? 'says-valve-replaced' : entry.inspected ? 'says-valve-inspected' : 'says-valve-out'];
    case 'kit': return formatText(ROOM_EN, entry.isReady ? 'says-kit-ready' : 'says-kit-not', { item: FREEZE_EN[`slot-${entry.item}` as keyof typeof FREEZE_EN] ?? entry.item });
    case 'wire': {
      const wire = ROOM_EN[`says-wire-${entry.did}`];
      return entry.side === null ? wire : formatText(ROOM_EN, 'says-wire-side', { wire, side: ROOM_EN[`side-${entry.side}`] });
    }
    case 'tension': return ROOM_EN[`says-tension-${entry.tension}`];
    case 'dilated': {
      const dilated = ROOM_EN[`says-dilated-${entry.when}`];
      return entry.balloonMm === null ? dilated : formatText(ROOM_EN, 'says-dilated-mm', { dilated, mm: brief(entry.balloonMm) });
    }
    case 'heparin': return formatText(ROOM_EN, 'says-heparin', { units: brief(entry.units) });
    case 'act': return formatText(ROOM_EN, 'says-act', { seconds: brief(entry.seconds) });
    case 'contrast': return formatText(ROOM_EN, 'says-contrast', { ml: brief(entry.ml) });
    case 'radiation': return formatText(ROOM_EN, 'says-radiation', { parts: describeRadiation(entry) });
    case 'pressure': {
      const end = entry.endDiastolicMmHg === null ? '' : formatText(ROOM_EN, 'says-pressure-end', { end: brief(entry.endDiastolicMmHg) });
      const rate = entry.heartRatePerMin === null ? '' : formatText(ROOM_EN, 'says-pressure-rate', { rate: brief(entry.heartRatePerMin) });
      return formatText(ROOM_EN, 'says-pressure', { systolic: brief(entry.systolicMmHg), diastolic: brief(entry.diastolicMmHg) }) + end + rate;
    }
    case 'rescue': {
      const card = nameCard(entry.card);
      if (entry.did === 'opened' || entry.did === 'closed') return formatText(ROOM_EN, `says-rescue-${entry.did}`, { card });
      return formatText(ROOM_EN, `says-rescue-${entry.did}`, { card, line: (entry.line ?? 0) + 1 });
    }
    case 'causes': {
      const causes = entry.closedAs.length === 0 ? ROOM_EN['says-causes-none'] : entry.closedAs.map((c) => ROOM_EN[`cause-${c}`]).join(', ');
      return formatText(ROOM_EN, 'says-causes', { causes, who: entry.who });
    }
    case 'clock': return formatText(ROOM_EN, 'says-clock', { name: ROOM_EN[`clockName-${entry.name}`], s: Math.round(Math.abs(entry.aheadS)), ahead: ROOM_EN[entry.aheadS < 0 ? 'clock-behind' : 'clock-ahead'] });
    case 'show': return entry.card === null ? ROOM_EN['says-show-own'] : formatText(ROOM_EN, 'says-show', { card: ROOM_EN[`card-${entry.card}`] });
    case 'screen': return formatText(ROOM_EN, 'says-screen', { wall: entry.wall, mm: brief(entry.barMm) });
    case 'verdict': return describeVerdictEntry(entry);
    case 'note': return formatText(ROOM_EN, 'says-note', { text: entry.text });
  }
}

function describeRadiation(entry: Extract<RoomEntry, { is: 'radiation' }>): string {
  const parts = [
    entry.airKermaMGy === null ? '' : formatText(ROOM_EN, 'says-air-kerma', { value: brief(entry.airKermaMGy) }),
    entry.doseAreaGyCm2 === null ? '' : formatText(ROOM_EN, 'says-dose-area', { value: brief(entry.doseAreaGyCm2) }),
    entry.fluoroscopyMin === null ? '' : formatText(ROOM_EN, 'says-fluoroscopy', { value: brief(entry.fluoroscopyMin) }),
  ].filter((part) => part !== '');
  return parts.length === 0 ? ROOM_EN['says-nothing-read'] : parts.join(', ');
}

/** The word with its side, and all three witnesses: what may not speak and what is missing is said too. */
function describeVerdictEntry({ word, side, witnesses }: Extract<RoomEntry, { is: 'verdict' }>): string {
  const said = WITNESS_KINDS.map((code) => {
    const [kind, found] = [ROOM_EN[`witness-${code}`], witnesses.find((w) => w.kind === code)];
    if (!found) return formatText(ROOM_EN, 'says-witness-none', { kind });
    const { low, high } = found;
    if (low === null || high === null) return formatText(ROOM_EN, 'says-witness-silent', { kind });
    return low === high ? formatText(ROOM_EN, 'says-witness-one', { kind, grade: showNumber(low) }) : formatText(ROOM_EN, 'says-witness', { kind, low: showNumber(low), high: showNumber(high) });
  });
  return formatText(ROOM_EN, 'says-verdict', { word: side === null ? word : formatText(ROOM_EN, `says-verdict-${side}`, { word }), witnesses: said.join(', ') });
}
