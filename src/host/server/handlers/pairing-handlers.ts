import { randomUUID } from 'node:crypto';
import { RateLimiterMemory, RateLimiterRes } from 'rate-limiter-flexible';
import { fail, succeed } from '../../../core/result.ts';
import { formatText } from '../../../core/text/catalogue.ts';
import { ROOM_LOG_EN } from '../../../core/text/room-log-en.ts';
import { hashPairingCode, makePairingCode, PAIRING_LIFE_MS, PAIRING_TRIES, readPairingCode } from '../../security/pairing-code.ts';
import { SCOPED_TIMES } from '../../security/sessions.ts';
import { formatInstant } from '../../security/steady-clock.ts';
import type { StoredPairing } from '../../storage/store-types.ts';
import { findCaller, formatCookie, noteAudit, readCookie, type Door } from '../door.ts';
import type { Handlers } from '../handler-types.ts';
import { describeSession } from './session-handlers.ts';

export type PairingRoute = 'makePairing' | 'usePairing' | 'listPairings' | 'endPairing';
/** Codes and paired screens of one room at once. */
const MOST_PAIRINGS = 10;

/** Walls and remotes come in by a code that a colleague makes at the desk, and may do what their room needs. */
export function makePairingHandlers(door: Door): Pick<Handlers, PairingRoute> {
  const tries = makeTries();
  const describeState = (p: StoredPairing): 'waiting' | 'in use' | 'over' => {
    const nowMs = door.readNow();
    if (p.endedAt !== null) return 'over';
    if (p.usedAt === null) return nowMs < Date.parse(p.expiresAt) ? 'waiting' : 'over';
    return nowMs < Date.parse(p.usedAt) + SCOPED_TIMES[p.kind].longestMs ? 'in use' : 'over';
  };

  return {
    async makePairing({ params: { caseId }, body: { kind }, caller }, { store }) {
      const state = await store.readState(caseId);
      if (!state.ok) return state;
      const known = await store.listPairings(caseId);
      if (!known.ok) return known;
      if (known.value.filter((p) => describeState(p) !== 'over').length >= MOST_PAIRINGS) {
        return fail('pairing-crowd', formatText(ROOM_LOG_EN, 'pairingCrowd', { most: MOST_PAIRINGS }), ROOM_LOG_EN.pairingCrowdNext, { most: MOST_PAIRINGS });
      }
      const code = makePairingCode();
      const nowMs = door.readNow();
      const pairing: StoredPairing = {
        pairingId: randomUUID(), caseId, kind, by: caller!.personId, codeSha256: hashPairingCode(code), madeAt: formatInstant(nowMs), expiresAt: formatInstant(nowMs + PAIRING_LIFE_MS), usedAt: null, endedAt: null,
      };
      const added = await store.addPairing(pairing);
      if (!added.ok) return added;
      const noted = await noteAudit(store, caller!.personId, 'pairing.made', { pairingId: pairing.pairingId, kind }, caseId);
      return noted.ok ? succeed({ pairingId: pairing.pairingId, code, expiresAt: pairing.expiresAt }) : noted;
    },

    async usePairing({ body, address, request }, { store }) {
      // A browser at which somebody is logged in would lose that person's session to a smaller one.
      const here = await findCaller(request.headers, door);
      if (!here.ok) return here;
      if (here.value !== null) return fail('pairing-needless', ROOM_LOG_EN.pairingNeedless, ROOM_LOG_EN.pairingNeedlessNext);
      const waitS = await tries.begin(address);
      if (waitS > 0) {
        const noted = await noteAudit(store, 'nobody', 'pairing.refused', { because: 'too many attempts' });
        return noted.ok ? fail('too-many-attempts', ROOM_LOG_EN.pairingTries, formatText(ROOM_LOG_EN, 'pairingTriesNext', { minutes: Math.ceil(waitS / 60) }), { retryAfterS: waitS }) : noted;
      }
      const code = readPairingCode(body.code);
      const taken = code === null ? succeed(null) : await store.takePairing(hashPairingCode(code));
      if (!taken.ok) return taken;
      const pairing = taken.value;
      const person = pairing === null ? succeed(null) : await store.findPerson({ personId: pairing.by });
      if (!person.ok) return person;
      if (pairing === null || person.value === null || !person.value.isActive) {
        const noted = await noteAudit(store, 'nobody', 'pairing.refused', { because: 'code' });
        return noted.ok ? fail('pairing-unknown', ROOM_LOG_EN.pairingUnknown, formatText(ROOM_LOG_EN, 'pairingUnknownNext', { minutes: PAIRING_LIFE_MS / 60_000 }), {}) : noted;
      }
      await tries.forgive(address);
      const noted = await noteAudit(store, pairing.by, 'pairing.used', { pairingId: pairing.pairingId, kind: pairing.kind }, pairing.caseId);
      if (!noted.ok) return noted;
      const { kind, caseId, pairingId } = pairing;
      const opened = await door.sessions.open(pairing.by, readCookie(request.headers, door.site), { kind, caseId, pairingId });
      if (!opened.ok) return opened;
      const { token, session } = opened.value;
      return succeed(Response.json(describeSession({ person: person.value, session }, door), { headers: { 'Set-Cookie': formatCookie(door.site, token, SCOPED_TIMES[kind].longestMs / 1000) } }));
    },

    async listPairings({ params: { caseId } }, { store }) {
      const state = await store.readState(caseId);
      if (!state.ok) return state;
      const known = await store.listPairings(caseId);
      if (!known.ok) return known;
      return succeed(known.value.map((p) => ({ pairingId: p.pairingId, kind: p.kind, by: p.by, madeAt: p.madeAt, expiresAt: p.expiresAt, usedAt: p.usedAt, state: describeState(p) })));
    },

    async endPairing({ params: { caseId, pairingId }, caller }, { store }) {
      const found = await store.findPairing(pairingId);
      if (!found.ok) return found;
      if (found.value?.caseId !== caseId) return fail('pairing-unknown', ROOM_LOG_EN.pairingGone, ROOM_LOG_EN.pairingGoneNext);
      const noted = await noteAudit(store, caller!.personId, 'pairing.ended', { pairingId }, caseId);
      return noted.ok ? store.endPairing(pairingId) : noted;
    },
  };
}

/** Counts wrong codes from one place and from all; `begin` gives the seconds to wait, 0: may try. */
function makeTries(): { begin(address: string): Promise<number>; forgive(address: string): Promise<void> } {
  const make = (points: number): RateLimiterMemory => new RateLimiterMemory({ points, duration: PAIRING_TRIES.seconds });
  const [here, all] = [make(PAIRING_TRIES.fromHere), make(PAIRING_TRIES.fromAll)];
  const keysOf = (address: string) => [[here, address], [all, 'all']] as const;
  return {
    async begin(address) {
      for (const [limiter, key] of keysOf(address)) {
        try {
          await limiter.consume(key);
        } catch (refusal) {
          if (refusal instanceof RateLimiterRes) return Math.max(1, Math.ceil(refusal.msBeforeNext / 1000));
          throw refusal;
        }
      }
      return 0;
    },
    async forgive(address) {
      for (const [limiter, key] of keysOf(address)) await limiter.reward(key);
    },
  };
}
