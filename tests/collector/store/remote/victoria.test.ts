import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { createRemoteStore } from '../../../../collector/store/remote.ts';
import { Victoria } from '../../../../deploy/bench/victoria.ts';
import type { TimeSeriesStore } from '../../../../shared/ports.ts';
import { CopyTo } from '../../../../shared/schema/copy-to.ts';
import { everySecond, START_MS } from '../../../contract/readings.ts';
import { seriesContract } from '../../../contract/store.contract.ts';
import { NO_SECRETS } from '../copy/copy-bench.ts';

describe('VictoriaMetrics as a remote store', () => {
  let victoria: Victoria;
  beforeAll(async () => {
    victoria = await Victoria.make();
    await victoria.start();
  });
  afterAll(() => victoria.dispose());

  const remote = () => createRemoteStore({ target: CopyTo.parse({ kind: 'line-protocol', url: victoria.url }), secrets: NO_SECRETS });
  /** A server that shows what was written at once, where it would take a second. */
  const settling = (store: TimeSeriesStore): TimeSeriesStore => ({
    ...store,
    async append(readings) {
      await store.append(readings);
      await victoria.settle();
    },
  });
  seriesContract(async () => ({ store: settling(remote()), remove: () => victoria.empty() }));

  test('a server that is gone fails the call in words that say which', async () => {
    const store = createRemoteStore({ target: CopyTo.parse({ kind: 'line-protocol', url: 'http://127.0.0.1:9' }), secrets: NO_SECRETS });
    await store.open();
    await expect(store.append(everySecond([1]))).rejects.toMatchObject({
      code: 'STORE_FAILED',
      message: expect.stringContaining('127.0.0.1:9 could not keep'),
    });
    await expect(store.range('heron', 'bank.voltage', 0, START_MS)).rejects.toMatchObject({ code: 'STORE_FAILED' });
    await store.close();
  });

  test('more windows than one query gives come whole', async () => {
    const store = settling(remote());
    await store.open();
    const days = Array.from({ length: 40 }, (_, day) => ({ ...everySecond([day])[0], tMs: START_MS + day * 86_400_000 }));
    await store.append(days as never);
    // Not whole minutes a bucket: made from 57,600 single minutes.
    const buckets = await store.buckets('heron', 'bank.voltage', START_MS - 30_000, START_MS + 40 * 86_400_000, 7);
    expect(buckets.reduce((sum, { count }) => sum + count, 0)).toBe(40);
    expect([buckets[0]?.min, buckets[6]?.max]).toEqual([0, 39]);
    await store.close();
    await victoria.empty();
  });
});
