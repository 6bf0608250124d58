import { fail, succeed } from '../../../core/result.ts';
import { PRINTS_EN } from '../../../core/text/prints-en.ts';
import { readStamp } from '../../cli/clock.ts';
import { makeWhatIfDesk, type WhatIfDesk } from '../../jobs/what-if-desk.ts';
import { findCasePlan } from '../find-case-plan.ts';
import type { Handlers } from '../handler-types.ts';

const MOST_TEXTS = 4;

/** What-ifs of a case's plan. Plans are content: their texts and whose they are are kept, so that a slider asks no store. */
export function makeWhatIfHandlers(desk: WhatIfDesk = makeWhatIfDesk()): Pick<Handlers, 'askWhatIf'> {
  const texts = new Map<string, string>();
  return {
    async askWhatIf({ params: { caseId }, body: { choice, planSha256 }, caller, session }, { store }) {
      const key = `${caseId} ${planSha256}`;
      let planText = texts.get(key);
      if (planText === undefined) {
        const found = await findCasePlan(store, caseId, { planSha256 });
        if (!found.ok) return found;
        const read = await store.readDocument(planSha256);
        if (!read.ok) return read;
        planText = read.value.text;
        texts.set(key, planText);
        for (const old of texts.keys()) if (texts.size > MOST_TEXTS) texts.delete(old);
      }
      const stamp = readStamp();
      if (!stamp.ok) return stamp;
      const answer = await desk.answer(session?.tokenSha256 ?? caller!.personId, { planSha256, planText, choice, stamp: stamp.value });
      return answer === null ? fail('what-if-overtaken', PRINTS_EN.overtaken, PRINTS_EN.overtakenNext) : answer.ok ? succeed(answer.value) : answer;
    },
  };
}
