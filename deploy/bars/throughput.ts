import { parseRigFile } from '../../collector/config/load.ts';
import { createPipeline } from '../../collector/ingest/pipeline.ts';
import { createMemoryStore } from '../../collector/store/memory.ts';
import type { Message, Reading } from '../../shared/schema/reading.ts';
import type { Bar } from './bar.ts';

const RIG = `
rig: { id: bar, name: Bar }
bank: { cells: 8, capacityAh: 280 }
signals:
  bank.voltage: { topic: bar/shunt, format: json, pointer: /v }
  bank.current: { topic: bar/shunt, format: json, pointer: /a }
  bank.stateOfCharge: { topic: bar/shunt, format: json, pointer: /soc }
`;
const MESSAGES = 500_000;
const BATCH = 1000;
const START_MS = Date.UTC(2026, 5, 1);

export const throughputBar: Bar = {
  name: 'throughput',
  what: 'decoding a shunt message into three signals and storing them in memory',
  async measure() {
    const messages: Message[] = Array.from({ length: MESSAGES }, (_, i) => ({
      tMs: START_MS + i * 1000,
      topic: 'bar/shunt',
      payload: Buffer.from(JSON.stringify({ v: 26 + (i % 50) / 100, a: (i % 400) / 10 - 20, soc: 20 + (i % 800) / 10 })),
      retained: false,
    }));
    const pipeline = createPipeline(parseRigFile(RIG, 'bar.yaml'));
    const store = createMemoryStore();
    await store.open();
    const started = performance.now();
    let batch: Reading[] = [];
    for (const [index, message] of messages.entries()) {
      batch.push(...pipeline.accept(message).readings);
      if (index % BATCH !== BATCH - 1) continue;
      await store.append(batch);
      batch = [];
    }
    const seconds = (performance.now() - started) / 1000;
    await store.close();
    return [{ name: 'decode and store', figure: Math.round(MESSAGES / seconds), unit: 'messages/s', bar: 100_000, sense: 'least' }];
  },
};
