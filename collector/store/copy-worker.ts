import { parentPort, workerData } from 'node:worker_threads';
import type { CopyView } from '../../shared/schema/copy.ts';
import { type Copier, createCopier } from './copy/copier.ts';
import { lineOf } from './copy/lines.ts';
import { type Outbox, openOutbox } from './copy/outbox.ts';
import type { Packed } from './copy/pack.ts';
import type { CopyOperations, CopyStart } from './copy/protocol.ts';
import { openCopyServer } from './copy/server.ts';
import { watchServer } from './copy/server-facts.ts';
import { viewOf } from './copy/view.ts';
import type { Report, Request } from './sqlite/protocol.ts';

/** The copy's own thread: its outbox waits for the disk, and lines are made and packed, beside everything else. */
const { at, path, limitBytes, keepAfterMs, perSecond, requestLimitMs } = workerData as CopyStart;
const monoMs = () => performance.now();
const server = openCopyServer(at, requestLimitMs);
const watch = watchServer(at, monoMs);
let open: { readonly outbox: Outbox; readonly copier: Copier } | null = null;

const clock = {
  monoMs,
  random: Math.random,
  after(delayMs: number, action: () => void) {
    const timer = setTimeout(action, delayMs);
    return () => clearTimeout(timer);
  },
};

function opened(): NonNullable<typeof open> {
  if (open) return open;
  const outbox = openOutbox(path, limitBytes);
  if (outbox.setAside !== null) report({ setAside: outbox.setAside });
  watch.look();
  open = { outbox, copier: createCopier({ outbox, server, clock, keepAfterMs, perSecond, onTaken: watch.look }) };
  return open;
}

const view = ({ outbox, copier }: NonNullable<typeof open>): CopyView => viewOf(copier.state(), outbox.facts(), watch.remarks());

const operations: CopyOperations = {
  push({ series, seriesAt, tMs, value, mark }) {
    const running = opened();
    const line = (time: number, i: number) => {
      const [rigId, signal] = series[seriesAt[i] as number] as Packed['series'][number];
      return lineOf(rigId, signal, time, value[i] as number, mark[i] as number);
    };
    running.copier.take(Array.from(tMs, line));
    return view(running);
  },
  async close() {
    await open?.copier.close();
    server.close();
    open?.outbox.close();
    open = null;
  },
};

const report = (what: Report): void => parentPort?.postMessage(what);
parentPort?.on('message', async ({ id, operation, args }: Request) => {
  try {
    report({ id, result: await (operations[operation as keyof CopyOperations] as (...given: readonly unknown[]) => unknown)(...args) });
  } catch (error) {
    const { message, code } = error as { message?: string; code?: string };
    report({ id, failure: { message: message ?? String(error), code: code ?? '' } });
  }
});
