import { ErrorBoundary, LocationProvider, Route, Router, useLocation } from 'preact-iso';
import { useEffect, useState } from 'preact/hooks';
import { DESK_EN } from '../core/text/desk-en.ts';
import { AuditPage } from './pages/audit-page.tsx';
import { CasePage } from './pages/case-page.tsx';
import { FirstStartPage } from './pages/first-start-page.tsx';
import { LogInPage } from './pages/log-in-page.tsx';
import { MissingPage } from './pages/missing-page.tsx';
import { PeoplePage } from './pages/people-page.tsx';
import { RoomPage } from './pages/room-page.tsx';
import { AccountPage } from './pages/account-page.tsx';
import { TablesPage } from './pages/tables-page.tsx';
import { WorkListPage } from './pages/work-list-page.tsx';
import { Head } from './parts/head.tsx';
import { FailureNotice, Notice } from './parts/notice.tsx';
import { PairingEntry } from './remote/pairing-entry.tsx';
import { RemotePage } from './remote/remote-page.tsx';
import { readNames } from './state/names.ts';
import { registerOffline } from './state/offline.ts';
import { isRoomPath } from './state/room-path.ts';
import { WallPage } from './wall/wall-page.tsx';
import { actingSession, isSessionOver, readScope, readSession, restoreSession, session, sessionFailure, wantsLogIn } from './state/session.ts';

/** Everything on the screen. Without a session the address stays as it is: after the log-in the linked page opens. */
export function Desk() {
  return (
    <LocationProvider>
      <Gate />
    </LocationProvider>
  );
}

const AGAIN_MS = 5000;
/**
 * Who comes in. A page of the room goes on with whoever was logged in when the server is away or has ended the session;
 * every other page waits for the server's word. A phone or a wall that is paired sees its own page and no other.
 */
function Gate() {
  const { path, route } = useLocation();
  const isRoom = isRoomPath(path);
  const isScreen = /^\/(remote|wall)(\/|$)/.test(path);
  const failure = sessionFailure.value;
  const now = session.value;
  const acting = isRoom ? actingSession.value : now?.person ? now : null;
  const scope = readScope(acting);
  const own = scope === null ? null : `/${scope.kind}/${scope.caseId}`;
  useEffect(() => {
    if (isRoom) registerOffline();
  }, [isRoom]);
  useEffect(() => {
    if (!isRoom || failure === null) return undefined;
    void restoreSession();
    const timer = setTimeout(() => void readSession(), AGAIN_MS); // a wall that starts before its server
    return () => clearTimeout(timer);
  }, [isRoom, failure]);
  useEffect(() => {
    if (own !== null && path !== own) route(own, true);
  }, [own, path]);
  if (acting && !(wantsLogIn.value && isSessionOver.value)) {
    if (own !== null && path !== own) return null;
    return isScreen ? <ScreenPages /> : <Pages />;
  }
  if (!now) {
    return (
      <main class="alone">
        {failure ? <FailureNotice failure={failure} onAgain={() => void readSession()} /> : <p role="status">{DESK_EN.loading}</p>}
      </main>
    );
  }
  if (now.needsFirstPerson) return <FirstStartPage />;
  return isScreen ? <PairingEntry /> : <LogInPage oidcLabel={now.oidcLabel} />;
}

/** Pages without a head: the phone in a hand and the wall. */
function ScreenPages() {
  return (
    <Router>
      <Route path="/remote/:caseId?" component={RemotePage} />
      <Route path="/wall/:caseId?" component={WallPage} />
      <Route default component={MissingPage} />
    </Router>
  );
}

function Pages() {
  const [isBroken, setBroken] = useState(false);
  useEffect(() => void readNames(), []);
  const toTop = (): void => {
    setBroken(false);
    window.scrollTo(0, 0);
  };
  return (
    <>
      <a class="skip" href="#main">{DESK_EN.skip}</a>
      <Head />
      <main id="main" tabIndex={-1}>
        {isBroken && <Notice isUrgent><p>{DESK_EN.defect}</p><p class="soft">{DESK_EN.defectNext}</p></Notice>}
        <ErrorBoundary onError={() => setBroken(true)}>
          <Router onRouteChange={toTop}>
            <Route path="/" component={WorkListPage} />
            <Route path="/case/:caseId/room" component={RoomPage} />
            <Route path="/case/:caseId/:page?" component={CasePage} />
            <Route path="/people" component={PeoplePage} />
            <Route path="/tables" component={TablesPage} />
            <Route path="/audit" component={AuditPage} />
            <Route path="/account" component={AccountPage} />
            <Route default component={MissingPage} />
          </Router>
        </ErrorBoundary>
      </main>
    </>
  );
}
