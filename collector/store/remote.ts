import { AppError, reasonOf } from '../../shared/errors.ts';
import type { TimeSeriesStore } from '../../shared/ports.ts';
import { checkBuckets, checkMinutes, collectBuckets, collectMinutes, MINUTE_MS, minuteOf } from './buckets.ts';
import { checkReadings, RANGE_LIMIT } from './check.ts';
import { isSafeName, lineOf, markOf, readMark } from './copy/lines.ts';
import { type CopyServer, openCopyServer } from './copy/server.ts';
import type { CopyServerAt } from './copy/target.ts';
import { createLifecycle } from './lifecycle.ts';
import type { Dialect } from './remote/dialect.ts';
import { flux } from './remote/flux.ts';
import { metricsQuery } from './remote/metrics-query.ts';

/** Lines of one request. */
const MOST_LINES = 5000;
const LIMIT_MS = 60_000;

/**
 * Readings on a server, written by line protocol and read back in its own language: Flux for InfluxDB 2, the metrics query interface for
 * VictoriaMetrics. For many rigs on one server, and to look at a copy. An append resolves when the server has taken it; a server may need
 * a second until it can be read. Equal times are kept once. What is dropped, and when, is set on the server.
 */
export function createRemoteStore(at: CopyServerAt): TimeSeriesStore {
  let server: CopyServer | null = null;
  const dialect: Dialect = at.target.kind === 'influx' ? flux(at, LIMIT_MS) : metricsQuery(at, LIMIT_MS);
  const lifecycle = createLifecycle({
    async open() {
      server = openCopyServer(at, LIMIT_MS);
    },
    async close() {
      server?.close();
      server = null;
    },
  });

  /** `check` throws a TypeError for a mistake of the caller; a TypeError of the network is none. */
  const asked = <T>(what: string, work: () => Promise<T>, check = () => {}): Promise<T> =>
    lifecycle.run(async () => {
      check();
      try {
        return await work();
      } catch (cause) {
        throw new AppError('STORE_FAILED', `the server ${at.target.url} could not ${what}: ${wordsOf(cause)}; see that it runs and lets this rig in`, {
          cause,
        });
      }
    });

  return {
    supports: { durable: true, equalTimes: false, arrivalOrder: false, exact: at.target.kind === 'influx', retains: false },
    open: lifecycle.open,
    close: lifecycle.close,
    append: (readings) =>
      asked(
        `keep ${readings.length} readings`,
        async () => {
          const lines = readings.flatMap((one) => (one.quality === 'bad' ? [] : lineOf(one.rigId, one.signal, one.tMs, one.value, markOf(one))));
          for (let from = 0; from < lines.length; from += MOST_LINES) await server?.send(lines.slice(from, from + MOST_LINES));
        },
        () => checkReadings(readings),
      ),
    range: (rigId, signal, fromMs, toMs, limit = RANGE_LIMIT) =>
      asked(`read ${signal}`, async () => {
        const range = { tMs: [] as number[], value: [] as number[], suspect: [] as boolean[] };
        if (!isSafeName(rigId) || !isSafeName(signal) || toMs <= fromMs) return range;
        for await (const { tMs, value, mark } of dialect.readings(rigId, signal, fromMs, toMs, limit)) {
          range.tMs.push(tMs);
          range.value.push(value);
          range.suspect.push(readMark(mark).quality === 'suspect');
        }
        return range;
      }),
    buckets: (rigId, signal, fromMs, toMs, count) =>
      asked(
        `read ${signal}`,
        async () => {
          const sums = collectBuckets(fromMs, toMs, count);
          if (!isSafeName(rigId) || !isSafeName(signal)) return sums.result();
          const { byMinute, sinceMs, untilMs } = sums;
          if (byMinute) {
            // Buckets that are whole minutes come as such; others are made from their minutes.
            const bucketMs = (toMs - fromMs) / count;
            const widthMs = sinceMs === fromMs && bucketMs % MINUTE_MS === 0 ? bucketMs : MINUTE_MS;
            for await (const { fromMs: startMs, rollup } of dialect.rollups(rigId, signal, sinceMs, untilMs, widthMs))
              sums.addMinute(minuteOf(startMs), rollup);
          } else {
            for await (const { tMs, value } of dialect.readings(rigId, signal, sinceMs, untilMs, Number.MAX_SAFE_INTEGER)) sums.addReading(tMs, value);
          }
          return sums.result();
        },
        () => checkBuckets(fromMs, toMs, count),
      ),
    minutes: (rigId, signal, fromMs, toMs) =>
      asked(
        `read ${signal}`,
        async () => {
          const sums = collectMinutes(fromMs, toMs);
          if (!isSafeName(rigId) || !isSafeName(signal)) return sums.result();
          for await (const { fromMs: startMs, rollup } of dialect.rollups(rigId, signal, fromMs, toMs, MINUTE_MS)) sums.addMinute(minuteOf(startMs), rollup);
          return sums.result();
        },
        () => checkMinutes(fromMs, toMs),
      ),
    latest: (rigId, notAfterMs) =>
      asked('read the newest readings', async () => {
        if (!isSafeName(rigId)) return [];
        const newest = await dialect.newest(rigId, notAfterMs);
        return newest.map(({ signal, tMs, value, mark }) => ({ rigId, signal, tMs, value, ...readMark(mark), arrivalSeq: 0 }));
      }),
    retain: () => lifecycle.run(() => 0),
  };
}

/** What went wrong; the network's own reason lies behind that of a failed fetch. */
const wordsOf = (error: unknown): string => (error instanceof TypeError && error.cause !== undefined ? reasonOf(error.cause) : reasonOf(error));
