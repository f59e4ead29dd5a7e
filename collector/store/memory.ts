import type { RigStore } from '../../shared/ports.ts';
import { collectBuckets, collectMinutes } from './buckets.ts';
import { checkReadings, LIST_LIMIT, RANGE_LIMIT } from './check.ts';
import { entryOf } from './entry-of.ts';
import { createLifecycle } from './lifecycle.ts';
import { createSeries, type Series } from './series.ts';

interface Document {
  readonly id: string;
  readonly tMs: number;
  readonly body: string;
}

/** A store in memory, for replay and for a rig whose disk is gone. Closing it empties it. Retention drops whole minutes. */
export function createMemoryStore(): RigStore {
  const rigs = new Map<string, Map<string, Series>>();
  const documents = new Map<string, Map<string, Document>>();
  const lifecycle = createLifecycle({
    open: async () => undefined,
    close: async () => {
      rigs.clear();
      documents.clear();
    },
  });

  function seriesOf(rigId: string, signal: string): Series {
    const rig = entryOf(rigs, rigId, () => new Map<string, Series>());
    return entryOf(rig, signal, createSeries);
  }

  return {
    supports: { durable: false, equalTimes: true, arrivalOrder: true, exact: true, retains: true },
    open: lifecycle.open,
    close: lifecycle.close,
    append: (readings) =>
      lifecycle.run(() => {
        checkReadings(readings);
        for (const reading of readings) {
          if (reading.quality !== 'bad') seriesOf(reading.rigId, reading.signal).add(reading);
        }
      }),
    range: (rigId, signal, fromMs, toMs, limit = RANGE_LIMIT) =>
      lifecycle.run(() => {
        const series = rigs.get(rigId)?.get(signal);
        if (!series) return { tMs: [], value: [], suspect: [] };
        const from = series.indexOf(fromMs);
        return series.slice(from, Math.max(from, Math.min(series.indexOf(toMs), from + limit)));
      }),
    buckets: (rigId, signal, fromMs, toMs, count) =>
      lifecycle.run(() => {
        const sums = collectBuckets(fromMs, toMs, count);
        rigs.get(rigId)?.get(signal)?.collect(sums);
        return sums.result();
      }),
    minutes: (rigId, signal, fromMs, toMs) =>
      lifecycle.run(() => {
        const sums = collectMinutes(fromMs, toMs);
        rigs.get(rigId)?.get(signal)?.collect(sums);
        return sums.result();
      }),
    latest: (rigId, notAfterMs) =>
      lifecycle.run(() =>
        [...(rigs.get(rigId) ?? [])].flatMap(([signal, series]) => {
          const newest = series.newest(notAfterMs);
          return newest ? [{ rigId, signal, ...newest }] : [];
        }),
      ),
    retain: (rigId, beforeMs) =>
      lifecycle.run(() => {
        let dropped = 0;
        for (const series of rigs.get(rigId)?.values() ?? []) dropped += series.drop(beforeMs);
        return dropped;
      }),
    get: (kind, id) => lifecycle.run(() => documents.get(kind)?.get(id)?.body ?? null),
    put: (entries) =>
      lifecycle.run(() => {
        for (const { kind, id, tMs, body } of entries) entryOf(documents, kind, () => new Map<string, Document>()).set(id, { id, tMs, body });
      }),
    list: (kind, fromMs, toMs, limit = LIST_LIMIT) =>
      lifecycle.run(() =>
        [...(documents.get(kind)?.values() ?? [])]
          .filter(({ tMs }) => tMs >= fromMs && tMs < toMs)
          .sort((a, b) => a.tMs - b.tMs || (a.id < b.id ? -1 : 1))
          .slice(-limit),
      ),
    facts: (rigId) =>
      lifecycle.run(() => {
        const oldest = [...(rigs.get(rigId)?.values() ?? [])].flatMap((series) => series.oldestMs() ?? []);
        return {
          engine: 'memory',
          layout: null,
          oldestMs: oldest.length === 0 ? null : Math.min(...oldest),
          documents: [...documents.values()].reduce((sum, ofKind) => sum + ofKind.size, 0),
        };
      }),
    remove: (kind, id) =>
      lifecycle.run(() => {
        documents.get(kind)?.delete(id);
      }),
  };
}
