import type { RigStore } from '../../shared/ports.ts';
import { mayPass } from './disk-faults.ts';

/** How often a store that could not be opened is tried again, ms. */
const RETRY_MS = 10_000;

export interface Meanwhile {
  /** Open; closed when it is needed no longer. */
  readonly store: RigStore;
  /** Something was kept before that this does not hold. */
  readonly isUnread: boolean;
}

export interface LateStoreOptions {
  /** The store itself, not open. */
  readonly store: RigStore;
  /** Opens it, and takes what it needs for that. Tried again while it fails by something that may pass. */
  open(): Promise<void>;
  /** Called when it cannot be opened at first. Gives what is read from meanwhile. */
  meanwhile(why: unknown): Promise<Meanwhile>;
  /** Called once it could be opened after all. `isUnread`: what was kept before can be read only now. */
  onOpened(isUnread: boolean): void;
  readonly retryMs?: number;
}

/** Documents that stand for all that was ever learned or set: of a run that began without them they are not kept. */
const WHOLE: ReadonlySet<string> = new Set(['engine', 'learned', 'alarms']);

/**
 * A store that opens also when its disk is full, read-only or failing: reads are answered by what there is meanwhile, writes are refused, so that
 * whoever writes holds back what it has, and as soon as the disk takes it again everything goes to the store itself.
 */
export function createLateStore({ store, open, meanwhile, onOpened, retryMs = RETRY_MS }: LateStoreOptions): RigStore {
  let why: unknown = null;
  let instead: Meanwhile | null = null;
  let timer: NodeJS.Timeout | null = null;
  let trying: Promise<void> = Promise.resolve();

  async function tryAgain(): Promise<void> {
    try {
      await open();
    } catch (error) {
      why = error;
      return;
    }
    why = null;
    stopTrying();
    await instead?.store.close().catch(() => undefined);
    onOpened(instead?.isUnread ?? false);
  }

  function stopTrying(): void {
    if (timer) clearInterval(timer);
    timer = null;
  }

  const write = async <T>(work: () => Promise<T>): Promise<T> => {
    if (why !== null) throw why;
    return work();
  };
  const from = (): RigStore => (why !== null && instead ? instead.store : store);
  const toKeep = (entries: Parameters<RigStore['put']>[0]) => (instead?.isUnread ? entries.filter(({ kind }) => !WHOLE.has(kind)) : entries);

  return {
    supports: store.supports,
    async open() {
      try {
        await open();
      } catch (error) {
        if (!mayPass(error)) throw error;
        why = error;
        instead = await meanwhile(error);
        timer = setInterval(() => {
          trying = trying.then(() => (timer ? tryAgain() : undefined));
        }, retryMs);
      }
    },
    async close() {
      stopTrying();
      await trying;
      await from().close();
    },
    append: (readings) => write(() => store.append(readings)),
    put: (entries) => write(() => store.put(toKeep(entries))),
    remove: (kind, id) => write(() => store.remove(kind, id)),
    retain: (rigId, beforeMs) => write(() => store.retain(rigId, beforeMs)),
    range: (...args) => from().range(...args),
    buckets: (...args) => from().buckets(...args),
    minutes: (...args) => from().minutes(...args),
    latest: (...args) => from().latest(...args),
    get: (...args) => from().get(...args),
    list: (...args) => from().list(...args),
    facts: (rigId) => from().facts(rigId),
  };
}
