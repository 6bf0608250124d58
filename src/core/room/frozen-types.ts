import type { HuddleBranch, PlannedChoice } from '../case/case-events.ts';
import type { Plan } from '../case/plan-types.ts';
import type { Device, Rule } from '../device/device-types.ts';

/**
 * What the team froze at the huddle, in one document: everything the room needs without the server. Kept as canonical JSON
 * (RFC 8785); its SHA-256 is what wall, log and report refer to. No name, birth date or number of a patient stands in it.
 */
export interface FrozenDocument {
  readonly format: 'trinadir.frozen/1';
  readonly caseId: string;
  readonly label: string;
  readonly training: boolean;
  /** What the colleague who froze it is called. */
  readonly frozenBy: string;
  readonly frozenAt: string;
  /** SHA-256 of the frozen document before, and the field paths that are not as in it. */
  readonly amends: string | null;
  readonly differences: readonly string[];
  /** The plan as it was made and stored. */
  readonly planSha256: string;
  /**
   * That plan, but `landing` is the window of the chosen frame with the start and stop that the team agreed, and `release`
   * the forecast of the chosen release (absent when there is none): nothing of another size reaches the room.
   */
  readonly plan: Plan;
  /** The valve that goes in and how its release begins. */
  readonly choice: PlannedChoice;
  /** The chosen device with all its sizes, from the signed table. */
  readonly device: Device;
  /** Entries of the huddle by their ids (huddle-fields.ts); what lies in the room is read by listKit (list-kit.ts). */
  readonly huddle: Readonly<Record<string, string | number | boolean>>;
  readonly branches: Readonly<Partial<Record<HuddleBranch, { readonly person: string; readonly item: string; readonly place: string }>>>;
  readonly acceptedDoubts: readonly { readonly section: string; readonly code: string; readonly because: string; readonly by: string }[];
  readonly overrides: readonly { readonly code: string; readonly because: string; readonly by: string }[];
  readonly identityCheckedAt: string;
  readonly limits: RoomLimits;
  readonly rescue: RescueCards;
}

/** Limits of the room from the signed rules; null: the rule set does not hold it, so nothing is said against it. */
export interface RoomLimits {
  /** A depth older than this is grey; older than `depthGoneS` it is no answer any more. */
  readonly depthOldS: Rule | null;
  readonly depthGoneS: Rule | null;
  /** How long the frame is left to expand before it is judged. */
  readonly expansionWaitS: Rule | null;
  readonly contrastMostMl: Rule | null;
  readonly airKermaMostMGy: Rule | null;
  readonly doseAreaMostGyCm2: Rule | null;
  readonly actLeastS: Rule | null;
  readonly recaptureAttempts: Rule | null;
  /** From this many recaptures on the valve is taken out and looked at; from `replaceAfter` on it is replaced. */
  readonly inspectAfter: Rule | null;
  readonly replaceAfter: Rule | null;
}

/** The hospital's rescue cards: one action a line. */
export interface RescueCards {
  readonly format: 'trinadir.rescue/1';
  readonly hospital: string;
  /** Empty: the plain defaults, marked "common practice, adapt". */
  readonly signedBy: string;
  readonly signedAt: string;
  readonly signedSha256?: string | undefined;
  readonly isDefault: boolean;
  readonly cards: readonly { readonly id: string; readonly title: string; readonly lines: readonly string[] }[];
}
