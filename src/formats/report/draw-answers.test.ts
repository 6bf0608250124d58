import { describe, expect, test } from 'vitest';
import { makeCompletedPlan, setVerdict } from '../../../test/support/example-plan.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { NO_CUTS } from '../../core/root/cut-types.ts';
import { drawDepthRuler } from './draw-depth-ruler.ts';
import { drawForecastStrip } from './draw-forecast-strip.ts';
import { drawPlanPage, listSections } from './draw-plan-page.ts';
import type { PageSection } from './draw-section.ts';
import { drawSizeLadder } from './draw-size-ladder.ts';
import { drawViewMap } from './draw-view-map.ts';
import { escapeText } from './escape-text.ts';
import { formatShare } from './format-number.ts';

/** Size, landing, views and release: their pictures and pages. */
const full = makeCompletedPlan();
const open = makeCompletedPlan({ tables: { patient: null } });
const empty = makeCompletedPlan({ keepsOutflowCalcium: true });
const prone = makeCompletedPlan({ tables: { patientPosition: 'HFP' } });
const answered: Plan = { ...full, release: setVerdict(full.release!, 'stays or up', { gripping: 'stays', middle: 'stays', slippery: 'stays or up' }) };
const picture = { id: 'p', isTraining: false };
const IDS = ['size', 'landing', 'views', 'release'] as const;

const sectionOf = (plan: Plan, id: string): PageSection => {
  const section = listSections(plan, NO_CUTS).find((s) => s.id === id);
  if (!section) throw new Error(`no section ${id}`);
  return section;
};
const textOf = (html: string): string => html.replace(/<svg.*?<\/svg>/gs, '').replace(/<[^>]+>/g, ' ').replace(/\s+/g, ' ');
const placeOf = (svg: string, text: string): readonly [number, number] => {
  const found = new RegExp(`x="([-\\d.]+)" y="([-\\d.]+)">${text}<`).exec(svg);
  if (!found) throw new Error(`no text "${text}"`);
  return [Number(found[1]), Number(found[2])];
};

describe('the pictures of the answers', () => {
  test('look as they were last looked at', async () => {
    await expect(drawSizeLadder(full.size!, full.root!.basalRing.perimeterMm, picture)).toMatchFileSnapshot('./__snapshots__/size-ladder.svg');
    await expect(drawDepthRuler(full.landing!, picture)).toMatchFileSnapshot('./__snapshots__/depth-ruler.svg');
    await expect(drawDepthRuler(empty.landing!, picture)).toMatchFileSnapshot('./__snapshots__/depth-ruler-empty.svg');
    await expect(drawViewMap(full.views!, picture)).toMatchFileSnapshot('./__snapshots__/view-map.svg');
    await expect(drawForecastStrip(full.release!, picture)).toMatchFileSnapshot('./__snapshots__/forecast-strip.svg');
  });
  test('carry title and description, finite coordinates only, and the training mark where it is due', () => {
    const draw = (isTraining: boolean): (string | null)[] => {
      const at = { id: 'q', isTraining };
      return [drawSizeLadder(full.size!, full.root!.basalRing.perimeterMm, at), drawDepthRuler(full.landing!, at), drawDepthRuler(empty.landing!, at), drawDepthRuler(open.landing!, at), drawViewMap(full.views!, at), drawForecastStrip(full.release!, at)];
    };
    for (const svg of draw(true)) {
      expect(svg).toMatch(/role="img" aria-labelledby="q-title q-desc"/);
      expect(svg).not.toMatch(/NaN|Infinity|undefined|null/);
      expect(svg).toContain('training, invented sizes');
    }
    for (const svg of draw(false)) expect(svg).not.toContain('training, invented');
  });
  test('are absent when there is nothing to draw', () => {
    expect(drawViewMap(prone.views!, picture)).toBeNull();
    expect(drawForecastStrip({ ...full.release!, sweep: [] }, picture)).toBeNull();
    const perimeter = full.root!.basalRing.perimeterMm;
    expect(drawSizeLadder(full.size!, { ...perimeter, value: null, low: null, high: null, status: 'refused' }, picture)).toBeNull();
  });
});

describe('drawDepthRuler', () => {
  const svg = drawDepthRuler(full.landing!, picture);

  test('a depth that was read is a pin on the same scale; its line is broken while the view is not corrected', () => {
    const at = (mm: number): string => (46 + (mm + 2) * 30).toFixed(0); // 30 px a mm below the ruler's top, which stands 2 mm above the plane
    const read = drawDepthRuler(full.landing!, { ...picture, pin: { depthMm: 4, lowMm: 2, highMm: 6, state: 'uncorrected' } });
    expect(read).toContain(`class="bold broken" d="M284 ${at(2)}L284 ${at(6)}"`);
    expect(read).toContain(`M272 ${at(4)}`);
    expect(drawDepthRuler(full.landing!, { ...picture, pin: { depthMm: 4, lowMm: 2, highMm: 6, state: 'corrected' } })).not.toContain('broken');
    expect(drawDepthRuler(full.landing!, { ...picture, pin: null })).toBe(drawDepthRuler(full.landing!, picture));
  });
  test('has the ventricle below: start above stop, and above the plane in words', () => {
    expect(placeOf(svg, 'start 3.0')[1]).toBeLessThan(placeOf(svg, 'stop 4.6')[1]);
    expect(placeOf(svg, '2 above')[1]).toBeLessThan(placeOf(svg, 'basal plane')[1]);
    expect(svg).not.toMatch(/>[-\u2212]\d/);
  });
  test('keeps shade for what is forbidden: the aim has none', () => {
    const left = Number(/<rect class="open" x="([\d.]+)"/.exec(svg)![1]);
    for (const [, x] of svg.matchAll(/<rect class="band" x="([\d.]+)"/g)) expect(Number(x)).toBeGreaterThan(left + 150);
  });
  test('hatches a limit that is not known, and draws an empty window as two brackets with the gap and no aim', () => {
    const unknown = open.landing!.limits.filter((l) => !l.isKnown).length;
    expect(drawDepthRuler(open.landing!, picture).match(/class="hatchbox"/g)!.length).toBe(unknown);
    expect(svg).not.toContain('class="hatchbox"');
    const none = drawDepthRuler(empty.landing!, picture);
    expect(none).toContain(`gap ${empty.landing!.conflict!.gapMm!.toFixed(1)} mm`);
    expect(none).not.toMatch(/>(start|stop|aim) /);
  });
});

describe('drawViewMap', () => {
  const svg = drawViewMap(full.views!, picture)!;
  test('names the sides: RAO left, LAO right, CRA up, CAU down', () => {
    expect(placeOf(svg, 'RAO 30')[0]).toBeLessThan(placeOf(svg, 'LAO 30')[0]);
    expect(placeOf(svg, 'CRA 20')[1]).toBeLessThan(placeOf(svg, 'CAU 20')[1]);
  });
  test('writes the unit on each line of depth error, so that it is not taken for a view', () => {
    expect(svg).toContain('>1 mm<');
    expect(svg.indexOf('>1 mm<')).toBeGreaterThan(svg.indexOf('reach of the room')); // drawn over the frame of the reach
  });
  test('shows no reach that was not entered', () => {
    expect(drawViewMap({ ...full.views!, reachLimits: null }, picture)).not.toContain('reach of the room');
  });
});

describe('drawSizeLadder', () => {
  test('keeps the line of the ring off the labels', () => {
    const svg = drawSizeLadder(full.size!, full.root!.basalRing.perimeterMm, picture)!;
    const line = Number(/class="bold" d="M([\d.]+) /.exec(svg)![1]);
    for (const label of ['24', '27', '30']) expect(Math.abs(placeOf(svg, label)[0] - line)).toBeGreaterThan(20);
  });
  test('does not round a share to all or nothing', () => {
    expect([formatShare(0.9996), formatShare(0.0004), formatShare(1), formatShare(0), formatShare(0.5)]).toEqual(['over 99 %', 'under 1 %', '100 %', '0 %', '50 %']);
  });
});

describe('drawForecastStrip', () => {
  test('names the three worlds, the start, and the sides by arrow, with no signed depth', () => {
    const svg = drawForecastStrip(full.release!, picture)!;
    for (const word of ['gripping', 'middle', 'slippery', 'start 3.0 mm', '2 above', '↑', '↓']) expect(svg).toContain(word);
    expect(svg).not.toMatch(/>[-\u2212]\d/);
    expect(svg).toMatch(/fill="url\(#p-hatch\)"/);
  });
});

describe('the pages of the answers', () => {
  test('stand in the order of the case line, each with its four parts said', () => {
    expect(listSections(full, NO_CUTS).map((s) => s.id)).toEqual(['scan', 'root', 'size', 'landing', 'views', 'release']);
    for (const plan of [full, open, prone, answered]) for (const id of IDS) for (const part of ['answer', 'why', 'doubt', 'next'] as const) {
      expect(textOf(sectionOf(plan, id)[part]).trim(), `${id} ${part}`).not.toBe('');
    }
  });
  test('have at most one number in the place of the answer', () => {
    for (const plan of [full, open, empty, prone, answered]) {
      for (const s of listSections(plan, NO_CUTS)) expect((s.answer.match(/class="value"/g) ?? []).length, s.id).toBeLessThanOrEqual(1);
    }
  });
  test('say what they refuse: an empty window, withheld angles, a forecast that cannot say', () => {
    expect(textOf(sectionOf(empty, 'landing').answer)).toContain('EMPTY WINDOW');
    expect(textOf(sectionOf(empty, 'landing').answer)).toMatch(/Device table and Outflow calcium are \d\.\d mm apart/);
    expect(sectionOf(empty, 'landing').answer).not.toContain('class="value"');
    expect(textOf(sectionOf(prone, 'views').answer)).toContain('Camera angles are withheld.');
    expect(sectionOf(prone, 'views').answer).not.toMatch(/(LAO|RAO) \d/);
    expect(textOf(sectionOf(full, 'release').answer)).toContain('CANNOT SAY');
    for (const r of full.release!.refusals) {
      expect(sectionOf(full, 'release').doubt).toContain(escapeText(r.text));
      expect(sectionOf(full, 'release').next).toContain(escapeText(r.next));
    }
    expect(textOf(sectionOf(open, 'landing').answer)).toMatch(/INCOMPLETE: 2 of 8 limits are not known/);
  });
  test('show no percentage on the release page but the share at which recapture ends', () => {
    for (const plan of [full, answered]) {
      const text = ['answer', 'why', 'doubt', 'next'].map((part) => sectionOf(plan, 'release')[part as 'answer']).join(' ').replace(/<style.*?<\/style>/gs, '');
      const shares = [...text.matchAll(/[^.>]*\d\s?(?:%|per cent)[^.<]*/g)].map((m) => m[0].trim());
      expect(shares.filter((s) => !s.startsWith('The table allows recapture up to') && !s.startsWith('The shade holds 90 % of the releases'))).toEqual([]);
      expect(text).not.toMatch(/probab|risk|likel|chance/i);
    }
  });
  test('give the direction in words for the chosen start, and advise neither pull nor push', () => {
    expect(textOf(sectionOf(answered, 'release').answer)).toContain('From 3.0 mm: tends to stay or rise');
    expect(textOf(sectionOf(answered, 'release').next)).toContain('The model gives no advice to pull or push and no depth; the team decides.');
    expect(textOf(sectionOf(full, 'release').why)).not.toMatch(/\u2212\d+ mm/);
  });
  test('are the same with the colours taken away: each limit, view and world is named by a number or a word', () => {
    const page = drawPlanPage(full, NO_CUTS);
    full.landing!.limits.forEach((_, i) => expect(page).toMatch(new RegExp(`<th scope="row">${i + 1} `)));
    full.views!.chosen.forEach((v, i) => expect(page, v.role).toMatch(new RegExp(`<th scope="row">${i + 1} [A-Z]`)));
    for (const svg of page.match(/<svg.*?<\/svg>/gs)!) expect(svg).not.toMatch(/(?:fill|stroke)="#(?!000|fff)/i);
  });
  test('carry the training mark exactly when it is due, and the same bytes twice', () => {
    const plain = drawPlanPage({ ...full, training: false }, NO_CUTS);
    expect(plain.includes('training, invented sizes')).toBe(false);
    expect(drawPlanPage(full, NO_CUTS) === drawPlanPage(makeCompletedPlan(), NO_CUTS)).toBe(true);
  });
});
