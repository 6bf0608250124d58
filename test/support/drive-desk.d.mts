import type { Page } from 'playwright-core';

export const CHROMIUM: string;
export const BROWSER_ARGS: readonly string[];
export const PROGRAM: string;
export const FIRST: { readonly login: string; readonly displayName: string; readonly password: string };
export interface Desk {
  readonly url: string;
  readonly isFirstStart: boolean;
  readonly said: readonly string[];
  readonly origin: string;
  readonly pid: number | undefined;
  stop(): Promise<void>;
}
export interface Watch {
  readonly asked: string[];
  readonly problems: string[];
}
export interface Focus {
  readonly name: string;
  readonly tag: string;
  readonly href: string | null;
  readonly grip: string | null;
  readonly view: string | null;
  readonly isMarked: boolean;
  readonly isInSight: boolean;
  readonly isCovered: boolean;
}
export function writeSmallRoot(top: string): string;
export function startDesk(dataFolder: string, port?: string): Promise<Desk>;
export function watchPage(page: Page, watch?: Watch): Watch;
export function makeFirstAccount(page: Page, desk: Desk): Promise<void>;
export function askDesk(page: Page, path: string, options?: { readonly method?: string; readonly body?: unknown }): Promise<{ readonly status: number; readonly body: unknown }>;
export function dropFiles(page: Page, selector: string, paths: readonly string[]): Promise<void>;
export function findBreaches(page: Page): Promise<readonly string[]>;
export function readFocus(page: Page): Promise<Focus | null>;
