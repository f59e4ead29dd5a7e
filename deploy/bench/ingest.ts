import { connect, type MqttClient } from 'mqtt';
import { createBrokerClient } from '../../collector/mqtt/client.ts';
import type { Bar, Figure } from '../bars/bar.ts';
import { TOPICS } from './feed.ts';
import { startFeeder } from './feeder.ts';
import { rounds } from './rounds.ts';
import type { Feed } from './subject.ts';

const COUNT = 400_000;

/** The library alone. */
export function bareClient(url: string, qos: 0 | 1): Feed {
  let client: MqttClient | null = null;
  return {
    async start({ onMessage, onStatus }) {
      client = connect(url, { reconnectPeriod: 0 });
      client.on('connect', () => client?.subscribe([...TOPICS], { qos }, () => onStatus('connected', '')));
      client.on('message', (topic, payload) => onMessage({ topic, payload, retained: false }));
      client.on('error', (error) => onStatus('lost', error.message));
    },
    stop: async () => void (await client?.endAsync(true)),
  };
}

/** The client of the program. */
export const ourClient = (url: string, qos: 0 | 1): Feed =>
  createBrokerClient({ url, protocol: 4, ca: null, secrets: null, clientId: null, qos, topics: TOPICS, discover: false });

async function fed(qos: 0 | 1, bar: number): Promise<Figure[]> {
  const feeder = startFeeder({ count: COUNT, qos, port: null });
  const url = `mqtt://127.0.0.1:${await feeder.port}`;
  try {
    return await rounds({ name: `QoS ${qos}`, count: COUNT, bar, bare: () => bareClient(url, qos), whole: () => ourClient(url, qos) });
  } finally {
    await feeder.end();
  }
}

export const ingestBench: Bar = {
  name: 'ingest',
  what: 'JSON messages from a saturating feeder, no broker in between, to committed in the store, beside a bare client that only counts',
  measure: async () => [...(await fed(1, 0.5)), ...(await fed(0, 0.3))],
};
