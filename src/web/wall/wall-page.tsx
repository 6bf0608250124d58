import { render } from 'preact';
import { useRoute } from 'preact-iso';
import { useEffect, useLayoutEffect, useRef } from 'preact/hooks';
import { signal } from '@preact/signals';
import { makeWallBoard } from '../../core/room/make-wall-board.ts';
import type { WallBoard } from '../../core/room/wall-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { WALL_ROOM_EN } from '../../core/text/wall-room-en.ts';
import { drawWallBoard } from '../../formats/report/draw-wall-board.ts';
import { drawWallPaper } from '../../formats/report/draw-wall-paper.ts';
import { layOutWallBoard } from '../../formats/report/lay-out-wall-board.ts';
import type { WallSheet } from '../../formats/report/wall-sheet.ts';
import { wordWallBoard } from '../../formats/report/word-wall-board.ts';
import { Markup } from '../parts/markup.tsx';
import { useTitle } from '../parts/title.ts';
import { checkFrozen, frozen, frozenSha256, frozenState, isOnline, newsAt, openRoom, readClockDoubt, room, roomCase, roomFailure } from '../state/room-log.ts';
import { actingSession, isSessionOver, readScope } from '../state/session.ts';
import { keepAwake, mayScreenSleep } from './wake-lock.ts';
import { readWallFonts, wallFonts } from './wall-fonts.ts';
import { glance, pressWallKey, teaching, trial } from './wall-keys.ts';
import { isScreenMeasured, keepWallScreen, noteBar, readMmPerPx, takeMeasurement, wallScreen } from './wall-screen.ts';
import { showNow, shownMs } from './wall-time.ts';
import './wall.css';

/** A clock that is uncertain by more than this makes every age uncertain. */
const WIDE_MS = 1500;
const CHECK_MS = 30_000;
const windowSize = signal({ widthPx: innerWidth, heightPx: innerHeight });

/**
 * The wall: one card and a strip, in true millimetres, from the frozen plan, the log and the time. No head, no control,
 * no mouse; it opens and goes on without the server.
 */
export function WallPage() {
  const { params } = useRoute();
  const caseId = params['caseId'] ?? readScope(actingSession.value)?.caseId ?? '';
  useTitle(WALL_ROOM_EN.title, frozen.value?.label ?? '');
  useEffect(() => {
    if (caseId !== '') void openRoom(caseId, 'wall');
    keepWallScreen();
    void readWallFonts();
    return keepAwake();
  }, [caseId]);
  useTicks();
  const board = makeWallBoard({
    // Until server or browser have said which case this is, nobody knows that nothing is frozen.
    frozenState: frozenState.value === 'none' && roomCase.value === null ? 'reading' : frozenState.value, frozen: frozen.value, frozenSha256: frozenSha256.value, room: room.value, isBehind: roomCase.value?.frozen?.isBehind === true, isOfAnother: roomCase.value?.frozen?.isOfAnother === true, nowMs: shownMs.value, isOnline: isOnline.value, newsMs: newsAt.value,
    settings: {
      glance: glance.value, wall: wallScreen.value.name, utcOffsetMin: -new Date(shownMs.value).getTimezoneOffset(), isScreenMeasured: isScreenMeasured(),
      mayScreenSleep: mayScreenSleep.value, isClockUnsure: (readClockDoubt() ?? Infinity) > WIDE_MS, isRefused: isSessionOver.value || (roomFailure.value !== null && isOnline.value),
    },
  });
  useKeys(board);
  useEffect(() => takeMeasurement(room.value), [room.value]);
  useEffect(() => void checkFrozen(), [board.name]);
  const sheet = teachSheet(wordWallBoard(board));
  return <Screen sheet={sheet} board={board} />;
}

/** Draws when something changed, once a second at most by itself; what is the same is left alone. */
function Screen({ sheet, board }: { readonly sheet: WallSheet; readonly board: WallBoard }) {
  const paper = useRef<HTMLDivElement>(null);
  const fonts = wallFonts.value;
  const { widthPx, heightPx } = windowSize.value;
  const mmPerPx = trial.value ?? readMmPerPx();
  if (sheet.name === 'screen') noteBar(widthPx);
  const svg = fonts ? drawWallBoard(layOutWallBoard(sheet, { widthMm: widthPx * mmPerPx, heightMm: heightPx * mmPerPx }, fonts), 'wall', describeSheet(sheet)) : '';
  useEffect(() => {
    // At once, inside the event: the browser takes the page as it is when the listeners are done.
    const fill = (): void => {
      if (paper.current && fonts) render(<Markup html={drawWallPaper({ sheet, board, frozen: frozen.value, frozenSha256: frozenSha256.value }, fonts)} />, paper.current);
    };
    const empty = (): void => {
      if (paper.current) render(null, paper.current);
    };
    addEventListener('beforeprint', fill);
    addEventListener('afterprint', empty);
    return () => {
      removeEventListener('beforeprint', fill);
      removeEventListener('afterprint', empty);
    };
  });
  return (
    <main class="wall" id="main" data-card={sheet.name} data-because={board.because}>
      <h1 class="hidden">{WALL_ROOM_EN.title}</h1>
      {!fonts && <p>{sheet.card.title} {sheet.card.word}</p>}
      <Markup className="wall-screen" html={svg} />
      <div class="wall-paper" ref={paper} />
    </main>
  );
}

/** What a reader of the screen hears; the age alone is not told again each second. */
const describeSheet = ({ card }: WallSheet): string => [card.title, ...card.answer.map((a) => `${a.lead} ${a.glyphs}`.trim()), card.word].filter((t) => t !== '').join(', ');

function teachSheet(sheet: WallSheet): WallSheet {
  const use = teaching.value;
  if (use === null) return sheet;
  const key = wallScreen.value.pedals[use];
  return {
    ...sheet, name: 'pedal',
    card: { title: WALL_ROOM_EN['title-pedal'], because: '', answer: [], word: WALL_ROOM_EN[`pedal-${use}`], lines: [WALL_ROOM_EN.pedalSay, formatText(WALL_ROOM_EN, 'pedalKeep', { key: key === ' ' ? 'space' : key })].map((text) => ({ text, mark: 'plain' as const })), question: '', mark: 'plain', ruler: null },
  };
}

function useTicks(): void {
  useEffect(() => {
    let timer: ReturnType<typeof setTimeout>;
    const tick = (): void => {
      timer = setTimeout(tick, 1000 - (showNow() % 1000) + 5);
    };
    const resize = (): void => void (windowSize.value = { widthPx: innerWidth, heightPx: innerHeight });
    const wake = (): void => void showNow();
    tick();
    const check = setInterval(() => void checkFrozen(), CHECK_MS);
    addEventListener('resize', resize);
    document.addEventListener('visibilitychange', wake);
    return () => {
      clearTimeout(timer);
      clearInterval(check);
      removeEventListener('resize', resize);
      document.removeEventListener('visibilitychange', wake);
    };
  }, []);
  // News is on the wall at once, not with the next second.
  useLayoutEffect(() => void showNow(), [room.value, frozenState.value]);
}

function useKeys(board: WallBoard): void {
  const now = useRef(board);
  now.current = board;
  useEffect(() => {
    const press = (event: KeyboardEvent): void => pressWallKey(event, now.current);
    addEventListener('keydown', press);
    return () => removeEventListener('keydown', press);
  }, []);
}
