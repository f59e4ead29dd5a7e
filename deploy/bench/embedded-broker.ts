import { createEmbeddedBroker } from '../../collector/mqtt/broker.ts';
import type { Bar } from '../bars/bar.ts';
import { type Feeder, startFeeder } from './feeder.ts';
import { rounds } from './rounds.ts';
import type { Feed } from './subject.ts';

const COUNT = 200_000;

/** The embedded broker, to which a feeder publishes. */
function embedded(): Feed {
  const broker = createEmbeddedBroker({ listen: '127.0.0.1', port: 0, secrets: null });
  let feeder: Feeder | null = null;
  return {
    start: broker.start.bind(broker),
    begin() {
      feeder = startFeeder({ count: COUNT, qos: 1, port: broker.port() });
    },
    async stop() {
      await feeder?.end();
      await broker.stop();
    },
  };
}

export const embeddedBrokerBench: Bar = {
  name: 'embedded-broker',
  what: 'JSON messages published to the embedded broker, in process, to committed in the store, beside a handler that only counts',
  measure: () => rounds({ name: 'QoS 1', count: COUNT, bar: 0.5, bare: embedded, whole: embedded }),
};
