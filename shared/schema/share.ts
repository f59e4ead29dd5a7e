import { isGroup } from './anyway.ts';

/** Something that a rig file with `broker.share` needs, or may not have. */
interface ShareIssue {
  readonly path: readonly (string | number)[];
  readonly expected: string;
  readonly input: unknown;
}

/**
 * What does not go together with `broker.share`: a collector of a group hears some of the messages, and what it finds in them meets that of
 * the others only on the server.
 */
export function shareIssues({ broker, copyTo, signals }: Readonly<Record<string, unknown>>): readonly ShareIssue[] {
  if (!isGroup(broker) || broker.share === undefined) return [];
  const specs = isGroup(signals) && signals.specs instanceof Map ? [...(signals.specs as ReadonlyMap<string, unknown>)] : [];
  return [
    ...(broker.url === undefined ? [{ path: ['broker', 'url'], expected: 'an outside broker, since messages are shared', input: undefined }] : []),
    ...(broker.protocol !== 5 ? [{ path: ['broker', 'protocol'], expected: '5, since messages are shared', input: broker.protocol }] : []),
    ...(broker.clientId !== undefined
      ? [{ path: ['broker', 'clientId'], expected: 'nothing here, since each collector of a group needs an id of its own', input: broker.clientId }]
      : []),
    ...(copyTo === undefined ? [{ path: ['copyTo'], expected: 'a server, where what several collectors heard comes together', input: undefined }] : []),
    ...specs.flatMap(([name, spec]) =>
      isGroup(spec) && spec.sum !== undefined
        ? [{ path: ['signals', name, 'sum'], expected: 'a topic, since no collector of a group hears all the topics of a sum', input: spec.sum }]
        : [],
    ),
  ];
}
