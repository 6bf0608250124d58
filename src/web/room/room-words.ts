/** A logged moment as hours, minutes and seconds on this machine. */
export function sayClock(iso: string): string {
  const at = new Date(iso);
  if (Number.isNaN(at.getTime())) return iso;
  return [at.getHours(), at.getMinutes(), at.getSeconds()].map((n) => String(n).padStart(2, '0')).join(':');
}
/** A moment beside a fact: the time when it is of the same day, else the day. */
export function sayFactTime(iso: string, nowMs: number): string {
  const day = iso.slice(0, 10);
  return day === new Date(nowMs).toISOString().slice(0, 10) ? sayClock(iso) : day;
}
