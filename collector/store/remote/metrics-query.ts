import { createInterface } from 'node:readline';
import { Readable } from 'node:stream';
import type { ReadableStream } from 'node:stream/web';
import { z } from 'zod';
import { MEASUREMENT } from '../copy/lines.ts';
import { addressOn, authorization, type CopyServerAt } from '../copy/target.ts';
import { entryOf } from '../entry-of.ts';
import type { Dialect, RemoteReading } from './dialect.ts';

/** A line of an export: points of one series in the order of time. Numbers that JSON has no word for come as text or null. */
const ExportLine = z.object({ values: z.array(z.number()), timestamps: z.array(z.number().int()) });
const labels = z.record(z.string(), z.string());
const point = z.tuple([z.number(), z.string()]);
const Matrix = z.object({ data: z.object({ result: z.array(z.object({ metric: labels, values: z.array(point) })) }) });
const Vector = z.object({ data: z.object({ result: z.array(z.object({ metric: labels, value: point })) }) });

/** Points that one query gives at most; the server's own limit is 30,000. */
const MOST_POINTS = 20_000;
const ROWS_PER_LINE = 10_000;
/** Nothing is older: half a century is as far as a window may reach back. */
const WINDOW = '50y';

const secondsOf = (tMs: number) => (tMs / 1000).toFixed(3);

/**
 * The query interface of VictoriaMetrics: raw points by export, the rest by MetricsQL. Times are in ms; a value of two equal times comes back
 * once. Its own cache and the shift of the newest 30 s are passed by.
 * @source VictoriaMetrics documentation, "URL examples" and "MetricsQL"; tried with 1.79
 */
export function metricsQuery(at: CopyServerAt, limitMs: number): Dialect {
  const series = (field: string, rigId: string, signal?: string) =>
    `${MEASUREMENT}_${field}{rig=${JSON.stringify(rigId)}${signal === undefined ? '' : `,signal=${JSON.stringify(signal)}`}}`;

  async function ask(path: string, query: Readonly<Record<string, string>>): Promise<Response> {
    const answer = await fetch(addressOn(at.target, path, query), {
      headers: authorization(at.secrets),
      signal: AbortSignal.timeout(limitMs),
      redirect: 'error',
    });
    if (!answer.ok) throw new Error(`it answers ${answer.status}: ${(await answer.text()).slice(0, 200)}`);
    return answer;
  }

  /** Points of one series, each time once, read no further than they are asked for. */
  async function* points(field: string, rigId: string, signal: string, fromMs: number, toMs: number): AsyncGenerator<readonly [number, number]> {
    const answer = await ask('api/v1/export', {
      'match[]': series(field, rigId, signal),
      start: secondsOf(fromMs),
      end: secondsOf(toMs - 1),
      max_rows_per_line: String(ROWS_PER_LINE),
    });
    if (answer.body === null) return;
    const body = Readable.fromWeb(answer.body as ReadableStream);
    let lastMs = Number.NEGATIVE_INFINITY;
    try {
      for await (const line of createInterface({ input: body })) {
        const { values, timestamps } = ExportLine.parse(JSON.parse(line));
        for (const [i, tMs] of timestamps.entries()) {
          if (tMs > lastMs) yield [tMs, values[i] as number];
          lastMs = Math.max(lastMs, tMs);
        }
      }
    } finally {
      body.destroy();
    }
  }

  return {
    async *readings(rigId, signal, fromMs, toMs, limit): AsyncGenerator<RemoteReading> {
      const marks = points('mark', rigId, signal, fromMs, toMs);
      let given = 0;
      try {
        let mark = await marks.next();
        for await (const [tMs, value] of points('value', rigId, signal, fromMs, toMs)) {
          if (given >= limit) return;
          while (!mark.done && mark.value[0] < tMs) mark = await marks.next();
          yield { tMs, value, mark: !mark.done && mark.value[0] === tMs ? mark.value[1] : 0 };
          given += 1;
        }
      } finally {
        await marks.return(undefined);
      }
    },
    async *rollups(rigId, signal, fromMs, toMs, widthMs) {
      const spanMs = widthMs * MOST_POINTS;
      const wanted = '("min_over_time", "max_over_time", "sum_over_time", "count_over_time")';
      for (let startMs = fromMs; startMs < toMs; startMs += spanMs) {
        // A window reaches from after its start to its end, the end included: one ms earlier it holds what a bucket holds.
        const endMs = Math.min(toMs, startMs + spanMs) - 1;
        const answer = await ask('api/v1/query_range', {
          query: `aggr_over_time(${wanted}, ${series('value', rigId, signal)}[${widthMs}ms])`,
          start: secondsOf(startMs + widthMs - 1),
          end: secondsOf(endMs),
          step: `${widthMs}ms`,
          nocache: '1',
        });
        const windows = new Map<number, { min: number; max: number; sum: number; count: number }>();
        for (const { metric, values } of Matrix.parse(await answer.json()).data.result) {
          const key = (metric.rollup ?? '').replace('_over_time', '') as 'min' | 'max' | 'sum' | 'count';
          for (const [endS, value] of values) {
            const window = entryOf(windows, Math.round(endS * 1000) + 1 - widthMs, () => ({ min: Infinity, max: -Infinity, sum: 0, count: 0 }));
            window[key] = Number(value);
          }
        }
        for (const [windowMs, rollup] of windows) if (rollup.count > 0) yield { fromMs: windowMs, rollup };
      }
    },
    async newest(rigId, notAfterMs) {
      const named = (name: string, rollup: string, field: string) => `label_set(${rollup}(${series(field, rigId)}[${WINDOW}]), "what", "${name}")`;
      const query = `union(${named('time', 'tlast_over_time', 'value')}, ${named('value', 'last_over_time', 'value')}, ${named('mark', 'last_over_time', 'mark')})`;
      const answer = await ask('api/v1/query', { query, time: secondsOf(notAfterMs), nocache: '1' });
      const signals = new Map<string, Map<string, number>>();
      for (const { metric, value } of Vector.parse(await answer.json()).data.result) {
        entryOf(signals, metric.signal ?? '', () => new Map<string, number>()).set(metric.what ?? '', Number(value[1]));
      }
      return [...signals].flatMap(([signal, found]) => {
        const [timeS, value, mark = 0] = ['time', 'value', 'mark'].map((what) => found.get(what));
        return timeS === undefined || value === undefined ? [] : [{ signal, tMs: Math.round(timeS * 1000), value, mark }];
      });
    },
  };
}
