import { afterEach, beforeEach, expect, test } from 'vitest';
import type { Reading } from '../../../../shared/schema/reading.ts';
import { START_MS } from '../../../contract/readings.ts';
import { sqliteUnderTest } from '../sqlite-under-test.ts';

let made: Awaited<ReturnType<typeof sqliteUnderTest>>;
beforeEach(async () => {
  made = await sqliteUnderTest();
});
afterEach(async () => {
  await made.store.close();
  await made.remove();
});

const arrived = (at: number): Reading => ({
  ...{ rigId: 'heron', signal: 'bank.voltage', value: 26.4, quality: 'ok', timeSource: 'arrival' },
  tMs: START_MS + at * 10,
  arrivalSeq: at + 1,
});

test('so many readings that the hour is sealed before it is over are all kept, also those of one value in the tenth of a second of the sealing', async () => {
  const { store } = made;
  await store.open();
  await store.append(Array.from({ length: 150_003 }, (_, at) => arrived(at)));
  await store.append(Array.from({ length: 9 }, (_, at) => arrived(150_003 + at)));
  const [all] = await store.buckets('heron', 'bank.voltage', START_MS, START_MS + 3_600_000, 1);
  expect(all?.count).toBe(150_012);
}, 60_000);
