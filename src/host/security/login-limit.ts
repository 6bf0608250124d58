import { RateLimiterMemory, RateLimiterRes } from 'rate-limiter-flexible';
import { hashToken } from './secret-token.ts';

/** Wrong attempts at a password. Counted per account and place, per place, and per account from anywhere. */
export interface LoginLimit {
  /** 0: may try now; otherwise seconds to wait. Counts an attempt as wrong until `forgive`. */
  begin(login: string, address: string): Promise<number>;
  /** The attempt was right: it does not count, and the account's wrong ones from this place are forgotten. */
  forgive(login: string, address: string): Promise<void>;
}
export interface LimitPoints { readonly accountHere: number; readonly place: number; readonly account: number; readonly seconds: number }
/** Somebody who mistypes is not stopped; somebody who guesses gets some hundred tries a day, spread or not. */
const LOGIN_POINTS: LimitPoints = { accountHere: 8, place: 60, account: 40, seconds: 15 * 60 };

export function makeLoginLimit(points: LimitPoints = LOGIN_POINTS): LoginLimit {
  const make = (most: number) => new RateLimiterMemory({ points: most, duration: points.seconds });
  const [here, place, account] = [make(points.accountHere), make(points.place), make(points.account)];
  // Names are not kept as typed: people type passwords into the wrong field.
  const keysOf = (login: string, address: string) => [[here, hashToken(`${address} ${login}`)], [place, address], [account, hashToken(login)]] as const;
  return {
    async begin(login, address) {
      for (const [limiter, key] of keysOf(login, address)) {
        try {
          await limiter.consume(key);
        } catch (refusal) {
          if (refusal instanceof RateLimiterRes) return Math.max(1, Math.ceil(refusal.msBeforeNext / 1000));
          throw refusal;
        }
      }
      return 0;
    },
    async forgive(login, address) {
      const [[one, key], [two, from], [three, anywhere]] = keysOf(login, address);
      await one.delete(key);
      await two.reward(from);
      await three.reward(anywhere);
    },
  };
}
