import type { CaseEventData, NewCaseEvent } from './case-events.ts';

/**
 * What an event speaks about: two events with one subject would overwrite one another, two with different ones stand
 * side by side. Used when somebody else changed the case in between.
 */
export function nameSubject(event: Pick<NewCaseEvent, 'kind' | 'data'>): string {
  switch (event.kind) {
    case 'referral.entered':
      return `referral ${(event.data as CaseEventData['referral.entered']).field}`;
    case 'case.opened':
    case 'case.dated':
      return 'date';
    // All marks hang together: one moved nadir moves the plane under every other mark and under a ring drawn by hand.
    case 'mark.moved':
    case 'ring.drawn':
    case 'consensus.set':
    case 'scan.joined':
    case 'series.chosen':
      return 'marks';
    case 'alternative.pinned':
    case 'alternative.unpinned':
      return `pin ${(event.data as CaseEventData['alternative.unpinned']).pinId}`;
    case 'reading.saved':
      return `reading ${(event.data as CaseEventData['reading.saved']).readingId}`;
    case 'doubt.accepted': {
      const { section, code } = event.data as CaseEventData['doubt.accepted'];
      return `doubt ${section} ${code}`;
    }
    case 'tables.chosen':
      return 'tables';
    case 'huddle.entered':
      return `huddle ${(event.data as CaseEventData['huddle.entered']).field}`;
    case 'branch.agreed':
      return `branch ${(event.data as CaseEventData['branch.agreed']).branch}`;
    case 'blocker.overridden':
      return `blocker ${(event.data as CaseEventData['blocker.overridden']).code}`;
    case 'plan.frozen':
      return 'frozen';
    // Each stands for itself: nobody overwrites them.
    case 'identity.checked':
    case 'run.joined':
      return 'identity';
    case 'room.logged':
      return `room ${(event.data as CaseEventData['room.logged']).entryId}`;
    case 'witness.noted':
    case 'witness.withdrawn':
      return `witness ${(event.data as CaseEventData['witness.withdrawn']).of}`;
    case 'echo.begun':
      return `witness ${(event.data as CaseEventData['echo.begun']).echoId}`;
    case 'echo.entered': {
      const { echoId, field } = event.data as CaseEventData['echo.entered'];
      return `echo ${echoId} ${field}`;
    }
    case 'readers.present':
      return 'readers';
    case 'result.entered':
      return `result ${(event.data as CaseEventData['result.entered']).field}`;
    case 'result.decided':
      return 'decision';
    case 'ecg.entered':
      return `ecg ${(event.data as CaseEventData['ecg.entered']).moment}`;
    // A joined file, a sealed grade and what was shown stand for themselves.
    case 'recording.joined':
    case 'echo.joined':
    case 'angiogram.measured':
    case 'ecg.joined':
      return 'joined';
    case 'grade.sealed':
    case 'verdict.shown':
      return 'grades';
    // What the tool itself found overwrites nothing a person did.
    case 'plan.made':
    case 'plan.refused':
      return 'plan';
  }
}

/** Own events that somebody else's newer ones would have been overwritten by; empty: both can stand. */
export function findClashes(own: readonly Pick<NewCaseEvent, 'kind' | 'data'>[], newer: readonly Pick<NewCaseEvent, 'kind' | 'data'>[]): readonly string[] {
  const taken = new Set(newer.map(nameSubject));
  return [...new Set(own.map(nameSubject))].filter((subject) => taken.has(subject));
}
