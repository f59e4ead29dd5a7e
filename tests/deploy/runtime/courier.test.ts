import { setImmediate } from 'node:timers/promises';
import { expect, test } from 'vitest';
import { parseRigFile } from '../../../collector/config/load.ts';
import { createPipeline } from '../../../collector/ingest/pipeline.ts';
import { createCourier } from '../../../deploy/runtime/courier.ts';
import type { SendResult } from '../../../shared/ports.ts';
import { entryOf } from '../../helpers/notify-entry.ts';
import { senderOf } from './notifier-bench.ts';

const RIG =
  'rig: { id: wren, name: Wren }\nbank: { cells: 8, capacityAh: 280 }\nsignals:\n  bank.voltage: { topic: wren/v }\n  bank.current: { topic: wren/a }\n';
const TARGETS = Array.from({ length: 20 }, (_, i) => `phone-${i}`);

test('no reading waits on a notice: between any two that go out, one that has arrived is taken', async () => {
  const pipeline = createPipeline(parseRigFile(RIG, 'wren.yaml'));
  let taken = 0;
  const takenBefore: number[] = [];
  const { made, sender } = senderOf('push', true, TARGETS);
  const hangs = new Promise<SendResult>(() => {});
  made.answer = () => {
    takenBefore.push(taken);
    return hangs;
  };
  const courier = createCourier({ senders: () => new Map([['phones', sender]]), onResult() {}, closing: new AbortController().signal });
  for (const target of TARGETS) courier.carry(entryOf({ id: target, target }));
  for (let i = 0; takenBefore.length < TARGETS.length && i < 1000; i++) {
    await setImmediate();
    taken += pipeline.accept({ tMs: i, topic: 'wren/a', payload: Buffer.from('-12.5'), retained: false }).readings.length;
  }
  expect(takenBefore).toHaveLength(TARGETS.length);
  expect(new Set(takenBefore).size).toBe(TARGETS.length);
  expect(courier.busy().size).toBe(TARGETS.length);
});
