import { useEffect, useState } from 'preact/hooks';
import { formatText } from '../../core/text/catalogue.ts';
import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
import { formatNumber } from '../../formats/report/format-number.ts';
import { Field } from '../parts/field.tsx';
import { readView, ViewFields, writeView } from './entered-depth.tsx';
import { readNumber } from './read-number.ts';
import type { Geometry } from './shot.ts';
import { readGeometry, type Slot } from './slots.ts';

const NUMBERS = [
  { key: 'sourceToImageMm', label: 'sourceToImage', low: 300, high: 2000, unit: 'mm' },
  { key: 'sourceToPatientMm', label: 'sourceToPatient', low: 200, high: 1800, unit: 'mm' },
  { key: 'pixelMm', label: 'pixel', low: 0.01, high: 2, unit: 'mm' },
  { key: 'knownMm', label: 'known', low: 0.5, high: 60, unit: 'mm' },
] as const;

/** Angle and scale of a view: what the run says, to be corrected or filled in. An empty field goes back to the run's own. */
export function GeometryFields({ slot, mmPerPx, isOpen, onSlot }: { readonly slot: Slot; readonly mmPerPx: number | null; readonly isOpen: boolean; readonly onSlot: (slot: Slot) => void }) {
  const geometry = readGeometry(slot);
  const runId = slot.run?.runId ?? '';
  const enter = (part: Partial<Geometry>): void => onSlot({ ...slot, entered: { ...slot.entered, ...part } });
  const [angle, setAngle] = useState(() => writeView(geometry.view));
  useEffect(() => setAngle(writeView(geometry.view)), [runId]);
  return (
    <details class="geometry" open={isOpen}>
      <summary>{DEPTH_PAGE_EN.geometry}{mmPerPx === null ? '' : `: ${formatText(DEPTH_PAGE_EN, 'scaleIs', { mm: formatNumber(mmPerPx, 3) })}`}</summary>
      {slot.run && <p class="soft">{DEPTH_PAGE_EN.geometrySay}</p>}
      <div class="grid">
        <ViewFields text={angle} isAsked={false} onText={(text) => { setAngle(text); const view = readView(text); if (view) enter({ view }); }} />
        {NUMBERS.map(({ key, label, low, high, unit }) => (
          <NumberField
            key={`${runId} ${key}`} name={key} label={DEPTH_PAGE_EN[label]} unit={DEPTH_PAGE_EN[unit]} low={low} high={high} value={geometry[key]}
            {...(key === 'knownMm' ? { help: DEPTH_PAGE_EN.knownHelp } : {})} onValue={(value) => enter(key === 'pixelMm' && value !== null ? { pixelMm: value, pixelAt: 'detector' } : { [key]: value })}
          />
        ))}
        {slot.run === null && (['columns', 'rows'] as const).map((key) => (
          <NumberField key={key} name={key} label={DEPTH_PAGE_EN[key]} unit="" low={64} high={8192} value={slot.size[key]} onValue={(value) => value !== null && onSlot({ ...slot, size: { ...slot.size, [key]: Math.round(value) } })} />
        ))}
      </div>
    </details>
  );
}

interface NumberFieldProps {
  readonly name: string;
  readonly label: string;
  readonly unit: string;
  readonly help?: string;
  readonly low: number;
  readonly high: number;
  readonly value: number | null;
  readonly onValue: (value: number | null) => void;
}
function NumberField({ name, label, unit, help, low, high, value, onValue }: NumberFieldProps) {
  const [text, setText] = useState(value === null ? '' : String(value));
  const read = readNumber(text, low, high);
  const isWrong = text.trim() !== '' && read === null;
  const put = (next: string): void => {
    setText(next);
    const number = readNumber(next, low, high);
    if (number !== null || next.trim() === '') onValue(number);
  };
  return (
    <Field label={label} unit={unit} help={help} problem={isWrong ? formatText(DEPTH_PAGE_EN, 'numberNeeded', { low, high }) : undefined}>
      {(p) => <input {...p} class="short" name={name} inputMode="decimal" value={text} onInput={(e) => put(e.currentTarget.value)} />}
    </Field>
  );
}
