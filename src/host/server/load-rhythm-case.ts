import type { CaseState } from '../../core/case/fold-case.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { succeed, type Result } from '../../core/result.ts';
import type { RhythmSources } from '../../core/rhythm-case/assemble-rhythm.ts';
import type { EcgReading } from '../../core/rhythm/ecg-types.ts';
import { ECG_MOMENTS, type EcgMoment, type RhythmRules } from '../../core/rhythm/rhythm-types.ts';
import { TRAINING_RHYTHM_RULES } from '../../core/rhythm/training-rhythm-rules.ts';
import { foldRoom } from '../../core/room/fold-room.ts';
import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import { readChosen } from '../../core/room/read-chosen.ts';
import type { VerdictSource } from './load-verdict-case.ts';

/** What was measured in an ECG record, as a document of the case. */
export interface EcgDocument {
  readonly format: 'trinadir.ecg/1';
  readonly reading: EcgReading;
}

/**
 * A case with everything that the Rhythm page reads. While the patient in the room may be another than the frozen one, no
 * plan is read; a reading that is not there any more is named by the page.
 * Fails     as the documents, but for readings
 */
export async function loadRhythmCase({ state, records, readDocument }: VerdictSource, now: string): Promise<Result<RhythmSources, string>> {
  const read = async <T>(sha256: string | null | undefined): Promise<Result<T | null, string>> => {
    if (sha256 === null || sha256 === undefined) return succeed(null);
    const text = await readDocument(sha256);
    return text.ok ? succeed(JSON.parse(text.value) as T) : text;
  };
  const isOfAnother = state.frozen?.isOfAnother === true;
  const frozen = await read<FrozenDocument>(isOfAnother ? null : state.frozen?.frozenSha256);
  if (!frozen.ok) return frozen;
  const plan = frozen.value ? succeed(frozen.value.plan) : await read<Plan>(isOfAnother ? null : state.plan?.planSha256);
  if (!plan.ok) return plan;
  const rules = await read<RhythmRules>(state.tables.rhythmSha256);
  if (!rules.ok) return rules;
  const readings: Partial<Record<EcgMoment, EcgReading>> = {};
  for (const moment of ECG_MOMENTS) {
    const document = await read<EcgDocument>(state.result.ecgs[moment]?.joined?.readingSha256);
    if (document.ok && document.value) readings[moment] = document.value.reading;
  }
  return succeed({
    state, readings, plan: plan.value, chosen: findChosen(state, frozen.value, plan.value), room: foldRoom(records),
    // Without rules of its own a training case acts by the training set, and no other case by any.
    rules: rules.value ?? (state.training ? TRAINING_RHYTHM_RULES : null), now,
  });
}

function findChosen(state: CaseState, frozen: FrozenDocument | null, plan: Plan | null): RhythmSources['chosen'] {
  if (!frozen) return plan && readChosen(state, plan);
  const size = frozen.device.sizes.find((s) => s.label === frozen.choice.size);
  return size ? { device: frozen.device, size } : null;
}
