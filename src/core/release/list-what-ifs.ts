import type { ReleaseQuestion } from './forecast-release.ts';
import type { Band, OpenBand, ReleaseChoice, WhatIfAnswer, WhatIfCode } from './release-types.ts';
import { compareWhatIf, makeWhatIfBase, type WhatIf } from './what-if.ts';

/**
 * The questions of the page's what-ifs, in their fixed order. `smaller` and `larger` are the questions of the
 * neighbouring sizes, where the table has them.
 */
export function listWhatIfs(base: ReleaseQuestion, neighbours: { readonly smaller: ReleaseQuestion | null; readonly larger: ReleaseQuestion | null }): readonly (readonly [WhatIfCode, ReleaseQuestion])[] {
  const withChoice = (change: Partial<ReleaseChoice>): ReleaseQuestion => ({ ...base, choice: { ...base.choice, ...change } });
  const all: (readonly [WhatIfCode, ReleaseQuestion | null])[] = [
    ['start-shallower', { ...base, startMm: base.startMm - 1 }],
    ['start-deeper', { ...base, startMm: base.startMm + 1 }],
    ['pace-80', base.choice.paceBpm === 80 ? null : withChoice({ paceBpm: 80 })],
    ['pace-180', base.choice.paceBpm === 180 ? null : withChoice({ paceBpm: 180 })],
    base.choice.isPredilated ? ['not-predilated', withChoice({ isPredilated: false })] : ['predilated', withChoice({ isPredilated: true })],
    ['tension-pulling', base.choice.tension === 'pulling' ? null : withChoice({ tension: 'pulling' })],
    ['tension-pushing', base.choice.tension === 'pushing' ? null : withChoice({ tension: 'pushing' })],
    ['wire-centred', base.choice.wireBiasMm === 0 ? null : withChoice({ wireBiasMm: 0 })],
    ['annulus-wider', withChoice({ annulusShiftMm: base.choice.annulusShiftMm + 0.5 })],
    ['annulus-narrower', withChoice({ annulusShiftMm: base.choice.annulusShiftMm - 0.5 })],
    ['size-smaller', neighbours.smaller],
    ['size-larger', neighbours.larger],
  ];
  return all.filter((a): a is readonly [WhatIfCode, ReleaseQuestion] => a[1] !== null);
}

/** Some of the what-ifs of one base; each depends on its own question only, so any split gives the same answers. */
export function answerWhatIfs(base: ReleaseQuestion, list: readonly (readonly [WhatIfCode, ReleaseQuestion])[]): readonly WhatIfAnswer[] {
  const start = makeWhatIfBase(base);
  return list.map(([code, question]) => {
    const { gripping, middle, slippery } = compareWhatIf(start, question).worlds;
    return { code, worlds: { gripping: closeWhatIf(gripping), middle: closeWhatIf(middle), slippery: closeWhatIf(slippery) } };
  });
}

/** JSON has no infinity: an edge outside the landing zone is null, as in the forecast itself. */
export function closeWhatIf(world: WhatIf['worlds']['middle']): WhatIfAnswer['worlds']['middle'] {
  return { ...world, movementMm: openBand(world.movementMm) };
}
const openBand = (b: Band): OpenBand => {
  const open = (v: number): number | null => (Number.isFinite(v) ? v : null);
  return { low: open(b.low), mid: open(b.mid), high: open(b.high) };
};
