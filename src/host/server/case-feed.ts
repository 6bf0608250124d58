import type { CaseFeed, CaseNews } from './handler-types.ts';

/** Tells the pages that look at a case what happens to it. One page that fails does not keep the news from others. */
export function makeCaseFeed(): CaseFeed {
  const followers = new Map<string, Set<(news: CaseNews) => void>>();
  return {
    publish(caseId, news) {
      for (const tell of [...(followers.get(caseId) ?? [])]) {
        try {
          tell(news);
        } catch {
          followers.get(caseId)?.delete(tell); // its connection is gone
        }
      }
    },
    follow(caseId, tell) {
      const mine = followers.get(caseId) ?? new Set();
      mine.add(tell);
      followers.set(caseId, mine);
      return () => {
        mine.delete(tell);
        if (mine.size === 0 && followers.get(caseId) === mine) followers.delete(caseId);
      };
    },
  };
}
