import { createWorkerClient } from './sqlite/call.ts';
import type { FileOperations, WorkerStart } from './sqlite/protocol.ts';
import { startThread } from './thread.ts';

/** The same operations, each in a thread of its own, so that neither the store nor anything else waits for it. */
export type StoreFiles = { readonly [K in keyof FileOperations]: (...args: Parameters<FileOperations[K]>) => Promise<ReturnType<FileOperations[K]>> };

const start = () => startThread('./sqlite-worker', import.meta.url, { role: 'files', path: '', guest: true, mostBytes: null } satisfies WorkerStart);

async function once<T>(call: (client: ReturnType<typeof createWorkerClient<FileOperations>>) => Promise<T>): Promise<T> {
  const client = createWorkerClient<FileOperations>(start, () => undefined);
  try {
    return await call(client);
  } finally {
    await client.stop();
  }
}

/** Copies, looks through and completes files of the embedded store. Rejects with SQLite's own error. */
export const storeFiles: StoreFiles = {
  copy: (...args) => once((client) => client.call('copy', ...args)),
  inspect: (...args) => once((client) => client.call('inspect', ...args)),
  adopt: (...args) => once((client) => client.call('adopt', ...args)),
};
