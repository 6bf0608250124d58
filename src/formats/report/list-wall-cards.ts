import type { Plan } from '../../core/case/plan-types.ts';
import { nameLandingLimit } from '../../core/deployment/find-landing.ts';
import type { LandingWindow } from '../../core/deployment/landing-types.ts';
import type { DeviceAnswer, SizeAnswer } from '../../core/device/size-types.ts';
import { nameView } from '../../core/projection/camera-view.ts';
import type { ChosenView, PlanViews } from '../../core/projection/view-types.ts';
import { WORLDS, type ReleaseForecast, type ReleaseVerdict } from '../../core/release/release-types.ts';
import type { PlanMessage } from '../../core/root/survey-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { WALL_EN } from '../../core/text/wall-en.ts';
import { formatFact, formatNumber, isAnswered } from './format-number.ts';
import { formatWindow } from './format-window.ts';

/**
 * One card of the wall: one answer that is read from two metres.
 * Head (title and code), answer, lines and foot (training mark and caution) are at most seven items.
 */
export interface WallCard {
  readonly id: string;
  readonly title: string;
  /** With the first eight signs of the scan's SHA-256, so that two cases on one wall are noticed. */
  readonly code: string;
  /** One or two lines of few glyphs: digits and capitals. */
  readonly answer: readonly string[];
  /** Stands beside the last line of the answer. */
  readonly unit: string;
  /** At most 4 below one line of answer, at most 3 below two. */
  readonly lines: readonly string[];
  /** A pattern beside the word that says the same: doubt is hatched, the stop has a solid bar. */
  readonly mark: 'plain' | 'doubt' | 'stop';
  readonly training: boolean;
}
type CardText = Pick<WallCard, 'answer' | 'lines'> & Partial<Pick<WallCard, 'unit' | 'mark'>>;

const mm = (v: number): string => formatNumber(v, 1);
const PLAIN = { unit: '', mark: 'plain' } as const;

/**
 * The cards of a plan, in the order of use. Nothing stands on a card that the plan does not say: a section that is not
 * in the plan has no card, one that was refused has the refusal.
 * Shape     pure; the same plan gives the same cards
 * Source    docs/methods/pictures.md
 */
export function listWallCards(plan: Plan): readonly WallCard[] {
  const { size, landing, views, release } = plan;
  const code = formatText(WALL_EN, 'code', { code: plan.inputs.sha256.slice(0, 8) });
  const card = (id: string, title: string, text: CardText): WallCard => ({ id, title, code, ...PLAIN, ...text, training: plan.training });
  const refused = (section: string, title: string): readonly WallCard[] => {
    const message = plan.messages.find((m) => m.section === section);
    return message ? [card(section, title, refuse(message))] : [];
  };
  const device = size ? pickDevice(size, landing) : undefined;
  return [
    ...(size && device ? [card('size', WALL_EN.size, describeSize(plan, size, device))] : refused('size', WALL_EN.size)),
    ...(landing ? listWindow(plan, landing, card) : refused('landing', WALL_EN.noWindow)),
    ...(views ? listViews(views, card) : refused('views', WALL_EN.startView)),
    ...(release ? [card('release', WALL_EN.release, describeRelease(release))] : refused('release', WALL_EN.release)),
    ...(size && device && size.candidates.length > 0 ? describeSecond(device).map((text) => card('second-valve', WALL_EN.secondValve, text)) : []),
  ];
}
type MakeCard = (id: string, title: string, text: CardText) => WallCard;

const refuse = ({ text, next }: Pick<PlanMessage, 'text' | 'next'>, ...before: readonly string[]): CardText => ({ answer: [WALL_EN.cannotSay], mark: 'doubt', lines: [...before, text, next] });

/** The device that the landing window is for: the cards of one wall speak of one device. */
const pickDevice = (size: SizeAnswer, landing: LandingWindow | undefined): DeviceAnswer | undefined => {
  const id = landing?.device ?? size.answer?.device;
  return size.byDevice.find((d) => d.device === id) ?? size.byDevice[0];
};

function describeSize(plan: Plan, size: SizeAnswer, d: DeviceAnswer): CardText {
  const reason = size.doubt[0];
  if (size.candidates.length === 0) return reason ? refuse(reason) : { answer: [WALL_EN.cannotSay], mark: 'doubt', lines: [] };
  const perimeter = plan.root?.basalRing.perimeterMm;
  const words = perimeter && isAnswered(perimeter) ? formatFact(perimeter) : null;
  const ring = words ? [formatText(WALL_EN, 'ring', { mm: words.value.replace(/ mm$/, ''), interval: words.interval })] : [];
  if (d.size !== null) {
    const count = size.doubt.length;
    return { answer: [d.size], lines: [d.device, ...ring, ...(count > 0 ? [formatText(WALL_EN, 'openPoints', { count })] : [])] };
  }
  const [only, ...more] = d.between;
  if (only === undefined) return { answer: [WALL_EN.none], mark: 'doubt', lines: [d.device, WALL_EN.noneFits, ...ring] };
  if (more.length === 0) return { answer: [WALL_EN.not, WALL_EN.settled], mark: 'doubt', lines: [d.device, formatText(WALL_EN, 'near', { size: only }), WALL_EN.whatDecides] };
  return { answer: [WALL_EN.between, d.between.join(' ')], mark: 'doubt', lines: [d.device, ...ring, WALL_EN.whatDecides] };
}

function describeSecond({ device, second }: DeviceAnswer): readonly CardText[] {
  const { same, neighbours } = second;
  if (same !== null) return [{ answer: [same], lines: [device, WALL_EN.sameAgain, neighbours.length > 0 ? formatText(WALL_EN, 'neighbours', { list: neighbours.join(', ') }) : WALL_EN.noNeighbour] }];
  return neighbours.length > 0 ? [{ answer: [WALL_EN.not, WALL_EN.settled], mark: 'doubt', lines: [device, formatText(WALL_EN, 'haveThese', { list: neighbours.join(', ') })] }] : [];
}

function listWindow(plan: Plan, w: LandingWindow, card: MakeCard): readonly WallCard[] {
  const isSettled = !plan.size || plan.size.byDevice.find((d) => d.device === w.device)?.size === w.size;
  const about = formatText(WALL_EN, isSettled ? 'about' : 'aboutOpen', { device: w.device, size: w.size });
  const words = formatWindow(w);
  if (!words || w.startMm === null || w.aimLowMm === null || w.stopMm === null) return [card('landing', WALL_EN.noWindow, { answer: [WALL_EN.empty], mark: 'doubt', lines: [WALL_EN.noDepth, ...describeConflict(w), about] })];
  const unknown = w.limits.filter((l) => !l.isKnown).length;
  const open = unknown > 0 ? [formatText(WALL_EN, 'incomplete', { count: unknown, all: w.limits.length })] : [];
  const mark = unknown > 0 || !isSettled ? ('doubt' as const) : ('plain' as const);
  const side = (v: number, text: string): Pick<CardText, 'answer'> & { readonly where: string } =>
    v < 0 ? { answer: [formatText(WALL_EN, 'above', { mm: text.replace('\u2212', '') })], where: WALL_EN.edgeAbove } : { answer: [text], where: WALL_EN.edgeBelow };
  const one = (v: number, text: string, more: readonly string[]): CardText => {
    const { answer, where } = side(v, text);
    return { answer, unit: WALL_EN.mm, mark, lines: [where, ...more, ...open, about] };
  };
  const view = plan.views?.chosen.find((v) => v.role === 'start' && v.reach);
  const [low, high] = [nameBinding(w, 'low'), nameBinding(w, 'high')];
  const bounds = low === high ? formatText(WALL_EN, 'boundsOne', { limit: low }) : formatText(WALL_EN, 'bounds', { low, high });
  // An aim on both sides of the plane needs a word at each end, not a sign.
  const crosses = words.aimLow.startsWith('\u2212');
  const aim: CardText = crosses
    ? { answer: [formatText(WALL_EN, 'above', { mm: words.aimLow.slice(1) }), formatText(WALL_EN, 'below', { mm: words.aimHigh })], unit: WALL_EN.mm, mark, lines: [WALL_EN.edge, ...open, about] }
    : { answer: [`${words.aimLow}\u2013${words.aimHigh}`], unit: WALL_EN.mm, mark, lines: [WALL_EN.edgeBelow, bounds, ...open, about] };
  return [
    card('start', WALL_EN.start, one(w.startMm, words.start, view ? [formatText(WALL_EN, 'readIn', { view: nameView(view) })] : [])),
    card('aim', WALL_EN.aim, aim),
    card('stop', WALL_EN.stop, { ...one(w.stopMm, words.stop, []), mark: 'stop' }),
  ];
}

/** The limit that cuts the aim at this end. */
function nameBinding(w: LandingWindow, end: 'low' | 'high'): string {
  const at = end === 'low' ? w.aimLowMm : w.aimHighMm;
  const limit = w.limits.find((l) => (end === 'low' ? l.lowMm : l.highMm) === at);
  return limit ? nameLandingLimit(limit.code) : '';
}

function describeConflict({ conflict }: LandingWindow): readonly string[] {
  if (!conflict) return [];
  const low = nameLandingLimit(conflict.low);
  if (conflict.gapMm === null) return [formatText(WALL_EN, 'conflictAll', { low })];
  return [formatText(WALL_EN, 'conflict', { low, high: nameLandingLimit(conflict.high), gap: mm(conflict.gapMm) })];
}

function listViews(views: PlanViews, card: MakeCard): readonly WallCard[] {
  const pages = [['start', 'start-view', WALL_EN.startView, WALL_EN.startRole], ['three-cusps', 'second-view', WALL_EN.secondView, WALL_EN.secondRole]] as const;
  return pages.flatMap(([role, id, title, shows]) => {
    const view = views.chosen.find((v) => v.role === role);
    if (view) return [card(id, title, describeView(view, shows, views.reachLimits !== null))];
    const reason = views.without.find((r) => r.role === role) ?? views.reasons[0];
    return reason ? [card(id, title, refuse(reason))] : [];
  });
}

function describeView(v: ChosenView, shows: string, isReachKnown: boolean): CardText {
  if (!v.reach) {
    const instead = v.instead ? formatText(WALL_EN, 'instead', { view: nameView(v.instead), away: formatNumber(v.instead.awayDeg, 0) }) : WALL_EN.noneInReach;
    return { answer: [WALL_EN.outOf, WALL_EN.reach], mark: 'doubt', lines: [formatText(WALL_EN, 'wanted', { view: nameView(v) }), instead, WALL_EN.confirm] };
  }
  const [primary, p, secondary, s] = nameView(v).split(' ');
  const within = formatText(WALL_EN, 'within', { deg: formatNumber(Math.ceil(v.withinDeg), 0) });
  return { answer: [`${primary} ${p}`, `${secondary} ${s}`], unit: WALL_EN.degrees, lines: [shows, within, isReachKnown ? WALL_EN.confirm : WALL_EN.reachUnknown] };
}

const VERDICTS: Readonly<Record<ReleaseVerdict, readonly string[]>> = {
  stays: [WALL_EN.stays], 'stays or up': [WALL_EN.stays, WALL_EN.orUp], 'stays or down': [WALL_EN.stays, WALL_EN.orDown],
  up: [WALL_EN.tends, WALL_EN.up], down: [WALL_EN.tends, WALL_EN.down], 'cannot say': [WALL_EN.cannotSay],
};

function describeRelease(r: ReleaseForecast): CardText {
  const from = formatText(WALL_EN, 'from', { mm: mm(r.startMm) });
  if (r.answer === 'cannot say') return r.refusals[0] ? refuse(r.refusals[0], from) : { answer: VERDICTS[r.answer], mark: 'doubt', lines: [from] };
  const here = r.sweep.find((s) => s.startMm === r.startMm)?.worlds;
  const [gripping, middle, slippery] = WORLDS.map((w) => here?.[w].answer ?? WALL_EN.cannotSay);
  const worlds = gripping === middle && middle === slippery ? WALL_EN.worldsSame : formatText(WALL_EN, 'worlds', { gripping: gripping!, middle: middle!, slippery: slippery! });
  return { answer: VERDICTS[r.answer], lines: [r.answer === 'stays' ? from : formatText(WALL_EN, 'fromUp', { mm: mm(r.startMm) }), worlds] };
}
