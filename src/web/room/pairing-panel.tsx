import { useEffect, useState } from 'preact/hooks';
import { formatText } from '../../core/text/catalogue.ts';
import { ROOM_EN } from '../../core/text/room-en.ts';
import { callApi, type ApiAnswer, type ApiFailure } from '../api/call-api.ts';
import { FailureNotice } from '../parts/notice.tsx';
import { nameOf } from '../state/names.ts';
import { isOnline } from '../state/room-log.ts';
import { QrPicture } from './qr-picture.tsx';
import { formatClock, formatSpan, useNow } from './times.ts';

type Kind = 'remote' | 'wall';
type Made = ApiAnswer<'makePairing'> & { readonly kind: Kind };
type Pairing = ApiAnswer<'listPairings'>[number];
const LOOK_MS = 3000;
const LOCAL = new Set(['localhost', '127.0.0.1', '[::1]']);

/** Codes by which a phone or a wall comes into this room, and who is in. The code is in the part of the address that is not sent. */
export function PairingPanel({ caseId }: { readonly caseId: string }) {
  const now = useNow();
  const [made, setMade] = useState<Made | null>(null);
  const [list, setList] = useState<readonly Pairing[]>([]);
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const read = async (): Promise<void> => {
    const answer = await callApi('listPairings', { params: { caseId } });
    if (answer.ok) setList(answer.value);
  };
  useEffect(() => {
    void read();
    const timer = setInterval(() => {
      if (isOnline.peek() && document.visibilityState === 'visible') void read();
    }, LOOK_MS);
    return () => clearInterval(timer);
  }, [caseId]);
  const make = async (kind: Kind): Promise<void> => {
    const answer = await callApi('makePairing', { params: { caseId }, body: { kind } });
    setFailure(answer.ok ? null : answer.failure);
    if (answer.ok) setMade({ ...answer.value, kind });
    void read();
  };
  const end = async (pairingId: string): Promise<void> => {
    const answer = await callApi('endPairing', { params: { caseId, pairingId } });
    setFailure(answer.ok ? null : answer.failure);
    if (made?.pairingId === pairingId) setMade(null);
    void read();
  };
  const mine = list.find((p) => p.pairingId === made?.pairingId);
  const isWaiting = made !== null && (mine === undefined || mine.state === 'waiting') && Date.parse(made.expiresAt) > now;
  return (
    <div class="pairing">
      <div class="tap-row">
        <button type="button" class="tap" onClick={() => void make('remote')}>{ROOM_EN.pairRemote}</button>
        <button type="button" class="tap" onClick={() => void make('wall')}>{ROOM_EN.pairWall}</button>
        <a class="tap button" href={`/wall/${caseId}`} target="_blank" rel="noopener">{ROOM_EN.pairOpenWall}</a>
        <a class="tap button" href={`/remote/${caseId}`} target="_blank" rel="noopener">{ROOM_EN.pairOpenRemote}</a>
      </div>
      {failure && <FailureNotice failure={failure} />}
      {made && isWaiting && <Code made={made} leftMs={Date.parse(made.expiresAt) - now} />}
      {made && !isWaiting && mine?.state !== 'in use' && <p class="soft">{ROOM_EN.pairOver}</p>}
      <ul class="plain pairings">
        {list.filter((p) => p.state !== 'over').map((p) => (
          <li key={p.pairingId}>
            {formatText(ROOM_EN, 'pairLine', { kind: ROOM_EN[`pairKind-${p.kind}`], state: ROOM_EN[`pairState-${p.state}`], who: nameOf(p.by), at: formatClock(p.usedAt ?? p.madeAt) })}{' '}
            <button type="button" class="tap" onClick={() => void end(p.pairingId)}>{ROOM_EN.pairEnd}</button>
          </li>
        ))}
      </ul>
    </div>
  );
}

function Code({ made, leftMs }: { readonly made: Made; readonly leftMs: number }) {
  const address = `${location.origin}/${made.kind}`;
  return (
    <div class="pair-code">
      <QrPicture text={`${address}#${made.code}`} label={ROOM_EN.pairQr} />
      <div>
        <p class="soft">{ROOM_EN.pairCode}</p>
        <p class="code">{made.code}</p>
        <p>{formatText(ROOM_EN, 'pairSay', { address })}</p>
        <p class="soft">{formatText(ROOM_EN, 'pairOnce', { time: formatSpan(leftMs) })}</p>
        {LOCAL.has(location.hostname) && <p class="note">{ROOM_EN.pairLocal}</p>}
      </div>
    </div>
  );
}
