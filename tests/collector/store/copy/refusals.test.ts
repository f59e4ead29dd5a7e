import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { type HttpServer, openHttpServer } from '../../../helpers/http-server.ts';
import { copyBench, linesOf, seconds } from './copy-bench.ts';

let server: HttpServer;
let bench: Awaited<ReturnType<typeof copyBench>>;
let taken: string[];
beforeEach(async () => {
  server = await openHttpServer();
  bench = await copyBench(`http://127.0.0.1:${server.port}`);
  taken = [];
});
afterEach(async () => {
  await bench.remove();
  await server.close();
});

/** Refuses requests that bring such lines, and takes all others. */
const refuse = (isBad: (line: string) => boolean): void => {
  server.answer = (response, request) => {
    const lines = linesOf(request);
    if (lines.some(isBad)) return void response.writeHead(400).end('Client sent an HTTP request to an HTTPS server.');
    taken.push(...lines);
    response.writeHead(204).end();
  };
};
/** A second of a small rig, and what is asked in it. */
async function second(lines: readonly string[]): Promise<void> {
  bench.copier.take(lines);
  bench.turn(1000);
  await vi.waitFor(() => expect(bench.copier.state().held).toBe(0), { timeout: 20_000, interval: 2 });
}
const seconds3 = (from: number) => ['bank.voltage', 'bank.current', 'cabin.temperature'].flatMap((signal) => seconds(from, 1, signal));
const until = (done: () => void) =>
  vi.waitFor(
    () => {
      bench.turn(1000);
      done();
    },
    { timeout: 20_000, interval: 5 },
  );

test.each([0, 2])(
  'three readings a second to a server that refuses everything, after %i good seconds: it pauses, and none is lost or doubled',
  async (good) => {
    refuse(() => false);
    for (let at = 0; at < good; at++) await second(seconds3(at));
    refuse(() => true);
    let at = good;
    for (; bench.copier.state().standing !== 'paused' && at < 20; at++) await second(seconds3(at));
    expect(bench.copier.state()).toMatchObject({ standing: 'paused', why: expect.stringContaining('refuses every reading (400: Client sent') });
    expect(at - good).toBeLessThanOrEqual(4);
    expect(bench.outbox.facts()).toMatchObject({ waiting: 3 * (at - good), refused: 0, dropped: 0 });
    const asked = server.requests.length;
    bench.turn(590_000);
    expect(server.requests).toHaveLength(asked);
    refuse(() => false);
    await until(() => expect(bench.outbox.facts().waiting).toBe(0));
    expect([...taken].sort()).toEqual(
      Array.from({ length: at }, (_, s) => seconds3(s))
        .flat()
        .sort(),
    );
  },
);

test('a bad reading that comes alone ends among the refused, and the present goes on', async () => {
  const [bad] = seconds(100, 1, 'probe.bad') as [string];
  refuse((line) => line === bad);
  await second(seconds3(0));
  await second([bad]);
  expect(bench.copier.state().standing).toBe('going');
  await second(seconds3(1));
  await until(() => expect(bench.outbox.facts()).toMatchObject({ waiting: 0, refused: 1, refusedWhy: expect.stringContaining('400') }));
  expect(bench.copier.state().standing).toBe('going');
  expect([...taken].sort()).toEqual([...seconds3(0), ...seconds3(1)].sort());
});

test('a stretch of the past that is bad throughout ends among the refused; what lies behind it and the present arrive', async () => {
  const past = seconds(0, 40, 'bank.power');
  bench.outbox.add(seconds(0, 30, 'probe.bad'));
  bench.outbox.add(past);
  refuse((line) => line.includes('probe.bad'));
  let at = 0;
  for (; bench.outbox.facts().waiting > 0 && at < 60; at++) {
    await second(seconds3(at));
    expect(bench.copier.state().standing).toBe('going');
  }
  await until(() => expect(bench.outbox.facts()).toMatchObject({ waiting: 0, refused: 30 }));
  expect([...taken].sort()).toEqual([...past, ...Array.from({ length: at }, (_, s) => seconds3(s)).flat()].sort());
});
