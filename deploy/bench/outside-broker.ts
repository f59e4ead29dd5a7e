import { existsSync } from 'node:fs';
import type { Bar } from '../bars/bar.ts';
import { startMosquitto, temporaryFolder } from '../bars/processes.ts';
import { type Feeder, startFeeder } from './feeder.ts';
import { bareClient, ourClient } from './ingest.ts';
import { rounds } from './rounds.ts';
import type { Feed } from './subject.ts';

const COUNT = 200_000;
/** Mosquitto drops what waits for a subscriber beyond a thousand messages, unless told otherwise. */
const KEEPS_ALL = ['max_queued_messages 0', 'max_inflight_messages 0'];

export const outsideBrokerBench: Bar = {
  name: 'outside-broker',
  what: 'the same behind a real Mosquitto, which is the bottleneck',
  async measure() {
    if (!existsSync('/usr/sbin/mosquitto')) return 'Mosquitto is not installed';
    const folder = await temporaryFolder();
    const broker = await startMosquitto(folder.path, KEEPS_ALL);
    const port = Number(new URL(broker.url).port);
    /** Once the client is subscribed, a feeder publishes. */
    const published = (client: Feed): Feed => {
      let feeder: Feeder | null = null;
      return {
        ...client,
        begin() {
          feeder = startFeeder({ count: COUNT, qos: 1, port });
        },
        async stop() {
          await client.stop();
          await feeder?.end();
        },
      };
    };
    try {
      const { url } = broker;
      return await rounds({ name: 'QoS 1', count: COUNT, bar: 0.85, bare: () => published(bareClient(url, 1)), whole: () => published(ourClient(url, 1)) });
    } finally {
      await broker.end();
      await folder.remove();
    }
  },
};
