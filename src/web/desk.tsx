import { ErrorBoundary, LocationProvider, Route, Router } from 'preact-iso';
import { useEffect, useState } from 'preact/hooks';
import { DESK_EN } from '../core/text/desk-en.ts';
import { AuditPage } from './pages/audit-page.tsx';
import { CasePage } from './pages/case-page.tsx';
import { FirstStartPage } from './pages/first-start-page.tsx';
import { LogInPage } from './pages/log-in-page.tsx';
import { MissingPage } from './pages/missing-page.tsx';
import { PeoplePage } from './pages/people-page.tsx';
import { AccountPage } from './pages/account-page.tsx';
import { TablesPage } from './pages/tables-page.tsx';
import { WorkListPage } from './pages/work-list-page.tsx';
import { Head } from './parts/head.tsx';
import { FailureNotice, Notice } from './parts/notice.tsx';
import { readNames } from './state/names.ts';
import { readSession, session, sessionFailure } from './state/session.ts';

/** Everything on the screen. Without a session the address stays as it is: after the log-in the linked page opens. */
export function Desk() {
  return (
    <LocationProvider>
      <Gate />
    </LocationProvider>
  );
}

function Gate() {
  const now = session.value;
  const failure = sessionFailure.value;
  if (!now) {
    return (
      <main class="alone">
        {failure ? <FailureNotice failure={failure} onAgain={() => void readSession()} /> : <p role="status">{DESK_EN.loading}</p>}
      </main>
    );
  }
  if (now.needsFirstPerson) return <FirstStartPage />;
  if (!now.person) return <LogInPage oidcLabel={now.oidcLabel} />;
  return <Pages />;
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
