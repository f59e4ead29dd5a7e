import { isGroup } from './anyway.ts';

/** What signals are read from. */
interface ReadTopics {
  readonly specs: ReadonlyMap<string, { readonly topic?: string | undefined; readonly sum?: readonly { readonly topic: string }[] | undefined }>;
  readonly forecast?: { readonly topic: string } | null | undefined;
}

/** Routes that would show their state on a topic that a signal is read from, where it would be taken for a measurement. */
export function routeTopicIssues(routes: Readonly<Record<string, unknown>>, { specs, forecast }: ReadTopics) {
  const read = new Set<unknown>([...specs.values()].flatMap(({ topic, sum = [] }) => [topic, ...sum.map((part) => part.topic)]));
  if (forecast) read.add(forecast.topic);
  return Object.entries(routes).flatMap(([name, route]) =>
    isGroup(route) && route.kind === 'mqtt' && typeof route.topic === 'string' && read.has(route.topic)
      ? [{ path: ['routes', name, 'topic'], expected: 'a topic of its own, that no signal is read from', hint: '' }]
      : [],
  );
}
