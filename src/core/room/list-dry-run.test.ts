import { describe, expect, test } from 'vitest';
import { makeStoredPlan, HUDDLE_ENTRIES } from '../../../test/support/frozen-fixture.ts';
import { setVerdict } from '../../../test/support/example-plan.ts';
import type { ReleaseForecast } from '../release/release-types.ts';
import { HUDDLE_BRANCHES } from '../case/case-events.ts';
import { listBranchFacts, listDryRunSteps, type Rehearsal } from './list-dry-run.ts';
import { listKit } from './list-kit.ts';
import { readChosen } from './read-chosen.ts';

const { plan } = makeStoredPlan();
const chosen = readChosen({ huddle: {}, pins: [] }, plan)!;
function rehearse(change: Partial<Rehearsal> = {}, entries: Readonly<Record<string, string | number | boolean>> = HUDDLE_ENTRIES): Rehearsal {
  const read = (id: string) => entries[id];
  return { plan, chosen, forecast: plan.release!, kit: listKit(chosen.device, chosen.size, read), read, ...change };
}
const all = (r: Rehearsal): string => [...listDryRunSteps(r).flatMap((s) => [...s.say, ...s.watch]), ...HUDDLE_BRANCHES.flatMap((b) => listBranchFacts(b, r))].join('\n');
const stepOf = (r: Rehearsal, id: string): string => listDryRunSteps(r).find((s) => s.id === id)!.say.join('\n');

describe('the dry run', () => {
  test('says start, window, pacing, recapture and the three worlds in the words of the room', () => {
    const r = rehearse();
    expect(listDryRunSteps(r).map((s) => s.id)).toEqual(['start', 'pacing', 'pull', 'release']);
    expect(stepOf(r, 'start')).toMatch(/3\.0 mm below the basal plane at the N cusp/);
    expect(stepOf(r, 'start')).toContain('The limits leave 1.0 to 4.6 mm; stop at 4.6 mm.');
    expect(stepOf(r, 'pacing')).toContain('120 /min through the wire in the ventricle.');
    expect(stepOf(r, 'pull')).toContain('until 0.80 of it is out of the catheter');
    for (const world of ['gripping', 'middle', 'slippery']) expect(stepOf(r, 'release')).toContain(world);
  });
  test('D27, E10: no percentage stands anywhere on it, whatever the forecast', () => {
    const sure = setVerdict(plan.release!, 'up', { gripping: 'stays', middle: 'stays or up', slippery: 'up' });
    for (const forecast of [plan.release!, sure, null]) expect(all(rehearse({ forecast }))).not.toMatch(/%|per cent|probab|likel/i);
  });
  test('D25: an angle out of reach is not offered: the nearest in reach is, or none', () => {
    const role = String(HUDDLE_ENTRIES['views.first']);
    const withView = (change: object) => stepOf(rehearse({ plan: { ...plan, views: { ...plan.views!, chosen: plan.views!.chosen.map((v) => (v.role === role ? { ...v, primaryDeg: 95, secondaryDeg: 0, reach: false, ...change } : v)) } } }), 'start');
    expect(withView({ instead: { primaryDeg: 40, secondaryDeg: 10, awayDeg: 55 } })).toContain('LAO 40');
    expect(withView({ instead: undefined })).toContain('The plan offers no angle for the first view');
  });
  test('what is not known is said to be not known', () => {
    const bare = all(rehearse({ forecast: null }, {}));
    for (const words of ['No first view is chosen.', '120 /min; through what is not said.', 'There is no forecast of this choice.', 'nobody has said where it lies', 'Surgery as a way out is not spoken of yet.']) expect(bare).toContain(words);
  });
  test('a depth above the plane is said in words, an empty window as one, a balloon frame as never taken back', () => {
    const above = rehearse({ chosen: { ...chosen, choice: { ...chosen.choice!, startMm: -1 } } });
    expect(stepOf(above, 'start')).toContain('1.0 mm above the basal plane');
    const empty = rehearse({ chosen: { ...chosen, landing: { ...chosen.landing!, empty: true, aimLowMm: null, aimHighMm: null, stopMm: null, startMm: null } } });
    expect(stepOf(empty, 'start')).toContain('EMPTY WINDOW');
    expect(stepOf(rehearse({ chosen: { ...chosen, device: { ...chosen.device, kind: 'balloon-expandable' } } }), 'pull')).toContain('is not taken back');
  });
  test('a movement has its side; where part of the releases leaves the zone no number is given', () => {
    const withMove = (low: number | null, high: number | null, leaves: 'none' | 'up' = 'none'): string => {
      const at = plan.release!.startMm;
      const release: ReleaseForecast = { ...plan.release!, sweep: plan.release!.sweep.map((s) => (s.startMm !== at ? s : { ...s, worlds: { ...s.worlds, middle: { ...s.worlds.middle, movementMm: { low, mid: low, high }, leaves: { low: 'none', mid: 'none', high: leaves } } } })) };
      return stepOf(rehearse({ forecast: release }), 'pull');
    };
    expect(withMove(1, 3)).toContain('1 to 3 mm until it stands (toward the aorta)');
    expect(withMove(-3, -1)).toContain('1 to 3 mm until it stands (toward the ventricle)');
    expect(withMove(-2, 2)).toContain('either way');
    expect(withMove(1, null, 'up')).toContain('leaves the landing zone');
  });
  test('each branch names what lies ready and where', () => {
    expect(listBranchFacts('moved-up', rehearse())).toContain('Snare: shelf snare.');
    expect(listBranchFacts('moved-down', rehearse()).join(' ')).toContain('shelf drain');
    expect(listBranchFacts('leaks', rehearse()).join(' ')).toMatch(/Largest balloon of the table for this size: \d+ mm/);
  });
});
