import { sourceKey } from '../../collector/mqtt/make-source.ts';
import type { MessageSource, SourceHandlers } from '../../collector/mqtt/source.ts';
import { reasonOf } from '../../shared/errors.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';

/** How long until a source that could not be started is tried again, ms. */
const RETRY_MS = 10_000;

export interface SourceKeeperOptions {
  make(file: RigFile): Promise<MessageSource>;
  readonly handlers: SourceHandlers;
  readonly retryMs?: number;
}

/** Keeps running the source of messages that the rig file asks for. */
export interface SourceKeeper {
  /** Connects for the first time, as `follow` does; resolves when that has come about or failed. */
  start(file: RigFile): Promise<void>;
  /** Follows an edited file: connects anew when it asks for another source. One that cannot be started is told as lost and tried again. */
  follow(file: RigFile): void;
  stop(): Promise<void>;
  /** Publishes by the present source; rejects while there is none that is connected. */
  publish: MessageSource['publish'];
}

export function createSourceKeeper({ make, handlers, retryMs = RETRY_MS }: SourceKeeperOptions): SourceKeeper {
  let source: MessageSource | null = null;
  /** What the present source was made for; null when it could not be started. */
  let key: string | null = null;
  /** The newest wish; an older one no longer counts. */
  let wanted: RigFile | null = null;
  let turn: Promise<void> = Promise.resolve();
  let retry: NodeJS.Timeout | null = null;
  let stopped = false;

  async function connect(file: RigFile): Promise<void> {
    const next = sourceKey(file);
    if (next === key || stopped) return;
    key = null;
    await source?.stop();
    source = await make(file);
    await source.start(handlers);
    key = next;
  }

  function follow(file: RigFile): void {
    if (retry) clearTimeout(retry);
    wanted = file;
    turn = turn
      .then(async () => {
        if (file === wanted) await connect(file);
      })
      .catch((error: unknown) => {
        handlers.onStatus('lost', reasonOf(error));
        if (!stopped && file === wanted) retry = setTimeout(() => follow(file), retryMs);
      });
  }

  return {
    async start(file) {
      follow(file);
      await turn;
    },
    follow,
    async stop() {
      stopped = true;
      await turn;
      if (retry) clearTimeout(retry);
      await source?.stop();
    },
    async publish(...message) {
      if (source === null) throw new Error('there is no broker yet');
      await source.publish(...message);
    },
  };
}
