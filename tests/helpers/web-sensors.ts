import type { History } from '../../shared/schema/api.ts';
import type { LiveSnapshot } from '../../shared/schema/live.ts';
import type { MappingTrial, TopicView, ZeroView } from '../../shared/schema/sensor-book.ts';

/** What the box answers about signals and topics; null for anything else. */
export function sensorAnswer({ pathname, searchParams }: URL, { serverMs, signals, states }: LiveSnapshot): unknown {
  const asked = (name: string) => searchParams.get(name) ?? '';
  const lastOf = (signal: string) => states[signals.findIndex(({ name }) => name === signal)]?.value ?? null;
  switch (pathname) {
    case '/api/history':
      return day(asked('signal'), Number(asked('fromMs')), Number(asked('toMs')), Number(asked('buckets')), lastOf(asked('signal')) ?? 0);
    case '/api/topic':
      return tank(asked('topic'), serverMs);
    case '/api/try-mapping':
      return { value: 61, unit: '%RH', quantity: 'humidity', tMs: serverMs, rejected: null, remarks: [], doubt: '', mistakes: [] } satisfies MappingTrial;
    case '/api/zero':
      return {
        signal: asked('signal'),
        unit: 'A',
        readings: 6,
        mean: lastOf(asked('signal')),
        spread: 0.4,
        isSteady: false,
        offset: 0,
        nextOffset: null,
        refused: 'Too much flows for a zero: something still draws or charges.',
      } satisfies ZeroView;
    default:
      return null;
  }
}

/** A day that swings about a value, with an hour in which nothing came. */
function day(signal: string, fromMs: number, toMs: number, buckets: number, value: number): History {
  const mean = Array.from({ length: buckets }, (_, i) => (i >= 20 && i < 24 ? null : value * (1 + 0.05 * Math.sin(i / 9))));
  const shifted = (by: number) => mean.map((one) => (one === null ? null : one + by * Math.abs(value)));
  return {
    signal,
    fromMs,
    toMs,
    bucketMs: (toMs - fromMs) / buckets,
    min: shifted(-0.01),
    mean,
    max: shifted(0.01),
    count: mean.map((one) => (one === null ? 0 : 90)),
  };
}

/** A topic with a number, a text of a hostile neighbour and a group. */
function tank(topic: string, nowMs: number): TopicView {
  const field = (pointer: string, text: string, number: number | null): TopicView['fields'][number] => ({
    format: 'json',
    pointer,
    text,
    number,
    unit: null,
    usedBy: null,
    likely: [],
  });
  const fields = [field('/litres', '61', 61), field('/id', '<img src=x onerror="window.attacked=true">', null), field('/board/up', '5512', 5512)];
  return { topic, count: 412, lastMs: nowMs - 1000, retained: false, payload: '{"litres": 61}', isCut: false, fields };
}
