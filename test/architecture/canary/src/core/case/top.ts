export interface Top {
  readonly n: number;
}
