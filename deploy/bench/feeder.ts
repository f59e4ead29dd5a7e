import type { QoS } from 'mqtt-packet';
import { startThread } from '../../collector/store/thread.ts';

export interface FeederStart {
  readonly count: number;
  readonly qos: QoS;
  /** Broker on loopback to publish to; null: the feeder is itself what is subscribed to, without a broker in between. */
  readonly port: number | null;
}

/** A saturating sender of messages, in a thread of its own. */
export interface Feeder {
  /** Port that it listens on; never settled where it publishes. */
  readonly port: Promise<number>;
  end(): Promise<void>;
}

export function startFeeder(start: FeederStart): Feeder {
  const thread = startThread('./feeder-thread', import.meta.url, start);
  const port = new Promise<number>((resolve, reject) => thread.once('message', resolve).once('error', reject));
  port.catch(() => undefined);
  return { port, end: async () => void (await thread.terminate()) };
}
