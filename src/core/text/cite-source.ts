/** A source as people read it: references to the list of checks are for its keepers. */
export const citeSource = (source: string): string => source.replace(/ \(checks [^)]*\)/g, '').replace(/; checks [^)]*\)/g, ')');
