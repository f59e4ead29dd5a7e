import { fluxDuration, flux as fluxQuery, InfluxDB } from '@influxdata/influxdb-client';
import { z } from 'zod';
import { MEASUREMENT } from '../copy/lines.ts';
import { authorization, type CopyServerAt } from '../copy/target.ts';
import { entryOf } from '../entry-of.ts';
import type { Dialect } from './dialect.ts';

/** Rows as the library reads them from annotated CSV. */
const ReadingRow = z.object({ _time: z.string(), value: z.number(), mark: z.number().nullish() });
const WindowRow = z.object({ _start: z.string(), result: z.enum(['min', 'max', 'sum', 'count']), _value: z.number() });
const NewestRow = z.object({ _time: z.string(), signal: z.string(), _field: z.enum(['value', 'mark']), _value: z.number() });

/** Largest number of rows that `limit` takes. */
const MOST_ROWS = 2 ** 53 - 1;

/**
 * Flux, the language of InfluxDB 2. Everything that is not of the query itself goes in by the library's tagged template, which escapes it.
 * @source InfluxDB 2 documentation, "Flux standard library": range, filter, pivot, aggregateWindow, last
 */
export function flux(at: CopyServerAt, limitMs: number): Dialect {
  const client = new InfluxDB({ url: at.target.url, timeout: limitMs, headers: authorization(at.secrets) });
  const queries = client.getQueryApi(at.target.org ?? '');
  const bucket = at.target.bucket ?? '';

  /** Rows one by one, read no further than they are asked for. */
  async function* rows(query: ReturnType<typeof fluxQuery>): AsyncGenerator<unknown> {
    for await (const { values, tableMeta } of queries.iterateRows(query)) yield tableMeta.toObject(values);
  }

  return {
    async *readings(rigId, signal, fromMs, toMs, limit) {
      const query = fluxQuery`
        from(bucket: ${bucket})
          |> range(start: ${new Date(fromMs)}, stop: ${new Date(toMs)})
          |> filter(fn: (r) => r._measurement == ${MEASUREMENT} and r.rig == ${rigId} and r.signal == ${signal})
          |> pivot(rowKey: ["_time"], columnKey: ["_field"], valueColumn: "_value")
          |> sort(columns: ["_time"])
          |> limit(n: ${Math.min(limit, MOST_ROWS)})
          |> keep(columns: ["_time", "value", "mark"])`;
      for await (const row of rows(query)) {
        const { _time, value, mark } = ReadingRow.parse(row);
        yield { tMs: Date.parse(_time), value, mark: mark ?? 0 };
      }
    },
    async *rollups(rigId, signal, fromMs, toMs, widthMs) {
      const query = fluxQuery`
        readings = from(bucket: ${bucket})
          |> range(start: ${new Date(fromMs)}, stop: ${new Date(toMs)})
          |> filter(fn: (r) => r._measurement == ${MEASUREMENT} and r.rig == ${rigId} and r.signal == ${signal} and r._field == "value")
          |> window(every: ${fluxDuration(`${widthMs}ms`)}, offset: ${fluxDuration(`${fromMs % widthMs}ms`)})
        readings |> min() |> keep(columns: ["_start", "_value"]) |> yield(name: "min")
        readings |> max() |> keep(columns: ["_start", "_value"]) |> yield(name: "max")
        readings |> sum() |> keep(columns: ["_start", "_value"]) |> yield(name: "sum")
        readings |> count() |> keep(columns: ["_start", "_value"]) |> yield(name: "count")`;
      const windows = new Map<number, { min: number; max: number; sum: number; count: number }>();
      for await (const row of rows(query)) {
        const { _start, result, _value } = WindowRow.parse(row);
        entryOf(windows, Date.parse(_start), () => ({ min: Infinity, max: -Infinity, sum: 0, count: 0 }))[result] = _value;
      }
      for (const [windowMs, rollup] of windows) if (rollup.count > 0) yield { fromMs: windowMs, rollup };
    },
    async newest(rigId, notAfterMs) {
      const query = fluxQuery`
        from(bucket: ${bucket})
          |> range(start: ${new Date(0)}, stop: ${new Date(notAfterMs + 1)})
          |> filter(fn: (r) => r._measurement == ${MEASUREMENT} and r.rig == ${rigId})
          |> last()`;
      const signals = new Map<string, { tMs: number; value: number | null; mark: number }>();
      for await (const row of rows(query)) {
        const { _time, signal, _field, _value } = NewestRow.parse(row);
        const found = entryOf(signals, signal, () => ({ tMs: 0, value: null, mark: 0 }));
        found[_field] = _value;
        if (_field === 'value') found.tMs = Date.parse(_time);
      }
      return [...signals].flatMap(([signal, { tMs, value, mark }]) => (value === null ? [] : [{ signal, tMs, value, mark }]));
    },
  };
}
