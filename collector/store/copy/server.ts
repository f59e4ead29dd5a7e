import { Agent as HttpAgent } from 'node:http';
import { Agent as HttpsAgent } from 'node:https';
import { InfluxDB, setLogger } from '@influxdata/influxdb-client';
import { authorization, type CopyServerAt } from './target.ts';

// What goes wrong is told by the rejection; the library would write each failure to the console.
setLogger({ error() {}, warn() {} });

/** From when on a request is packed, bytes. */
const GZIP_FROM_BYTES = 1000;

/** The writing side of a server. */
export interface CopyServer {
  /** Writes some lines in one request. Resolves when the server has taken them; rejects with the library's HttpError, or what the network said. */
  send(lines: readonly string[]): Promise<void>;
  /** Breaks off what is under way. */
  close(): void;
}

/**
 * @param limitMs  a request that takes longer is broken off, however slowly it still moves
 */
export function openCopyServer({ target, secrets }: CopyServerAt, limitMs: number): CopyServer {
  const agent = target.url.startsWith('https:') ? new HttpsAgent({ keepAlive: true }) : new HttpAgent({ keepAlive: true });
  const underWay = new Set<AbortController>();

  /** A writer that keeps, repeats and sends nothing by itself: its one flush is one request, and settles with it. */
  function writer(room: number, signal: AbortSignal) {
    const client = new InfluxDB({ url: target.url, timeout: limitMs, headers: authorization(secrets), transportOptions: { agent, signal } });
    return client.getWriteApi(target.org ?? '', target.bucket ?? '', 'ms', {
      batchSize: room + 1,
      maxBatchBytes: Number.POSITIVE_INFINITY,
      flushInterval: 0,
      maxRetries: 0,
      gzipThreshold: GZIP_FROM_BYTES,
    });
  }

  return {
    async send(lines) {
      const abort = new AbortController();
      const timer = setTimeout(() => abort.abort(), limitMs);
      underWay.add(abort);
      const writes = writer(lines.length, abort.signal);
      try {
        writes.writeRecords(lines as string[]);
        await writes.flush();
      } finally {
        clearTimeout(timer);
        underWay.delete(abort);
        writes.dispose();
      }
    },
    close() {
      for (const abort of underWay) abort.abort();
      agent.destroy();
    },
  };
}
