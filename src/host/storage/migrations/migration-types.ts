/** One step forward; never changed once it is released. There is no way back: a backup is. */
export interface Migration {
  readonly version: number;
  readonly name: string;
  /** SQL that PostgreSQL 15 and PGlite both take. */
  readonly statements: readonly string[];
}
