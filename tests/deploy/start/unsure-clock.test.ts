import { mkdtemp, readdir, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { createSqliteStore } from '../../../collector/store/sqlite.ts';
import { snapshotOf } from '../../../deploy/bars/live-snapshot.ts';
import { freePort } from '../../../deploy/bars/processes.ts';
import { systemClock } from '../../../deploy/runtime/clock.ts';
import { rigScene } from '../../../deploy/start/rig-scene.ts';
import { type Run, run } from '../../../deploy/start/run.ts';
import type { AlarmLog } from '../../../shared/schema/alarm-book.ts';
import { CommandResult } from '../../../shared/schema/api.ts';

const SHOWN_MS = Date.UTC(1970, 0, 1);
const DAY_MS = 86_400_000;

let folder: string;
let running: Run | null = null;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-unsure-'));
});
afterEach(async () => {
  await running?.stop();
  running = null;
  await rm(folder, { recursive: true, force: true });
});

const readings = async () => {
  const store = createSqliteStore({ path: join(folder, 'rig.sqlite'), log: { warn: () => {} }, guest: true });
  await store.open();
  const found = await store.range('heron', 'bank.voltage', 0, Number.MAX_SAFE_INTEGER);
  await store.close();
  return found;
};

test('a rig whose clock stands at 1970 says what waits, takes the time from a device or a receiver, and keeps every reading where it was taken', async () => {
  const port = await freePort();
  const rigPath = join(folder, 'rig.yaml');
  await writeFile(
    rigPath,
    `
rig: { id: heron, name: Heron }
bank: { cells: 8, capacityAh: 280 }
broker: { port: ${port} }
store: { commitEvery: 1 s }
signals:
  bank.voltage: { topic: shunt, format: json, pointer: /v }
  bank.current: { topic: shunt, format: json, pointer: /a }
  place.lat: { topic: fix, format: json, pointer: /lat, timePointer: /t, setsClock: true }
  place.lon: { topic: fix, format: json, pointer: /lon }
`,
  );
  const boot = async (bootId: string) => {
    const startMs = performance.now();
    const monoMs = () => performance.now() - startMs;
    const clock = systemClock({ wallMs: () => SHOWN_MS + monoMs(), monoMs }, { bootId, keepsTime: false, isSynced: () => false, monoMs });
    running = await run({ ...(await rigScene(rigPath, folder)), clock, boxClock: clock }, { port: 0, listen: '127.0.0.1', hosts: [] });
    return running.url;
  };
  const client = async () => connectAsync(`mqtt://127.0.0.1:${port}`);
  const send = async (url: string, count: number) => {
    const mqtt = await client();
    for (let at = 0; at < count; at += 1) await mqtt.publishAsync('shunt', JSON.stringify({ v: 26.4, a: -3 }), { qos: 1 });
    await mqtt.endAsync();
    await expect.poll(async () => (await snapshotOf(url)).health.held?.readings, { timeout: 15_000 }).toBe(2 * count);
  };

  let url = await boot('b-1');
  await send(url, 5);
  expect((await snapshotOf(url)).health.clockDoubt).toMatch(/stands before this program was written/);
  expect((await readings()).tMs).toEqual([]);
  const tell = async (wallMs: number) => {
    const { serverMs } = await snapshotOf(url);
    const command = { kind: 'tell-time', id: crypto.randomUUID(), expiresMs: serverMs + 20_000, wallMs };
    const answer = await fetch(`${url}/api/commands`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(command) });
    return CommandResult.parse(await answer.json());
  };
  expect(await tell(SHOWN_MS + DAY_MS)).toMatchObject({ done: false, reason: expect.stringContaining('set it first') });
  expect(await tell(Date.UTC(2080, 0, 6))).toMatchObject({ done: false, reason: expect.stringContaining('decades ahead') });
  const toldMs = Date.now();
  expect(await tell(toldMs)).toMatchObject({ done: true });
  await expect.poll(async () => (await readings()).tMs.length, { timeout: 15_000 }).toBe(5);
  for (const tMs of (await readings()).tMs) expect(Math.abs(tMs - toldMs)).toBeLessThan(60_000);
  const after = await snapshotOf(url);
  expect(after.health).toMatchObject({ held: null, clockDoubt: null });
  const log = (await (await fetch(`${url}/api/alarm-log?fromMs=${toldMs - DAY_MS}&toMs=${toldMs + DAY_MS}`)).json()) as AlarmLog;
  expect(JSON.stringify(log)).toContain('learned the time from a person (this box)');
  await running?.stop();

  // The machine starts anew, and nobody remembers the time; a receiver with a fix brings it.
  url = await boot('b-2');
  await send(url, 3);
  const mqtt = await client();
  const fixMs = Date.now() + DAY_MS;
  await mqtt.publishAsync('fix', JSON.stringify({ lat: 40, lon: -8, t: 86_400 }), { qos: 1 });
  expect((await snapshotOf(url)).health.held).not.toBeNull();
  await mqtt.publishAsync('fix', JSON.stringify({ lat: 40, lon: -8, t: fixMs / 1000 }), { qos: 1 });
  expect((await snapshotOf(url)).health.held).not.toBeNull();
  await mqtt.publishAsync('fix', JSON.stringify({ lat: 40, lon: -8, t: fixMs / 1000 + 1 }), { qos: 1 });
  await mqtt.endAsync();
  await expect.poll(async () => (await readings()).tMs.filter((tMs) => Math.abs(tMs - fixMs) < 60_000).length, { timeout: 15_000 }).toBe(3);
  await expect.poll(() => readdir(join(folder, 'held'))).toEqual([]);
}, 90_000);
