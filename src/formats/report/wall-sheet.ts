/** What a wall board says, in words and marks, before it is laid out. At most seven items stand on a card. */
export interface WallSheet {
  /** Which card it is: for tests and the print. */
  readonly name: string;
  readonly head: { readonly code: string; readonly label: string; readonly newest: string; readonly clock: string };
  readonly card: CardWords;
  readonly strip: readonly StripWords[];
  /** The most urgent first; all of them stand in one row as far as it holds them. */
  readonly warnings: readonly string[];
  readonly training: boolean;
  readonly hasUnverified: boolean;
}
/** A pattern beside the word that says the same: doubt is hatched, a stop has a solid bar, old is dotted. */
export type WallMark = 'plain' | 'doubt' | 'stop' | 'old';
export interface CardWords {
  readonly title: string;
  /** How the card came here when the phase did not choose it; beside the title. */
  readonly because: string;
  /** At most two rows of at most four signs each, 38 mm and more. */
  readonly answer: readonly AnswerWords[];
  /** One or two words in letters between answer and text. */
  readonly word: string;
  readonly lines: readonly LineWords[];
  /** What one named person answers aloud. */
  readonly question: string;
  readonly mark: WallMark;
  readonly ruler: RulerWords | null;
  /** The witnesses of a verdict; then answer and word stand on one row above them. */
  readonly bars?: BarsWords | undefined;
  /** Rows of equal rank in a fixed order, each with a state. */
  readonly blocks?: readonly BlockWords[] | undefined;
}
/** Intervals on one scale; `low` null: no interval, and `says` stands in its place. */
export interface BarsWords {
  readonly from: number;
  readonly to: number;
  readonly fromText: string;
  readonly toText: string;
  readonly rows: readonly { readonly label: string; readonly low: number | null; readonly high: number | null; readonly says: string; readonly isOld: boolean }[];
}
export interface BlockWords {
  readonly text: string;
  readonly state: string;
  readonly mark: 'open' | 'stop' | 'doubt';
  /** Sentences that may stand without those that follow; as many as have room. */
  readonly pieces: readonly string[];
}
export interface AnswerWords {
  /** Before the signs, in letters of the word's size: LAO, CRA. */
  readonly lead: string;
  readonly glyphs: string;
  /** Beside them, in letters of the text's size. */
  readonly unit: string;
}
export interface LineWords {
  readonly text: string;
  readonly mark: WallMark;
  readonly box?: 'open' | 'ticked' | undefined;
  /** Sentences of which the first may stand without those that follow; `text` is said where not even the first has room. */
  readonly pieces?: readonly string[] | undefined;
  /** The second column of a table row. */
  readonly end?: string | undefined;
}
export interface StripWords {
  readonly label: string;
  /** In letters between answer and text. */
  readonly value: string;
  readonly note: string;
  readonly mark: WallMark;
}
/** The depth ruler: mm below the basal plane, + toward the ventricle (down). */
export interface RulerWords {
  readonly fromMm: number;
  readonly toMm: number;
  readonly marks: readonly { readonly is: 'plane' | 'start' | 'aim' | 'stop' | 'empty'; readonly mm: number; readonly text: string }[];
  readonly aim: readonly [number, number] | null;
  readonly stopMm: number | null;
  readonly now: { readonly mm: number; readonly lowMm: number; readonly highMm: number; readonly isOld: boolean } | null;
  readonly gap: readonly [number, number] | null;
}
