import type { SendResult } from '../../shared/ports.ts';
import { PRIORITIES } from '../../shared/schema/alarm.ts';
import type { Notice, OutboxEntry } from '../../shared/schema/notice.ts';
import type { EpochMs } from '../../shared/units.ts';
import { backoffMs, waitSeed } from './backoff.ts';

/** What is on its way and what came of it, the oldest first. Entries are never changed, only replaced, so that a changed one is told by identity. */
export type Outbox = readonly OutboxEntry[];

/** Entries kept at most; a finished one is kept for a week at most. */
export const MOST_ENTRIES = 300;
const FINISHED_KEPT_MS = 7 * 86_400_000;

/** Notices with the same subject take each other's place while they wait: one alarm, or one kind of news; what checks find is news of its own. */
const subjectOf = ({ alarmId, kind, eventId }: Notice): string => alarmId ?? (kind === 'check' ? `/${eventId}` : `/${kind}`);
/** One device of a route. */
export const doorOf = ({ route, target }: Pick<OutboxEntry, 'route' | 'target'>): string => `${route} ${target}`;

const mapped = (outbox: Outbox, change: (entry: OutboxEntry) => OutboxEntry): Outbox => {
  const next = outbox.map(change);
  return next.some((entry, at) => entry !== outbox[at]) ? next : outbox;
};
const finished = (entry: OutboxEntry, state: OutboxEntry['state'], nowMs: EpochMs, reason: string): OutboxEntry => ({
  ...entry,
  state,
  changedMs: nowMs,
  reason: reason.slice(0, 300),
});

/** Adds a notice for one target. What waits there on the same subject gives way to it; one that is known by its id changes nothing. */
export function added(outbox: Outbox, entry: OutboxEntry): Outbox {
  if (outbox.some(({ id }) => id === entry.id)) return outbox;
  const gaveWay = mapped(outbox, (old) =>
    old.state === 'waiting' && doorOf(old) === doorOf(entry) && subjectOf(old.notice) === subjectOf(entry.notice)
      ? finished(old, 'replaced', entry.changedMs, 'newer news took its place')
      : old,
  );
  return [...gaveWay, entry];
}

/** Takes back what waits about an alarm that needs nobody any more. */
export const withdrawn = (outbox: Outbox, alarmId: string, nowMs: EpochMs, reason: string): Outbox =>
  mapped(outbox, (entry) =>
    entry.state === 'waiting' && entry.notice.kind === 'alarm' && entry.notice.alarmId === alarmId ? finished(entry, 'replaced', nowMs, reason) : entry,
  );

/** Gives what waits about an alarm the words and the expiry of now, so that whatever arrives late is true. */
export const refreshed = (outbox: Outbox, alarmId: string, occurrence: number, words: Partial<Notice>): Outbox =>
  mapped(outbox, (entry) => {
    const { notice, state } = entry;
    if (state !== 'waiting' || notice.kind !== 'alarm' || notice.alarmId !== alarmId || notice.occurrence !== occurrence) return entry;
    return { ...entry, notice: { ...notice, ...words } };
  });

/** What an attempt came to. One that got through counts even when newer news had taken its place meanwhile. */
export function attempted(outbox: Outbox, id: string, result: SendResult, nowMs: EpochMs): Outbox {
  const tried = outbox.find((entry) => entry.id === id);
  if (!tried) return outbox;
  const attempts = tried.attempts + 1;
  const reason = result.kind === 'sent' ? result.detail : result.reason;
  const after = (entry: OutboxEntry): OutboxEntry => {
    const counted = { ...entry, attempts };
    if (result.kind === 'sent') return finished(counted, 'delivered', nowMs, reason);
    if (entry.state !== 'waiting') return counted;
    if (result.kind !== 'later') return finished(counted, 'failed', nowMs, reason);
    const waitMs = backoffMs(attempts, result.afterMs ?? null, waitSeed(id, attempts));
    return { ...finished(counted, 'waiting', nowMs, reason), nextMs: nowMs + waitMs };
  };
  return mapped(outbox, (entry) => {
    if (entry.id === id) return after(entry);
    return result.kind === 'gone' && entry.state === 'waiting' && doorOf(entry) === doorOf(tried) ? finished(entry, 'failed', nowMs, reason) : entry;
  });
}

/** Ends what has outlived its use. */
export const expired = (outbox: Outbox, nowMs: EpochMs): Outbox =>
  mapped(outbox, (entry) =>
    entry.state === 'waiting' && entry.notice.expiresMs <= nowMs
      ? finished(entry, 'expired', nowMs, entry.reason === '' ? 'its time was over' : `its time was over; ${entry.reason}`)
      : entry,
  );

/** Notes that a device itself said that it showed a notice. */
export const received = (outbox: Outbox, noticeId: string, nowMs: EpochMs): Outbox =>
  mapped(outbox, (entry) =>
    entry.notice.noticeId === noticeId && entry.receivedMs === null
      ? { ...finished(entry, 'delivered', nowMs, entry.reason || 'the device said that it showed it'), receivedMs: nowMs }
      : entry,
  );

const shifted = (entry: OutboxEntry, byMs: number): OutboxEntry => ({
  ...entry,
  nextMs: entry.nextMs + byMs,
  changedMs: entry.changedMs + byMs,
  notice: { ...entry.notice, expiresMs: entry.notice.expiresMs + byMs },
});

/** Moves all that lies ahead with a clock that was set, so that a jump makes nothing expire and holds nothing back. */
export const moved = (outbox: Outbox, byMs: number): Outbox => mapped(outbox, (entry) => (entry.state === 'waiting' ? shifted(entry, byMs) : entry));

/** After a time of which nobody knows how long it was: each entry goes on from when it was last changed, which is by the clock of then. */
export const awoken = (outbox: Outbox, nowMs: EpochMs): Outbox =>
  mapped(outbox, (entry) => (entry.state === 'waiting' && entry.changedMs !== nowMs ? shifted(entry, nowMs - entry.changedMs) : entry));

const rankOf = ({ notice }: OutboxEntry): number => PRIORITIES.indexOf(notice.priority);

/** What may be tried now: one for each target that has none under way (`busy`, by `doorOf`), the most pressing first. */
export function due(outbox: Outbox, nowMs: EpochMs, busy: ReadonlySet<string>): readonly OutboxEntry[] {
  const best = new Map<string, OutboxEntry>();
  for (const entry of outbox) {
    const door = doorOf(entry);
    if (entry.state !== 'waiting' || entry.nextMs > nowMs || entry.notice.expiresMs <= nowMs || busy.has(door)) continue;
    const known = best.get(door);
    if (!known || rankOf(entry) > rankOf(known)) best.set(door, entry);
  }
  return [...best.values()];
}

/** Drops what is finished and old, and what is too much: first the oldest that is finished, then the oldest of the least pressing. */
export function trimmed(outbox: Outbox, nowMs: EpochMs): Outbox {
  const young = outbox.filter(({ state, changedMs }) => state === 'waiting' || nowMs - changedMs < FINISHED_KEPT_MS);
  const excess = young.length - MOST_ENTRIES;
  if (excess <= 0) return young.length === outbox.length ? outbox : young;
  const worth = (entry: OutboxEntry): number => (entry.state === 'waiting' ? 1 + rankOf(entry) : 0);
  const drop = new Set([...young].sort((a, b) => worth(a) - worth(b) || a.changedMs - b.changedMs).slice(0, excess));
  return young.filter((entry) => !drop.has(entry));
}
