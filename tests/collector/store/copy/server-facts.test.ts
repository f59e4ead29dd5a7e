import { expect, test, vi } from 'vitest';
import { factsIn, type ServerFacts, watchServer } from '../../../../collector/store/copy/server-facts.ts';
import { CopyTo } from '../../../../shared/schema/copy-to.ts';
import { NO_SECRETS } from './copy-bench.ts';

const at = { target: CopyTo.parse({ kind: 'line-protocol', url: 'http://127.0.0.1:1' }), secrets: NO_SECRETS };

test('a server that tells nothing is told nothing of', () => {
  expect(factsIn('up 1\n')).toEqual({ ignored: null, deduplicates: null });
});

test('only what was ignored since the first look counts, also when the server was started anew, and a failed look changes nothing', async () => {
  const facts: (ServerFacts | null)[] = [40, 43, null, 2].map((ignored) => (ignored === null ? null : { ignored, deduplicates: true }));
  let monoMs = 0;
  let looks = 0;
  const watch = watchServer(
    at,
    () => monoMs,
    async () => {
      const found = facts[looks++];
      return found ?? Promise.reject(new Error('away'));
    },
  );
  const said: (readonly string[])[] = [];
  for (const look of [1, 2, 3, 4]) {
    watch.look();
    // Asked again too soon: nothing.
    watch.look();
    await vi.waitFor(() => expect(looks).toBe(look));
    await new Promise((resolve) => setImmediate(resolve));
    said.push(watch.remarks());
    monoMs += 300_000;
  }
  const of = (count: number) => [expect.stringContaining(`ignored ${count} values`)];
  expect(said).toEqual([[], of(3), of(3), of(2)]);
});
