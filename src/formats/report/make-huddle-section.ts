import type { PlannedChoice } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import { listOpenPoints, type OpenPoint } from '../../core/case/list-open-points.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { FACT_NAMES_EN } from '../../core/text/facts-en.ts';
import { HUDDLE_EN } from '../../core/text/huddle-en.ts';
import { LANDING_EN } from '../../core/text/landing-en.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { drawDepthRuler } from './draw-depth-ruler.ts';
import { drawNote } from './draw-doubts.ts';
import { drawDoubtTag, drawWords, wordFact } from './draw-fact.ts';
import { describeFrozen, describeIdentity, drawBranches, drawDecided, drawKit, drawOverrides, drawTable, readHuddleSaid, type HuddleSaid, type Row } from './draw-huddle-said.ts';
import { drawFigure, drawList, type PageSection } from './draw-section.ts';
import { escapeText } from './escape-text.ts';
import { formatNumber } from './format-number.ts';
import { listPlanFacts } from './list-plan-facts.ts';
import { listWallCards } from './list-wall-cards.ts';

/** What the sheet says of the case beside its plan. The only print that carries the patient's identity: it is compared with the patient. */
export interface HuddleCase {
  readonly planSha256: string;
  readonly label: string;
  readonly procedureOn: string | null;
  readonly identity: { readonly name: string | null; readonly birthDate: string | null; readonly patientId: string | null };
  readonly pins: readonly { readonly choice: PlannedChoice; readonly note: string; readonly by: string }[];
  readonly accepted: readonly { readonly code: string; readonly section: string; readonly because: string; readonly by: string }[];
  /** What the huddle said; absent: a sheet to be filled in by hand. */
  readonly said?: HuddleSaid | undefined;
}

/** From the state of a case; `nameOf` gives a person's shown name. With the newest plan and the day the sheet says what the huddle said. */
export function readHuddleCase(state: CaseState, planSha256: string, nameOf: (personId: string) => string, now?: { readonly plan: Plan; readonly day: string }): HuddleCase {
  const item = (field: string): string | null => {
    const entered = state.referral[field]?.value;
    return entered === undefined || entered === '' ? null : String(entered);
  };
  return {
    planSha256, label: state.label, procedureOn: state.procedureOn,
    identity: { name: item('identity.name'), birthDate: item('identity.birthDate'), patientId: item('identity.patientId') },
    pins: state.pins.map(({ choice, note, by }) => ({ choice, note, by: nameOf(by) })),
    // One accepted before the newest plan was made speaks of another plan.
    accepted: state.acceptedDoubts.filter((a) => a.seq > (state.plan?.seq ?? 0)).map(({ code, section, because, by }) => ({ code, section, because, by: nameOf(by) })),
    ...(now ? { said: readHuddleSaid(state, now.plan, now.day, nameOf) } : {}),
  };
}

/** The sheet that answers: is there anything left to settle before the team may say go? For page and paper. */
export function makeHuddleSection(plan: Plan, about: HuddleCase): PageSection {
  const points = listOpenPoints(plan);
  const acceptedOf = (p: OpenPoint) => about.accepted.find((a) => a.code === p.code && a.section === p.section);
  const open = points.filter((p) => !acceptedOf(p));
  return {
    id: 'huddle', title: HUDDLE_EN.title,
    answer: drawAnswer(plan, about, open.length),
    why: drawPatient(about) + drawAloud(plan, about.said !== undefined) + (about.said ? drawDecided(about.said) + drawKit(about.said) + drawBranches(about.said) : drawRoles()) + drawPictures(plan) + drawFacts(plan),
    doubt: (about.said ? drawOverrides(about.said) : '') + (points.length === 0 ? `<p>${escapeText(HUDDLE_EN.openNone)}</p>` : points.map((p) => {
      const taken = acceptedOf(p);
      return taken
        ? `<p>${escapeText(formatText(HUDDLE_EN, 'acceptedBy', { text: p.text, by: taken.by, because: taken.because }))} ${drawDoubtTag(HUDDLE_EN.accepted)}</p>`
        : drawNote(p.code, '', p.text);
    }).join('')),
    next: drawPins(about) + drawList('acts', listNext(about, open)),
  };
}

function listNext({ said }: HuddleCase, open: readonly OpenPoint[]): readonly string[] {
  const settle = open.map((p) => p.next);
  if (!said) return [HUDDLE_EN.nextPatient, HUDDLE_EN.nextRoles, ...settle, HUDDLE_EN.nextFreeze];
  if (said.frozen && !said.frozen.isBehind) return [HUDDLE_EN.nextAloud];
  return [...said.standing, ...settle, HUDDLE_EN.nextFreeze];
}

function drawAnswer(plan: Plan, about: HuddleCase, open: number): string {
  const { said } = about;
  const isFrozen = said?.frozen != null && !said.frozen.isBehind;
  const standing = said?.standing.length ?? 0;
  const points = open === 0 ? HUDDLE_EN.openNone : open === 1 ? HUDDLE_EN.openOne : formatText(HUDDLE_EN, 'openMany', { count: open });
  const say = isFrozen ? describeFrozen(said) : standing === 0 ? points : standing === 1 ? HUDDLE_EN.standsOne : formatText(HUDDLE_EN, 'standsMany', { count: standing });
  const more = isFrozen ? '' : ` ${describeFrozen(said)}`;
  const code = formatText(HUDDLE_EN, 'plan', { code: about.planSha256.slice(0, 8), scan: plan.inputs.sha256.slice(0, 8) });
  const name = formatText(HUDDLE_EN, 'about', { label: about.label, date: about.procedureOn ?? HUDDLE_EN.noDate });
  return `<p class="say">${escapeText(say)}</p><p>${escapeText(HUDDLE_EN.goIsYours + more)}</p><p class="soft">${escapeText(`${name}; ${code}`)}</p>`;
}

function drawPatient({ identity, said }: HuddleCase): string {
  const row = (name: string, value: string | null): Row => [escapeText(name), value === null ? drawDoubtTag(HUDDLE_EN.notEntered) : escapeText(value), HUDDLE_EN.box];
  return drawTable(HUDDLE_EN.patientTitle, [HUDDLE_EN.columnItem, HUDDLE_EN.columnEntered, HUDDLE_EN.columnSeen], [
    row(HUDDLE_EN.itemName, identity.name), row(HUDDLE_EN.itemBorn, identity.birthDate), row(HUDDLE_EN.itemNumber, identity.patientId),
  ], 'large') + (said ? `<p><b>${escapeText(describeIdentity(said))}</b></p>` : '');
}

/** Lines of a card as one sentence after the other. */
const joinLines = (lines: readonly string[]): string => lines.reduce((all, line) => (all === '' ? line : `${all}${all.endsWith('.') ? ' ' : '; '}${line}`), '');

/** The words of the wall cards: what is read here is what hangs there. */
function drawAloud(plan: Plan, hasKit: boolean): string {
  const rows = listWallCards(plan).map((c): Row => {
    const answer = `${c.answer.join(' ')}${c.unit ? ` ${c.unit}` : ''}`;
    // A number that is read aloud keeps its size; the hatch of the doubt stands beside it, never over its digits.
    const said = /\d/.test(answer) ? `<b>${escapeText(answer)}</b>${c.mark === 'doubt' ? ` ${drawDoubtTag(REPORT_EN.doubt)}` : ''}` : c.mark === 'doubt' ? drawDoubtTag(answer) : `<b>${escapeText(answer)}</b>`;
    return [escapeText(c.title), said, escapeText(joinLines(c.lines))];
  });
  if (rows.length === 0) return `<p>${escapeText(HUDDLE_EN.noPlan)}</p>`;
  return drawTable(HUDDLE_EN.aloudTitle, [HUDDLE_EN.columnWhat, HUDDLE_EN.columnAnswer, HUDDLE_EN.columnMore], rows, 'large') + drawList('plain', [...describeKit(plan, hasKit), ...describeChoice(plan)]);
}

function describeKit({ size, landing, release }: Plan, hasKit: boolean): readonly string[] {
  const device = size?.table.devices.find((d) => d.id === landing?.device);
  const row = device?.sizes.find((s) => s.label === landing?.size);
  const answer = size?.byDevice.find((d) => d.device === landing?.device);
  if (!device || !row || !answer) return [];
  const again = answer.second.same === null ? [] : [answer.second.same];
  const list = [
    `${device.id} ${[...new Set([row.label, ...again, ...answer.second.neighbours])].join(', ')}`,
    formatText(HUDDLE_EN, 'kitSheath', { mm: formatNumber(row.sheathOuterMm, 1) }), formatText(HUDDLE_EN, 'kitBalloon', { mm: formatNumber(row.balloonMaxMm, 0) }),
  ];
  const back = release?.recapture;
  return [
    ...(hasKit ? [] : [formatText(HUDDLE_EN, 'kit', { list: list.join('; ') })]), // the table of boxes says the same, with places
    ...(release ? [back ? formatText(HUDDLE_EN, 'recapture', { percent: formatNumber(100 * back.unsheathedRatio, 0), mm: formatNumber(back.uncoveredMm, 0) }) : HUDDLE_EN.recaptureUnknown] : []),
  ];
}

function describeChoice({ release }: Plan): readonly string[] {
  if (!release) return [];
  const { paceBpm, isPredilated, tension } = release.choice;
  return [formatText(HUDDLE_EN, 'chosen', { mm: formatNumber(release.startMm, 1), bpm: formatNumber(paceBpm, 0), before: isPredilated ? HUDDLE_EN.yes : HUDDLE_EN.no, tension })];
}

function drawPictures({ landing, training }: Plan): string {
  return landing ? drawFigure('small', LANDING_EN.rulerTitle, LANDING_EN.rulerCaption, drawDepthRuler(landing, { id: 'huddle-ruler', isTraining: training })) : '';
}

const SHOWN: readonly (keyof typeof FACT_NAMES_EN)[] = ['ringPerimeter', 'ringArea', 'ringMin', 'ringMax', 'leftOstium', 'rightOstium', 'junctionHeight', 'calciumOutflow', 'bulge', 'membrane', 'angulation'];

function drawFacts(plan: Plan): string {
  const facts = listPlanFacts(plan);
  const rows = SHOWN.flatMap((key) => facts.filter((f) => f.key === key).slice(0, 1)).map((named): Row => {
    const words = wordFact(named);
    return [escapeText(FACT_NAMES_EN[named.key]), words ? drawWords(named.fact, words) : drawDoubtTag(named.fact.reasons[0]?.text ?? '')];
  });
  return drawTable(HUDDLE_EN.factsTitle, [HUDDLE_EN.columnFact, HUDDLE_EN.columnValue], rows);
}

function drawPins({ pins }: HuddleCase): string {
  return drawTable(HUDDLE_EN.pinsTitle, [HUDDLE_EN.columnFrame, HUDDLE_EN.columnStart, HUDDLE_EN.columnPace, HUDDLE_EN.columnBefore, HUDDLE_EN.columnPull, HUDDLE_EN.columnNote], pins.map(({ choice, note, by }): Row => [
    escapeText(`${choice.device} ${choice.size}`), escapeText(formatText(HUDDLE_EN, 'startMm', { mm: formatNumber(choice.startMm, 1) })), escapeText(formatText(HUDDLE_EN, 'paceBpm', { bpm: formatNumber(choice.paceBpm, 0) })),
    choice.isPredilated ? HUDDLE_EN.yes : HUDDLE_EN.no, escapeText(choice.tension), escapeText(note === '' ? by : `${note} (${by})`),
  ]));
}

const ROLES = [HUDDLE_EN.roleFirst, HUDDLE_EN.roleSecond, HUDDLE_EN.roleImaging, HUDDLE_EN.roleSedation, HUDDLE_EN.roleNurse, HUDDLE_EN.rolePhysiologist, HUDDLE_EN.roleEcho, HUDDLE_EN.roleSurgeon];
function drawRoles(): string {
  return drawTable(HUDDLE_EN.rolesTitle, [HUDDLE_EN.columnRole, HUDDLE_EN.columnPerson, HUDDLE_EN.columnAgreed], ROLES.map((r): Row => [escapeText(r), '____________________', HUDDLE_EN.box]));
}
