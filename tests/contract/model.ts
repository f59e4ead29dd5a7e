import type { Bucket } from '../../shared/ports.ts';
import type { Reading } from '../../shared/schema/reading.ts';

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;

/** What a store must hold after these readings, worked out the plain way: sorted, each device time once. */
export function keptOf(readings: readonly Reading[]): Reading[] {
  const kept = readings.filter(
    (one) =>
      one.quality !== 'bad' &&
      !readings.some(
        (other) =>
          one.timeSource === 'device' &&
          other.timeSource === 'device' &&
          other.quality !== 'bad' &&
          other.signal === one.signal &&
          other.tMs === one.tMs &&
          other.arrivalSeq > one.arrivalSeq,
      ),
  );
  const rank = (one: Reading): number => (one.timeSource === 'device' ? -1 : one.arrivalSeq);
  return kept.sort((a, b) => a.tMs - b.tMs || rank(a) - rank(b));
}

/** Buckets from readings as the port words them, one bucket at a time. */
export function bucketsOf(kept: readonly Reading[], fromMs: number, toMs: number, count: number): Bucket[] {
  const widthMs = (toMs - fromMs) / count;
  const byMinute = widthMs >= MINUTE_MS;
  const unitMs = widthMs >= 144 * HOUR_MS ? 24 * HOUR_MS : widthMs >= 6 * HOUR_MS ? HOUR_MS : widthMs >= 90 * MINUTE_MS ? 15 * MINUTE_MS : MINUTE_MS;
  return Array.from({ length: count }, (_, at) => {
    const startMs = fromMs + at * widthMs;
    const inside = kept.filter(({ tMs }) => {
      if (byMinute && (tMs < Math.floor(fromMs / MINUTE_MS) * MINUTE_MS || tMs >= Math.ceil(toMs / MINUTE_MS) * MINUTE_MS)) return false;
      const countsAtMs = byMinute ? Math.max(fromMs, Math.floor(tMs / unitMs) * unitMs) : tMs;
      return countsAtMs >= startMs && countsAtMs < startMs + widthMs;
    });
    const values = inside.map(({ value }) => value);
    if (values.length === 0) return { fromMs: Math.round(startMs), min: null, mean: null, max: null, count: 0 };
    const sum = values.reduce((total, value) => total + value, 0);
    return { fromMs: Math.round(startMs), min: Math.min(...values), mean: sum / values.length, max: Math.max(...values), count: values.length };
  });
}
