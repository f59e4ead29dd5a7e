import { parentPort, workerData } from 'node:worker_threads';
import type { Report, Request, WorkerStart } from './sqlite/protocol.ts';
import { serveReader } from './sqlite/reader.ts';
import { serveWriter } from './sqlite/writer.ts';

/** A worker thread around one connection: SQLite is synchronous, and an fsync on a memory card may take a second. */
const start = workerData as WorkerStart;
const report = (what: Report): void => parentPort?.postMessage(what);
const operations: ReadonlyMap<string, (...args: never[]) => unknown> = new Map(
  Object.entries(start.role === 'writer' ? serveWriter(start, (setAside) => report({ setAside })) : serveReader(start.path)),
);

parentPort?.on('message', ({ id, operation, args }: Request) => {
  try {
    report({ id, result: operations.get(operation)?.(...(args as never[])) });
  } catch (error) {
    const { message, code } = error as { message?: string; code?: string };
    report({ id, failure: { message: message ?? String(error), code: code ?? '' } });
  }
});
