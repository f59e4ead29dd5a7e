import { randomUUID } from 'node:crypto';
import type { Draft } from '../../engine/notify/notice.ts';
import { added, attempted, due, moved, type Outbox, trimmed } from '../../engine/notify/outbox.ts';
import type { EngineTime, Sender, SendResult } from '../../shared/ports.ts';
import type { LogLine } from '../../shared/schema/alarm-book.ts';
import type { OutboxEntry } from '../../shared/schema/notice.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { RigClock } from './clock.ts';
import { createCourier } from './courier.ts';
import type { Beside } from './keeper.ts';
import { type Document, documentOf, entryDocument, OUTBOX_KIND } from './notified.ts';

type Delivery = Extract<LogLine, { kind: 'delivery' }>;
/** Whether a target of a route is meant. */
export type IsMeant = (route: string, target: string) => boolean;

/** The outbox on its way: nothing goes before it is on disk, or the store fails. */
export interface Dispatch {
  outbox(): Outbox;
  isUnderWay(entryId: string): boolean;
  /** One entry for each target of the routes. */
  entriesFor(routes: readonly string[], what: Draft, key: string, nowMs: EpochMs, isMeant?: IsMeant): OutboxEntry[];
  /** Takes a new outbox, and gives what of it must be on disk first. */
  take(next: Outbox, nowMs: EpochMs): Beside;
  /** Posts news that is about no alarm, in one with what must be kept beside it. */
  post(routes: readonly string[], what: Draft, options?: { readonly isMeant?: IsMeant; readonly beside?: readonly Document[] }): void;
  /** What came of a notice, for the log. */
  line(entry: OutboxEntry, state: Delivery['state'], tMs: EpochMs): Document;
  /** Sends what is due, without waiting for it. */
  pump(): void;
  /** Settled when nothing is under way. */
  idle(): Promise<void>;
}

export interface DispatchOptions {
  readonly outbox: Outbox;
  readonly clock: RigClock;
  senders(): ReadonlyMap<string, Sender>;
  keep(documents: readonly Document[]): Promise<void>;
  drop(kind: string, ids: readonly string[]): void;
  /** The outbox with an entry as it should go now; null when it is not known yet whether it should. */
  renewed(outbox: Outbox, entry: OutboxEntry, time: EngineTime): Outbox | null;
  /** Called when the wall clock was set; what must be kept since then. */
  onJump(time: EngineTime): readonly Document[];
  onResult(entry: OutboxEntry, result: SendResult, nowMs: EpochMs): void;
  readonly closing: AbortSignal;
}

/** The wall clock was set when it moved so far against the monotonic one. */
const JUMP_MS = 60_000;

export function createDispatch(options: DispatchOptions): Dispatch {
  const { clock, senders, keep, closing } = options;
  let { outbox } = options;
  /** Ids of entries that are not on disk yet. */
  const unkept = new Set<string>();
  let seenAt: EngineTime = clock.now();
  const courier = createCourier({ senders, onResult, closing });

  /** Takes a new outbox; gives the documents of what is new in it. */
  function replace(next: Outbox, nowMs: EpochMs): { readonly documents: readonly Document[]; readonly added: readonly string[] } {
    const before = new Set(outbox);
    const known = new Set(outbox.map(({ id }) => id));
    const kept = trimmed(next, nowMs);
    const ids = new Set(kept.map(({ id }) => id));
    options.drop(
      OUTBOX_KIND,
      [...known].filter((id) => !ids.has(id)),
    );
    outbox = kept;
    const documents = kept.filter((entry) => !before.has(entry)).map(entryDocument);
    return { documents, added: [...ids].filter((id) => !known.has(id)) };
  }

  function take(next: Outbox, nowMs: EpochMs): Beside {
    if (next === outbox) return { documents: [], kept: pump };
    const { documents, added: fresh } = replace(next, nowMs);
    for (const id of fresh) unkept.add(id);
    const kept = (): void => {
      for (const id of fresh) unkept.delete(id);
      pump();
    };
    return { documents, kept };
  }

  function entriesFor(routes: readonly string[], what: Draft, key: string, nowMs: EpochMs, isMeant: IsMeant = () => true): OutboxEntry[] {
    return routes.flatMap((route) =>
      (senders().get(route)?.targets() ?? [])
        .filter(({ id }) => isMeant(route, id))
        .map(({ id, name }) => ({
          id: `${route}/${id}/${key}`,
          route,
          target: id,
          targetName: name.slice(0, 64),
          notice: { ...what, noticeId: randomUUID() },
          state: 'waiting' as const,
          attempts: 0,
          nextMs: nowMs,
          changedMs: nowMs,
          reason: '',
          receivedMs: null,
        })),
    );
  }

  /** Follows a clock that was set. */
  function follow(time: EngineTime): void {
    const jumpMs = time.bootId === seenAt.bootId ? time.wallMs - seenAt.wallMs - (time.monoMs - seenAt.monoMs) : 0;
    seenAt = time;
    if (Math.abs(jumpMs) < JUMP_MS) return;
    void keep([...replace(moved(outbox, jumpMs), time.wallMs).documents, ...options.onJump(time)]);
  }

  function pump(): void {
    if (closing.aborted) return;
    const time = clock.now();
    follow(time);
    for (const entry of due(outbox, time.wallMs, courier.busy())) {
      if (unkept.has(entry.id)) continue;
      const next = options.renewed(outbox, entry, time);
      if (next === null) continue;
      if (next !== outbox) void keep(replace(next, time.wallMs).documents);
      const newest = outbox.find(({ id }) => id === entry.id);
      if (newest) courier.carry(newest);
    }
  }

  function onResult(entry: OutboxEntry, result: SendResult): void {
    // Stopped meanwhile: as good as not tried.
    if (closing.aborted && result.kind === 'later') return;
    const { wallMs } = clock.now();
    const { documents } = replace(attempted(outbox, entry.id, result, wallMs), wallMs);
    const after = outbox.find(({ id }) => id === entry.id);
    const isNews = after !== undefined && (after.state !== 'waiting' || after.reason !== entry.reason);
    void keep(isNews ? [...documents, line(after, after.state, wallMs)] : documents);
    options.onResult(entry, result, wallMs);
    pump();
  }

  let lines = 0;
  function line(entry: OutboxEntry, state: Delivery['state'], tMs: EpochMs): Document {
    const { notice, route, targetName, attempts, reason } = entry;
    const said: Delivery = { kind: 'delivery', tMs, alarmId: notice.alarmId, route, targetName, what: notice.title, state, attempts, reason };
    lines += 1;
    // Those of one moment stay in their order.
    return documentOf('alarm-log', `${tMs} ${String(lines).padStart(6, '0')} ${entry.id}`, tMs, said);
  }

  return {
    outbox: () => outbox,
    isUnderWay: courier.isUnderWay,
    entriesFor,
    take,
    line,
    post(routes, what, { isMeant, beside = [] } = {}) {
      const nowMs = clock.now().wallMs;
      const { documents, kept } = take(entriesFor(routes, what, what.eventId, nowMs, isMeant).reduce(added, outbox), nowMs);
      void keep([...documents, ...beside]).then(kept);
    },
    pump,
    idle: courier.idle,
  };
}
