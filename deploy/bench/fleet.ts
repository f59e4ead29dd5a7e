import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as passed } from 'node:timers/promises';
import { connectAsync } from 'mqtt';
import type { Bar, Figure } from '../bars/bar.ts';
import { type Running, startMosquitto, temporaryFolder } from '../bars/processes.ts';
import { FLEET, publishRound, startCollector, writeFleet } from './simulated-fleet.ts';
import { Victoria, whyNoVictoria } from './victoria.ts';

const ROUNDS = 60;
/** All of the fleet at 1 Hz. */
const PER_SECOND = FLEET.topics;
const LIMIT_MS = 300_000;

export const fleetBench: Bar = {
  name: 'fleet',
  what: `${FLEET.topics} topics of ${FLEET.rigs.length} rigs at QoS 1, through a real Mosquitto and collectors onto a real VictoriaMetrics`,
  async measure() {
    if (!existsSync('/usr/sbin/mosquitto')) return 'Mosquitto is not installed';
    return whyNoVictoria() ?? [...(await collected(1)), ...(await collected(2))];
  },
};

/** A saturating feeder, and some collectors: how quickly all is on the server, and whether it is all, once. */
async function collected(count: number): Promise<Figure[]> {
  const folder = await temporaryFolder();
  const broker = await startMosquitto(folder.path, ['max_queued_messages 0']);
  const victoria = await Victoria.make();
  // Without deduplication: what comes twice counts twice.
  await victoria.start([]);
  const rigFiles = await writeFleet(folder.path, { brokerUrl: broker.url, serverUrl: victoria.url });
  const collectors: Running[] = [];
  const board = await connectAsync(broker.url);
  const arrived = async () => {
    await victoria.settle();
    return (await victoria.ask('sum(count_over_time(reading_value[1h]))')) ?? 0;
  };
  try {
    for (let at = 0; at < count; at++) collectors.push(await startCollector(join(folder.path, `collector-${at}`), rigFiles));
    const sent = ROUNDS * FLEET.topics;
    const startedMs = performance.now();
    for (let round = 0; round < ROUNDS; round++) await publishRound(board, 20 + round / 100);
    while ((await arrived()) < sent && performance.now() - startedMs < LIMIT_MS) await passed(250);
    const tookS = (performance.now() - startedMs) / 1000;
    for (const one of collectors) await one.end('SIGTERM');
    const wrong = Math.abs((await arrived()) - sent);
    const who = count === 1 ? 'one collector' : `${count} collectors that share`;
    return [
      { name: `readings lost or doubled with ${who}`, figure: wrong, unit: 'readings', bar: 0, sense: 'most' },
      { name: `readings a second onto the server with ${who}`, figure: Math.round(sent / tookS), unit: 'readings/s', bar: PER_SECOND, sense: 'least' },
    ];
  } finally {
    await board.endAsync(true);
    for (const one of collectors) await one.end('SIGKILL');
    await victoria.dispose();
    await broker.end();
    await folder.remove();
  }
}
