import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';

/** Findings name the options of the command line; on the page the same is said of its own controls. */
export function sayWithoutFlags(text: string): string {
  return text.replace(/\s*\(--json\)/g, '').replace(/--(channels|breathing|baseline|output|line)\b/g, (_flag, name: string) => RESULT_PAGE_EN[`flag-${name as 'channels'}`]);
}
