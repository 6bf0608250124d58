/** A named piece of CPU work: plain data in, plain data out; big data travels in SharedArrayBuffers. */
export type JobRun = (input: never) => unknown | Promise<unknown>;

export interface JobRequest {
  readonly id: number;
  readonly name: string;
  readonly input: unknown;
}
export type JobReply =
  | { readonly id: number; readonly ok: true; readonly output: unknown }
  | { readonly id: number; readonly ok: false; readonly problem: string };
