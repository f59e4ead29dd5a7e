import { reasonOf } from '../../shared/errors.ts';
import { OneAtATime } from '../../shared/one-at-a-time.ts';
import type { DocumentStore } from '../../shared/ports.ts';
import { type WatchOrder, WatchView } from '../../shared/schema/watch-mode.ts';
import type { EpochMs } from '../../shared/units.ts';
import { logEntry } from './alarm-log.ts';
import { heartbeatOk, mutedAlarms, mutedText, refusalsOf, type WatchSituation } from './watch-refusals.ts';

const KIND = 'watch';
/** A person may be so late before it counts as unable to come back, ms. */
const GRACE_MS = 15 * 60_000;
const Armed = WatchView.shape.armed.unwrap();
type ArmedWatch = NonNullable<WatchView['armed']>;

/** The watch as an earlier run left it. `unreadable`: something is kept, and cannot be read. */
export interface KeptWatch {
  readonly armed: ArmedWatch | null;
  readonly unreadable: boolean;
}

/** What the engine hears of the watch; null while it is not armed. */
export interface WatchFacts {
  readonly thermometers: readonly string[];
  readonly warmestC: number;
  readonly coldestC: number;
  readonly heartbeatOk: boolean;
  readonly routeOk: boolean;
  /** The person meant to be back more than a quarter of an hour ago. */
  readonly overdue: boolean;
  /** Alarms of the watch that cannot call, and why, in words. */
  readonly muted: readonly string[];
}

/** The watch over somebody inside who cannot leave: armed only on what can be trusted, on disk before it counts, ended by a person alone. */
export interface WatchMode {
  /** Resolves with why it was refused, '' when it is armed and on disk; what was armed before stays so when it is refused. */
  arm(order: WatchOrder, by: string, situation: WatchSituation): Promise<string>;
  /** Likewise; refused when it is not armed. Where the store fails it is disarmed all the same, and armed again after a restart. */
  disarm(by: string, nowMs: EpochMs): Promise<string>;
  view(situation: WatchSituation): WatchView;
  facts(situation: WatchSituation): WatchFacts | null;
}

export async function loadWatch(store: DocumentStore, rigId: string): Promise<KeptWatch> {
  const body = await store.get(KIND, rigId);
  if (body === null) return { armed: null, unreadable: false };
  try {
    return { armed: Armed.nullable().parse(JSON.parse(body)), unreadable: false };
  } catch {
    return { armed: null, unreadable: true };
  }
}

export interface WatchModeOptions {
  readonly store: DocumentStore;
  readonly rigId: string;
  readonly kept: KeptWatch;
  readonly nowMs: EpochMs;
  warn(what: string): void;
}

/** An armed watch goes on after a restart, and says so in the log and on the screens. */
export function createWatchMode({ store, rigId, kept, nowMs: startMs, warn }: WatchModeOptions): WatchMode {
  let armed = kept.armed;
  let resumed = armed !== null;
  /** Somebody has armed it since the start. */
  let wasArmed = false;
  const turns = new OneAtATime();

  const deed = (tMs: EpochMs, by: string, what: string) => logEntry({ kind: 'deed', tMs, by, what });
  const keep = (next: ArmedWatch | null, tMs: EpochMs, by: string, what: string) =>
    store.put([{ kind: KIND, id: rigId, tMs, body: JSON.stringify(next) }, deed(tMs, by, what)]);

  function notes(nowMs: EpochMs): string[] {
    if (!armed)
      return kept.unreadable && !wasArmed ? ['Whether it was armed before the box restarted cannot be read: arm it again if somebody is inside.'] : [];
    return [
      ...(resumed ? ['The box has restarted since it was armed. The watch went on.'] : []),
      ...(nowMs > armed.untilMs ? ['The time when you meant to be back has passed. It stays armed until somebody disarms it.'] : []),
    ];
  }

  if (kept.unreadable) warn('whether the watch over somebody inside was armed cannot be read: arm it again if somebody is inside');
  if (armed) {
    warn('the watch over somebody inside is armed and goes on after a restart');
    void store.put([deed(startMs, '', 'the watch over somebody inside went on after a restart')]).catch(() => {});
  }

  return {
    arm: ({ thermometers, warmestC, coldestC, untilMs, near }, by, situation) =>
      turns.take(async () => {
        const order = { thermometers, warmestC, coldestC, untilMs, near };
        const refusals = refusalsOf(order, situation);
        if (refusals.length > 0) return refusals.join('\n');
        const next = { ...order, sinceMs: situation.nowMs, by };
        const minutes = Math.round((untilMs - situation.nowMs) / 60_000);
        try {
          await keep(next, situation.nowMs, by, `armed the watch over somebody inside for ${minutes} min, cautions read; near: ${near}`);
        } catch (error) {
          warn(`the watch could not be kept and was not armed: ${reasonOf(error)}`);
          return 'It cannot be kept on the box now, so it would end with a power cut: see in the log of the box why, and mend that first.';
        }
        armed = next;
        wasArmed = true;
        resumed = false;
        return '';
      }),
    disarm: (by, nowMs) =>
      turns.take(async () => {
        if (!armed) return 'The watch is not armed.';
        armed = null;
        await keep(null, nowMs, by, 'disarmed the watch over somebody inside').catch((error: unknown) => {
          warn(`the watch is disarmed, but that could not be kept, so a restart arms it again: ${reasonOf(error)}`);
        });
        return '';
      }),
    view: (situation) => ({
      armed,
      thermometers: situation.thermometers.map(({ signal, label, valueC, fresh }) => ({ signal, label, valueC, fresh })),
      refusals: refusalsOf(null, situation).map((text) => text.slice(0, 300)),
      notes: notes(situation.nowMs),
    }),
    facts(situation) {
      if (!armed) return null;
      const { reach, nowMs } = situation;
      return {
        thermometers: armed.thermometers,
        warmestC: armed.warmestC,
        coldestC: armed.coldestC,
        heartbeatOk: heartbeatOk(situation),
        routeOk: reach?.routes.some(({ remote, state }) => remote && state === 'works') ?? false,
        overdue: nowMs > armed.untilMs + GRACE_MS,
        muted: mutedAlarms(situation).map(({ title, suppression }) => `"${title}" is ${mutedText(suppression)}`),
      };
    },
  };
}
