import { succeed } from '../core/result.ts';
import type { ReleaseQuestion } from '../core/release/forecast-release.ts';
import { answerWhatIfs } from '../core/release/list-what-ifs.ts';
import type { WhatIfAnswer, WhatIfCode } from '../core/release/release-types.ts';
import type { Task } from './task.ts';

/** Some what-ifs of one release question, against the same base and draws. */
export const compareWhatIfsTask: Task<
  'compare-what-ifs',
  { readonly base: ReleaseQuestion; readonly list: readonly (readonly [WhatIfCode, ReleaseQuestion])[] },
  readonly WhatIfAnswer[],
  never
> = {
  name: 'compare-what-ifs',
  run: ({ base, list }) => succeed(answerWhatIfs(base, list)),
};
