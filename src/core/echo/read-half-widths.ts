import { isEchoField, type EchoNumberCode } from './echo-fields.ts';

/** 95 % half-widths that came with the entries of an echo: of a trace on a picture, or as a report states them. */
export function readHalfWidths({ entries }: { readonly entries: Readonly<Record<string, { readonly halfWidth: number | null }>> }): Readonly<Partial<Record<EchoNumberCode, number>>> {
  return Object.fromEntries(Object.entries(entries).flatMap(([code, { halfWidth }]) => (halfWidth !== null && isEchoField(code) ? [[code, halfWidth]] : [])));
}
