import { existsSync, readFileSync } from 'node:fs';

/** The folder of outside data beside the checkout; tests that need it are skipped by name when it is absent. */
const ROOT = new URL('../../../shared/data/', import.meta.url);
export const hasOutsideData = existsSync(new URL('dicom-torture/facts.json', ROOT));

export function readOutside(path: string): Uint8Array {
  return new Uint8Array(readFileSync(new URL(path, ROOT)));
}
export function readFacts<T>(folder: string): T {
  return JSON.parse(readFileSync(new URL(`${folder}/facts.json`, ROOT), 'utf8')) as T;
}
