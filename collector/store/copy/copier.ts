import { reasonOf } from '../../../shared/errors.ts';
import { backoffMs } from '../../mqtt/backoff.ts';
import { type Delivery, deliver, NotDelivered, type Refused } from './deliver.ts';
import { timeOfLine } from './lines.ts';
import type { Outbox } from './outbox.ts';
import type { Parcel } from './parcels.ts';
import { ALL_REFUSED, createRefusals } from './refusals.ts';
import type { CopyServer } from './server.ts';

/** Time and chance, handed in. */
export interface CopierClock {
  /** Monotonic, ms. */
  monoMs(): number;
  after(delayMs: number, action: () => void): () => void;
  random(): number;
}

export interface CopierOptions {
  readonly outbox: Outbox;
  readonly server: Pick<CopyServer, 'send'>;
  readonly clock: CopierClock;
  /** What has not been taken by then is put by on disk, ms. */
  readonly keepAfterMs: number;
  /** Most readings a second while the past is made up for. */
  readonly perSecond: number;
  /** Told after the server has taken something. */
  readonly onTaken?: () => void;
}

/** Where the sending stands. */
export interface CopierState {
  readonly standing: 'starting' | 'going' | 'waiting' | 'paused';
  /** Why it waits or is paused; '' otherwise. */
  readonly why: string;
  /** Readings not yet on disk, and the time of the oldest. */
  readonly held: number;
  readonly heldSinceMs: number | null;
  /** Readings lost because the disk did not take them. */
  readonly lost: number;
  /** Why the disk does not take them; '' when it does. */
  readonly diskFault: string;
}

/** Sends readings to a server: the present first and straight from memory, what the server missed from the outbox behind it. */
export interface Copier {
  take(lines: readonly string[]): void;
  state(): CopierState;
  /** Stops, with all that was not taken on disk; what is under way has a moment to be taken. */
  close(): Promise<void>;
}

/** Lines of one request. */
const MOST_LINES = 5000;
/** Lines with which a server is asked whether it is well again. */
const PROBE_LINES = 500;
/** Longest time without looking at what is due, ms. */
const MOST_STILL_MS = 1000;
/** Lines in memory from which on the older ones go to disk, however new they are. */
const MOST_AT_HAND = 20_000;
/** Lines held in memory while the disk takes none; about 3 h at 20 a second. */
const MOST_HELD = 200_000;
/** A server that refuses is asked again after this, ms: a right may have been given back there. */
const PAUSE_MS = 600_000;
const MOST_WAIT_MS = 60_000;
/** A request under way at the end is waited for so long, ms. */
const LAST_WAIT_MS = 2000;
/** When the server has refused all of a request of the past, the present has so long to tell whether it takes anything, ms. */
const PRESENT_TELLS_MS = 10_000;

/** What is on its way to the server. `seq`: its parcel, once it has been put by. */
interface UnderWay {
  readonly lines: readonly string[];
  readonly sinceMono: number;
  seq: number | null;
}

export function createCopier({ outbox, server, clock, keepAfterMs, perSecond, onTaken = () => {} }: CopierOptions): Copier {
  /** The present: what has come and is neither under way nor on disk. */
  let head: string[] = [];
  let headSinceMono = 0;
  let live: UnderWay | null = null;
  let isPastUnderWay = false;
  let pastFromMono = Number.NEGATIVE_INFINITY;
  let standing: CopierState['standing'] = 'starting';
  let why = '';
  let attempts = 0;
  let tryFromMono = Number.NEGATIVE_INFINITY;
  let lost = 0;
  let diskFault = '';
  let isUnsettled = false;
  let closed = false;
  let callOff = () => {};
  const refusals = createRefusals();
  const underWay = new Set<Promise<void>>();

  function follow(sending: Promise<void>): void {
    underWay.add(sending);
    void sending.then(() => underWay.delete(sending));
  }

  /** Puts lines by in a parcel; gives its number, or null where the disk takes none. */
  function putBy(lines: readonly string[]): number | null {
    try {
      const seq = outbox.add(lines);
      diskFault = '';
      return seq;
    } catch (error) {
      diskFault = reasonOf(error);
      return null;
    }
  }

  /** Puts the oldest by, a parcel at a time: where the disk takes no more, what it has taken is not held any longer. */
  function putHeadBy(butNewest = 0): void {
    const end = head.length - butNewest;
    let at = 0;
    while (at < end && putBy(head.slice(at, Math.min(at + MOST_LINES, end))) !== null) at = Math.min(at + MOST_LINES, end);
    if (at > 0) head = head.slice(at);
  }

  /** What the server is slow or unable to take goes to disk when its time has come. */
  function keepWhatIsDue(nowMono: number): void {
    if (live !== null && live.seq === null && nowMono - live.sinceMono >= keepAfterMs) live.seq = putBy(live.lines);
    if (head.length > 0 && nowMono - headSinceMono >= keepAfterMs) putHeadBy();
    else if (head.length >= MOST_AT_HAND) putHeadBy(MOST_LINES);
    if (isUnsettled) settle([], []);
  }

  /** These are done with, and with them what the disk would not let go before. */
  function settle(parcels: readonly Parcel[], refused: readonly Refused[]): void {
    try {
      outbox.settle(parcels, refused);
      if (isUnsettled) diskFault = '';
      isUnsettled = false;
    } catch (error) {
      isUnsettled = true;
      diskFault = reasonOf(error);
    }
  }

  function succeeded(): void {
    // The past waited to hear this.
    if (refusals.inARow() > 0) pastFromMono = Number.NEGATIVE_INFINITY;
    refusals.took();
    standing = 'going';
    why = '';
    attempts = 0;
    tryFromMono = Number.NEGATIVE_INFINITY;
    onTaken();
  }

  function failed(error: unknown): void {
    if (closed) return;
    const verdict = error instanceof NotDelivered ? error.verdict : { kind: 'trouble' as const, reason: String(error), afterMs: 0 };
    standing = verdict.kind === 'denied' ? 'paused' : 'waiting';
    why = verdict.reason;
    const waitMs = verdict.kind === 'denied' ? PAUSE_MS : Math.max(verdict.afterMs, Math.min(MOST_WAIT_MS, 2 * backoffMs(attempts, clock.random())));
    attempts += 1;
    tryFromMono = clock.monoMs() + waitMs;
  }

  const isAllRefused = ({ taken, refused }: Delivery) => taken === 0 && refused.length > 0;

  /** Nothing of a delivery was taken: what is of it on disk stays there until it is clear whether that is the server or these lines. */
  function allRefused(seqs: readonly number[], { refused }: Delivery): void {
    const isFirst = refusals.inARow() === 0;
    refusals.refused(seqs, refused.length, clock.monoMs());
    pastFromMono = clock.monoMs() + PRESENT_TELLS_MS;
    // A server that has just taken others may refuse one delivery wholly; the next tells.
    if (refusals.inARow() < ALL_REFUSED || (isFirst && standing === 'going')) return;
    failed(new NotDelivered({ kind: 'denied', reason: `the server refuses every reading (${refused.at(-1)?.reason})` }));
  }

  const refusedIn = ({ refused, tooOld }: Delivery): readonly Refused[] =>
    tooOld === null ? refused : [...refused, { line: '', reason: `too old for the server: ${tooOld}` }];

  /** Sends the newest of what is held; what does not fit into a request goes to disk. */
  async function sendHead(): Promise<void> {
    const sent: UnderWay = { lines: head.slice(-MOST_LINES), sinceMono: headSinceMono, seq: null };
    live = sent;
    head = head.slice(0, -MOST_LINES);
    putHeadBy();
    try {
      const delivery = await deliver(sent.lines, server.send);
      if (isAllRefused(delivery)) {
        keep(sent);
        allRefused(sent.seq === null ? [] : [sent.seq], delivery);
      } else {
        settle(sent.seq === null ? [] : [{ ...sent, seq: sent.seq }], refusedIn(delivery));
        succeeded();
      }
    } catch (error) {
      failed(error);
      keep(sent);
    } finally {
      live = null;
      step();
    }
  }

  /** The server has not taken them: to disk, or where that does not take them either, they are held, the newest at most. */
  function keep(sent: UnderWay): void {
    sent.seq ??= putBy(sent.lines);
    if (sent.seq !== null) return;
    head = [...sent.lines, ...head];
    bound();
  }

  function bound(): void {
    const excess = head.length - MOST_HELD;
    if (excess <= 0) return;
    lost += excess;
    head = head.slice(excess);
  }

  /** Parcels that are on their way, or wait for the server to take something else. */
  function notNow(): ReadonlySet<number> {
    const resting = refusals.resting(clock.monoMs());
    return live?.seq == null ? resting : new Set([...resting, live.seq]);
  }

  async function sendPast(): Promise<void> {
    isPastUnderWay = true;
    const startMono = clock.monoMs();
    try {
      const parcels = outbox.oldest(Math.min(standing === 'going' ? MOST_LINES : PROBE_LINES, perSecond), notNow());
      const seqs = parcels.map(({ seq }) => seq);
      const lines = parcels.flatMap((parcel) => parcel.lines);
      const areBad = lines.length > 0 && refusals.areBad(seqs);
      const delivery = await deliver(lines, server.send, areBad ? Number.POSITIVE_INFINITY : ALL_REFUSED);
      pastFromMono = startMono + (lines.length === 0 ? MOST_STILL_MS : (1000 * lines.length) / perSecond);
      if (isAllRefused(delivery) && !(areBad && refusals.areBad(seqs))) return allRefused(seqs, delivery);
      settle(parcels, refusedIn(delivery));
      refusals.forget(seqs);
      if (delivery.taken > 0) succeeded();
    } catch (error) {
      failed(error);
    } finally {
      isPastUnderWay = false;
      step();
    }
  }

  /** Begins whatever may be sent now, and comes back when the next thing is due. While the server is in trouble, one request at a time asks it. */
  function step(): void {
    if (closed) return;
    callOff();
    const nowMono = clock.monoMs();
    keepWhatIsDue(nowMono);
    const mayAsk = standing === 'going' || (nowMono >= tryFromMono && live === null && !isPastUnderWay);
    if (mayAsk && live === null && head.length > 0) follow(sendHead());
    const isPastFree = !isPastUnderWay && nowMono >= pastFromMono && outbox.facts().waiting > (live?.seq == null ? 0 : live.lines.length);
    if (isPastFree && (standing === 'going' || (mayAsk && live === null))) follow(sendPast());
    const dueMono = standing === 'going' && !isPastUnderWay && outbox.facts().waiting > 0 ? pastFromMono : Number.POSITIVE_INFINITY;
    callOff = clock.after(Math.max(1, Math.min(MOST_STILL_MS, dueMono - nowMono)), step);
  }
  callOff = clock.after(0, step);

  return {
    take(lines) {
      if (lines.length === 0) return;
      if (head.length === 0) headSinceMono = clock.monoMs();
      for (const line of lines) head.push(line);
      if (live === null && standing === 'going') step();
      else if (head.length >= MOST_AT_HAND && diskFault === '') putHeadBy(MOST_LINES);
      bound();
    },
    state() {
      const held = live !== null && live.seq === null ? [live.lines, head] : [head];
      const first = held.find((lines) => lines.length > 0)?.[0];
      return {
        standing,
        why,
        held: held.reduce((sum, { length }) => sum + length, 0),
        heldSinceMs: first === undefined ? null : timeOfLine(first),
        lost,
        diskFault,
      };
    },
    async close() {
      closed = true;
      callOff();
      // On disk before anything is waited for: a power cut may come first.
      if (live !== null && live.seq === null) live.seq = putBy(live.lines);
      putHeadBy();
      if (underWay.size === 0) return;
      // What the server takes and nobody hears of would be sent again.
      await new Promise<void>((resolve) => {
        const giveUp = clock.after(LAST_WAIT_MS, resolve);
        void Promise.all(underWay).then(() => {
          giveUp();
          resolve();
        });
      });
    },
  };
}
