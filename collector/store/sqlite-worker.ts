import { parentPort, workerData } from 'node:worker_threads';
import { fileOperations } from './sqlite/files.ts';
import type { Report, Request, WorkerStart } from './sqlite/protocol.ts';
import { serveReader } from './sqlite/reader.ts';
import { serveWriter } from './sqlite/writer.ts';

/** A worker thread around one connection: SQLite is synchronous, and an fsync on a memory card may take a second. */
const start = workerData as WorkerStart;
const report = (what: Report): void => parentPort?.postMessage(what);
/** Columns are handed over, not copied. */
const columnsOf = (result: unknown): ArrayBuffer[] =>
  Object.values(result ?? {}).flatMap((column) => (column instanceof Float64Array || column instanceof Uint8Array ? [column.buffer as ArrayBuffer] : []));
const serve = {
  writer: () => serveWriter(start, { setAside: (setAside) => report({ setAside }), lost: (lost) => report({ lost }) }),
  reader: () => serveReader(start.path, start.guest),
  files: () => fileOperations,
};
const operations: ReadonlyMap<string, (...args: never[]) => unknown> = new Map(Object.entries(serve[start.role]()));

parentPort?.on('message', ({ id, operation, args }: Request) => {
  try {
    const result = operations.get(operation)?.(...(args as never[]));
    parentPort?.postMessage({ id, result } satisfies Report, columnsOf(result));
  } catch (error) {
    const { message, code } = error as { message?: string; code?: string };
    report({ id, failure: { message: message ?? String(error), code: code ?? '' } });
  }
});
