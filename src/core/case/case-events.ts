import type { CameraView } from '../projection/camera-view.ts';
import type { Tension } from '../release/release-types.ts';
import type { RoomRecord } from '../room/room-types.ts';
import type { Cusp, Xyz } from '../root/root-types.ts';
import type { IdentityCheck } from './identity-types.ts';
import type { ResultEventData } from './result-events.ts';

/**
 * What may happen to a case. A case is the ordered list of these; its state is a fold over them
 * (fold-case.ts). Nothing is ever removed or rewritten: a correction is a new event that names what it supersedes.
 * A patient's name, birth date and number stand only in `referral.entered` events of the fields `identity.*`.
 */
export interface CaseEventData extends ResultEventData {
  'case.opened': { readonly label: string; readonly procedureOn: string | null; readonly training: boolean };
  'case.dated': { readonly procedureOn: string | null };
  /** One entered item of the referral; `value` null takes it back. Units are those of referral-fields.ts. */
  'referral.entered': { readonly field: string; readonly value: string | number | boolean | null; readonly unit: string | null };
  /** A scan belongs to this case. `identity` says how the CT's patient compares with the entered one. */
  'scan.joined': { readonly scanId: string; readonly manifestSha256: string; readonly files: number; readonly bytes: number; readonly identity: IdentityCheck };
  'series.chosen': { readonly scanId: string; readonly seriesUid: string };
  /** `rescueSha256`: the hospital's own rescue cards; absent or null: the plain defaults. `rhythmSha256`: its rhythm rules; absent or null: none act, in a training case the training set. */
  'tables.chosen': { readonly devicesSha256: string | null; readonly rulesSha256: string | null; readonly rescueSha256?: string | null | undefined; readonly rhythmSha256?: string | null | undefined };
  /** A person moved a mark; `was` is what stood there (computed or edited). `lps` null gives the mark back to the tool. */
  'mark.moved': { readonly mark: MarkName; readonly lps: Xyz | null; readonly was: Xyz | null };
  /** The ring drawn by hand on the basal plane; null gives it back to the tool. */
  'ring.drawn': { readonly contourLps: readonly Xyz[] | null };
  /** `basedOnSeq` is the last event that the plan has seen. */
  'plan.made': { readonly planSha256: string; readonly surveySha256: string | null; readonly basedOnSeq: number };
  'plan.refused': { readonly code: string; readonly text: string; readonly next: string; readonly basedOnSeq: number };
  'alternative.pinned': { readonly pinId: string; readonly choice: PlannedChoice; readonly note: string };
  'alternative.unpinned': { readonly pinId: string };
  /** One reader's own marks, kept beside those of others. */
  'reading.saved': { readonly readingId: string; readonly planSha256: string; readonly landmarksSha256: string | null };
  /** The team's agreed marks after two readings; they become the case's marks. */
  'consensus.set': { readonly fromReadings: readonly string[]; readonly nadirsLps: Readonly<Record<Cusp, Xyz>> };
  'doubt.accepted': { readonly code: string; readonly section: string; readonly because: string };
  /** One entered item of the huddle; `value` null takes it back. Fields are those of huddle-fields.ts. */
  'huddle.entered': { readonly field: string; readonly value: string | number | boolean | null };
  /** What the team does if: who, with what, where it lies. Null takes it back. */
  'branch.agreed': { readonly branch: HuddleBranch; readonly plan: { readonly person: string; readonly item: string; readonly place: string } | null };
  /** Two identifiers were read from the patient and compared with the case; the values are not kept. */
  'identity.checked': { readonly verdict: 'same' | 'differs' | 'not comparable'; readonly fields: readonly { readonly field: string; readonly result: 'same' | 'differs' | 'missing' }[] };
  /** A blocker of the freeze that a person takes on themselves; for this state of the case only. */
  'blocker.overridden': { readonly code: string; readonly because: string };
  /** The team froze the plan. `amends`: the frozen document before; `differences`: field paths that are not as in it. */
  'plan.frozen': { readonly frozenSha256: string; readonly planSha256: string; readonly basedOnSeq: number; readonly amends: string | null; readonly differences: readonly string[] };
  /** An angiographic run belongs to this case. `blobSha256`: the DICOM file as it came. */
  'run.joined': { readonly runId: string; readonly blobSha256: string; readonly frames: number; readonly rows: number; readonly columns: number; readonly view: CameraView | null; readonly identity: IdentityCheck };
  /** One tap in the room. Its order is that of `happenedAt`, not of the log. */
  'room.logged': RoomRecord;
}
export type CaseEventKind = keyof CaseEventData;
export type HuddleBranch = 'moved-up' | 'moved-down' | 'leaks';
export const HUDDLE_BRANCHES: readonly HuddleBranch[] = ['moved-up', 'moved-down', 'leaks'];
export type MarkName = 'nadir.R' | 'nadir.L' | 'nadir.N' | 'ostium.left' | 'ostium.right';
export const MARK_NAMES: readonly MarkName[] = ['nadir.R', 'nadir.L', 'nadir.N', 'ostium.left', 'ostium.right'];

/** What a person chooses on the Release plan page. The size's own starts and limits come from the device table. */
export interface PlannedChoice {
  readonly device: string;
  readonly size: string;
  /** Of the inflow edge, mm below the basal plane. */
  readonly startMm: number;
  readonly paceBpm: number;
  readonly isPredilated: boolean;
  readonly tension: Tension;
  readonly wireBiasMm: number;
}

/** One stored event. `sha256` is over the canonical JSON (RFC 8785) of all other fields. */
export interface CaseEvent<K extends CaseEventKind = CaseEventKind> {
  readonly caseId: string;
  /** From 1, without gaps. */
  readonly seq: number;
  /** UTC, ISO 8601 with milliseconds; the server's clock, never before the event in front of it. */
  readonly at: string;
  /** Who did it: the person's id, or `trinadir` for what a computation found. */
  readonly by: string;
  readonly kind: K;
  readonly data: CaseEventData[K];
  readonly supersedes: number | null;
  readonly prevSha256: string;
  readonly sha256: string;
}

/** An event as a person or a job hands it in. */
export type NewCaseEvent = { readonly [K in CaseEventKind]: { readonly kind: K; readonly data: CaseEventData[K]; readonly supersedes?: number | null | undefined } }[CaseEventKind];
