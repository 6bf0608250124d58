/**
 * User-visible words live in catalogues, so that another language can follow: one file per part and language,
 * src/core/text/<part>-en.ts, holding `export const <PART>_EN = makeCatalogue({ key: 'Text with {holes}.' })`.
 * A second language is an object of type Translation<typeof PART_EN>. Units are part of the text, numbers are not.
 */
type HolesOf<Text extends string> = Text extends `${string}{${infer Hole}}${infer Rest}` ? Hole | HolesOf<Rest> : never;
type Values<Text extends string> = [HolesOf<Text>] extends [never]
  ? []
  : [values: Readonly<Record<HolesOf<Text>, string | number>>];
export type Catalogue = Readonly<Record<string, string>>;
/** Same keys in another language. */
export type Translation<C extends Catalogue> = Readonly<Record<keyof C, string>>;

/** Keeps each text as its own type, so that a wrong key or a forgotten value does not compile. */
export function makeCatalogue<const C extends Catalogue>(texts: C): C {
  return texts;
}

/** The text of `key` with its {holes} filled. A hole without a value stays visible. */
export function formatText<const C extends Catalogue, K extends keyof C & string>(
  catalogue: C,
  key: K,
  ...values: Values<C[K]>
): string {
  const filled: Readonly<Record<string, string | number>> = values[0] ?? {};
  return catalogue[key]!.replace(/\{(\w+)\}/g, (hole, name: string) => String(filled[name] ?? hole));
}
